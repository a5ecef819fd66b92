//! Load on a daemon: desks that write notes, batches and revisions of a card as quickly as they are answered, and an
//! operator who walks sheets through their lists meanwhile. It ends when the daemon is gone.
//!
//! May live here: what is sent, and which of it was answered. May not: judging what is on the disk.

use crate::client::{Client, Token, fresh};
use crate::days::chance::Chance;
use crate::operator::{ByRule, Next};
use crate::workshop::CARD;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chargehand_types::act::Act;
use chargehand_types::check::CardFiles;
use chargehand_types::id::CommandId;
use chargehand_types::now::{Now, OfferedAct};
use chargehand_types::stage::{Decision, Grade, Stage};
use serde_json::{Value, json};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{JoinHandle, sleep, spawn};
use std::time::Duration;

/// The card that the desks revise; the one that is cut stays as it is.
pub const REVISED: &str = "label-board-revised";
/// Between two looks of the operator.
const LOOK_EVERY: Duration = Duration::from_millis(10);

/// How quickly a desk writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// The next as soon as the last was answered.
    Burst,
    /// So long after it.
    Every(Duration),
}

/// A command that was sent, and where to.
#[derive(Debug, Clone)]
pub struct Sent {
    /// Its id.
    pub id: CommandId,
    path: String,
    body: Value,
}

/// What came of the load.
#[derive(Debug, Default)]
pub struct Came {
    /// Commands answered as done, each of which writes exactly one record.
    pub answered: Vec<CommandId>,
    /// Acts of the operator answered as done, each of which is in the store.
    pub acts: Vec<CommandId>,
    /// Commands whose answer never came: they may be done or not.
    pub unanswered: Vec<Sent>,
    /// Refusals, which are answers too.
    pub refused: u64,
    /// Refusals that no load may cause.
    pub faults: Vec<String>,
}

/// Load that is on.
pub struct Load {
    came: Arc<Mutex<Came>>,
    threads: Vec<JoinHandle<()>>,
}

impl Load {
    /// Puts load on a daemon. `card` is the one that is cut, as it lies in the workshop.
    #[must_use]
    pub fn begin(client: &Client, card: &CardFiles, seed: u64, desks: u64, pace: Pace) -> Self {
        let came = Arc::<Mutex<Came>>::default();
        let mut threads: Vec<_> = (0..desks)
            .map(|n| {
                let desk = Desk { client: client.clone(), card: card.clone(), came: Arc::clone(&came) };
                spawn(move || desk.write_on(Chance::of(seed.wrapping_mul(31).wrapping_add(n)), pace))
            })
            .collect();
        let desk = Desk { client: client.clone(), card: card.clone(), came: Arc::clone(&came) };
        threads.push(spawn(move || desk.operate(Chance::of(seed))));
        Self { came, threads }
    }

    /// What came of it, once the daemon is gone.
    #[must_use]
    pub fn ended(self) -> Came {
        for thread in self.threads {
            thread.join().expect("load ends with the daemon");
        }
        std::mem::take(&mut *self.came.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Sends a command that was not answered once more, under the same id, so that it is done once in the end.
///
/// # Errors
/// What the daemon said.
pub fn send_again(client: &Client, sent: &Sent) -> Result<(), String> {
    match client.ask("POST", &sent.path, Some(&sent.body), Token::Shown) {
        Ok((200, _)) => Ok(()),
        Ok((status, told)) => Err(format!("{} was refused the second time: {status} {told}", sent.id)),
        Err(e) => Err(format!("{} was not answered the second time: {e}", sent.id)),
    }
}

struct Desk {
    client: Client,
    card: CardFiles,
    came: Arc<Mutex<Came>>,
}

impl Desk {
    fn write_on(&self, mut chance: Chance, pace: Pace) {
        let mut batches: Vec<String> = Vec::new();
        loop {
            let sent = self.something(&mut chance, &mut batches);
            let answer = self.client.ask("POST", &sent.path, Some(&sent.body), Token::Shown);
            let mut came = self.came.lock().unwrap_or_else(PoisonError::into_inner);
            match answer {
                Ok((200, told)) => {
                    if sent.path == "/v1/batches" {
                        batches.extend(told["id"].as_str().map(str::to_owned));
                    }
                    came.answered.push(sent.id);
                }
                Ok((status, told)) => came.refusal(status, &told, &sent.path),
                Err(_) => {
                    came.unanswered.push(sent);
                    return;
                }
            }
            drop(came);
            if let Pace::Every(pause) = pace {
                sleep(pause);
            }
        }
    }

    fn something(&self, chance: &mut Chance, batches: &mut Vec<String>) -> Sent {
        let id = fresh();
        let (path, body) = match chance.below(10) {
            0 => ("/v1/batches".to_owned(), json!({"command_id": id, "card": CARD, "sheets": 1})),
            1 => ("/v1/cards".to_owned(), json!({"command_id": id, "files": self.revised(chance)})),
            2 if batches.len() > 1 => {
                (format!("/v1/batches/{}/cancel", batches.swap_remove(0)), json!({"command_id": id}))
            }
            _ => {
                let text = format!("{:x}", chance.next()).repeat(1 + usize::try_from(chance.below(12)).unwrap_or(0));
                (
                    "/v1/acts".to_owned(),
                    json!({"command_id": id, "terminal": "t", "act": {"act": "note", "text": text}}),
                )
            }
        };
        Sent { id, path, body }
    }

    /// The card under another name, with programs that were never there before.
    fn revised(&self, chance: &mut Chance) -> CardFiles {
        let mut card = self.card.clone();
        card.text = card.text.replacen(&format!("\"{CARD}\""), &format!("\"{REVISED}\""), 1);
        for program in card.programs.values_mut() {
            let bytes = STANDARD.decode(&*program).expect("the workshop's own program");
            let comment = format!("(revision {:x})\n", chance.next());
            *program = STANDARD.encode([comment.as_bytes(), &bytes].concat());
        }
        card
    }

    /// Does what a person at the machine does, until nobody answers.
    fn operate(&self, mut chance: Chance) {
        let person = ByRule { who: "Solveig", grading: |_| (Grade::Good, None) };
        loop {
            let Ok((status, told)) = self.client.ask("GET", "/v1/now", None, Token::Shown) else { return };
            let Ok(now) = serde_json::from_value::<Now>(told.clone()) else {
                let mut came = self.came.lock().unwrap_or_else(PoisonError::into_inner);
                came.refusal(status, &told, "/v1/now");
                continue;
            };
            let next = match decision(&now, &mut chance) {
                Some(act) => Next::Do(act),
                None => person.next(&now),
            };
            let Next::Do(act) = next else {
                sleep(LOOK_EVERY);
                continue;
            };
            let id = fresh();
            let body = json!({"command_id": id, "terminal": "test", "seen": now.version, "act": act});
            let Ok((status, told)) = self.client.ask("POST", "/v1/acts", Some(&body), Token::Shown) else { return };
            let mut came = self.came.lock().unwrap_or_else(PoisonError::into_inner);
            match status {
                200 if is_kept(&act) => came.acts.push(id),
                200 => {}
                _ => came.refusal(status, &told, "an act"),
            }
        }
    }
}

impl Came {
    fn refusal(&mut self, status: u16, told: &Value, of: &str) {
        self.refused += 1;
        // 4xx is an answer about the shop; 500 and above, or no answer of ours, is one about the daemon
        if !(400..500).contains(&status) {
            self.faults.push(format!("{of}: {status} {told}"));
        }
    }
}

/// After a restart in the cut: mostly the operation again, at times the end of the sheet.
fn decision(now: &Now, chance: &mut Chance) -> Option<Act> {
    let sheet = now.sheet.as_ref().filter(|s| s.stage == Stage::Stopped)?;
    let open = |act| now.actions.iter().any(|o| o.act == act && o.refused.is_none());
    if open(OfferedAct::RedButtonNo) || open(OfferedAct::BitFree) {
        return None;
    }
    let decision = match chance.below(4) {
        0 if open(OfferedAct::End) => Decision::End,
        1 if open(OfferedAct::SetAside) => Decision::SetAside,
        _ if open(OfferedAct::Restart) => Decision::Restart,
        _ if open(OfferedAct::Next) => Decision::Next,
        _ => return None,
    };
    Some(Act::Decide { sheet: sheet.id.clone(), decision, line: None })
}

/// Acts that always leave a record under their own command.
const fn is_kept(act: &Act) -> bool {
    matches!(act, Act::Answer { .. } | Act::GradePart { .. } | Act::TakeSheet { .. } | Act::Decide { .. })
}
