//! Telling: calls as they are raised, by the shop's rules; tries again with growing waits; the word that a call was
//! answered, to whoever was called.
//!
//! Each receiver has a task and a queue of its own: one that is dead delays no other, and nobody here is waited for.

use super::envelope::Notice;
use super::rules::{self, Open};
use super::standing::{Standing, outside};
use super::unheard::Unheard;
use super::way::{Receiver, Tried};
use crate::api::desk::Desk;
use crate::shop::config::Rule;
use chargehand_types::notice::{NotThrough, WayTried};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep, sleep_until};

/// Waiting for one receiver at most.
const QUEUE: usize = 64;
/// Calls that are still tried for one receiver at a time.
const AT_A_TIME: usize = 16;
/// Rules are looked at anew so often, for their waits and hours.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// The plan is asked for that often, where a rule tells ahead.
const PLAN_EVERY: Duration = Duration::from_secs(60);

/// Waits before each try. The last one that fails is the end.
#[derive(Debug, Clone)]
pub struct Patience(pub Vec<Duration>);

impl Default for Patience {
    /// At once, then after 5 s, 30 s, 2 min, 10 min, 30 min, 2 h: a call for a person is of no use much later. (The
    /// Standard Webhooks specification's example begins alike and goes on for days.)
    fn default() -> Self {
        Self([0, 5, 30, 120, 600, 1800, 7200].map(Duration::from_secs).to_vec())
    }
}

/// The receivers, and what did not get through.
#[derive(Debug, Clone)]
pub struct Teller {
    /// By name.
    pub receivers: Vec<Receiver>,
    /// The list.
    pub unheard: Unheard,
    /// Waits before each try.
    pub patience: Patience,
    /// The wall clock.
    pub clock: fn() -> DateTime<Utc>,
}

/// Calls that were answered, by their notices' ids.
type Answered = Arc<Mutex<BTreeSet<String>>>;

impl Teller {
    /// Tries every way once with a sentence that says it is a try.
    pub async fn try_all(&self, machine: &str) -> Vec<WayTried> {
        let now = (self.clock)();
        let notice = Notice {
            id: format!("try-{}", now.timestamp_millis()),
            kind: "notice.tried",
            at: now,
            machine: machine.to_owned(),
            reason: None,
            text: "This is a try: whoever reads it would be called this way. Nothing is wrong.".to_owned(),
        };
        let tries = self.receivers.iter().map(|r| async {
            let (taken, text) = match r.tell(&notice, now).await {
                Tried::Taken => (true, "the receiver took it".to_owned()),
                Tried::Later(why) | Tried::Never(why) => (false, why),
            };
            WayTried { name: r.name.clone(), taken, text }
        });
        futures_util::future::join_all(tries).await
    }
}

/// Tells of calls until the daemon ends.
pub async fn tell_calls<D: Desk>(desk: Arc<D>, mut standing: Standing, teller: Teller, rules: Vec<Rule>, zone: Tz) {
    let answered = Answered::default();
    let queues: BTreeMap<String, mpsc::Sender<Notice>> = teller
        .receivers
        .iter()
        .map(|receiver| {
            let (queue, waiting) = mpsc::channel(QUEUE);
            tokio::spawn(serve_one(receiver.clone(), waiting, teller.clone(), Arc::clone(&answered)));
            (receiver.name.clone(), queue)
        })
        .collect();
    let names: Vec<String> = queues.keys().cloned().collect();
    let rules = if rules.is_empty() { rules::usual(&names) } else { rules };
    let mut told =
        Told { queues, teller, answered, since: BTreeMap::new(), sent: BTreeSet::new(), ahead: BTreeSet::new() };
    let ahead = rules.iter().any(|r| r.lead_min.is_some());
    let mut plan_due = Instant::now();
    loop {
        let now = standing.borrow_and_update().clone();
        if let Some(now) = now {
            told.look(&now, &rules, zone);
            if ahead && Instant::now() >= plan_due {
                plan_due = Instant::now() + PLAN_EVERY;
                if let Ok(plan) = desk.plan(outside(), None, None).await {
                    told.look_ahead(&now.machine.name, &plan.needed, &rules, zone);
                }
            }
        }
        tokio::select! {
            changed = standing.changed() => if changed.is_err() { return },
            () = sleep_until(Instant::now() + LOOK_EVERY) => {}
        }
    }
}

/// What was told so far.
struct Told {
    queues: BTreeMap<String, mpsc::Sender<Notice>>,
    teller: Teller,
    answered: Answered,
    /// Open calls, and since when they are known here.
    since: BTreeMap<u64, DateTime<Utc>>,
    /// Calls told by ways.
    sent: BTreeSet<(u64, String)>,
    /// Planned needs told by ways.
    ahead: BTreeSet<(String, String)>,
}

impl Told {
    fn look(&mut self, now: &chargehand_types::now::Now, rules: &[Rule], zone: Tz) {
        let clock = (self.teller.clock)();
        for call in &now.calls {
            let since = *self.since.entry(call.number).or_insert(clock);
            let open = Open { reason: call.reason, since };
            for way in rules.iter().filter(|r| rules::tells(r, open, clock, zone)).flat_map(|r| &r.by) {
                if self.sent.insert((call.number, way.clone())) {
                    let notice = Notice {
                        id: call_id(call.number),
                        kind: "call.raised",
                        at: since,
                        machine: now.machine.name.clone(),
                        reason: Some(call.reason),
                        text: call.text.clone(),
                    };
                    self.queue(way, notice);
                }
            }
        }
        let over: Vec<u64> = self.since.keys().copied().filter(|n| now.calls.iter().all(|c| c.number != *n)).collect();
        for number in over {
            self.since.remove(&number);
            self.answered.lock().unwrap_or_else(PoisonError::into_inner).insert(call_id(number));
            let ways: Vec<String> =
                self.sent.iter().filter(|(n, _)| *n == number).map(|(_, way)| way.clone()).collect();
            for way in ways {
                self.sent.remove(&(number, way.clone()));
                let notice = Notice {
                    id: format!("{}-answered", call_id(number)),
                    kind: "call.answered",
                    at: clock,
                    machine: now.machine.name.clone(),
                    reason: None,
                    text: format!("Call {number} was answered."),
                };
                self.queue(&way, notice);
            }
        }
    }

    fn look_ahead(&mut self, machine: &str, needed: &[chargehand_types::plan::Needed], rules: &[Rule], zone: Tz) {
        let clock = (self.teller.clock)();
        for need in needed {
            let tasks: Vec<String> = need.tasks.iter().map(ToString::to_string).collect();
            let Some(first) = tasks.first() else { continue };
            // a time that moves by a little is still the same need
            let id = format!("needed-{}-{}", need.from.format("%Y%m%d"), first.replace(' ', "-"));
            for way in rules.iter().filter(|r| rules::tells_ahead(r, need.from, clock, zone)).flat_map(|r| &r.by) {
                if self.ahead.insert((id.clone(), way.clone())) {
                    let at = need.from.with_timezone(&zone).format("%H:%M");
                    let notice = Notice {
                        id: id.clone(),
                        kind: "person.needed",
                        at: clock,
                        machine: machine.to_owned(),
                        reason: None,
                        text: format!("Somebody is needed at {at}: {}.", tasks.join("; ")),
                    };
                    self.queue(way, notice);
                }
            }
        }
    }

    fn queue(&self, way: &str, notice: Notice) {
        let Some(queue) = self.queues.get(way) else { return };
        if let Err(e) = queue.try_send(notice) {
            let notice = e.into_inner();
            let why = "too much waits for this receiver".to_owned();
            self.teller.unheard.failed(not_through(way, &notice, 0, why, true));
        }
    }
}

fn call_id(number: u64) -> String {
    format!("call-{number}")
}

fn not_through(way: &str, notice: &Notice, tries: u32, why: String, given_up: bool) -> NotThrough {
    NotThrough {
        way: way.to_owned(),
        id: notice.id.clone(),
        at: notice.at,
        text: notice.text.clone(),
        tries,
        why,
        given_up,
    }
}

/// Serves one receiver: each notice is tried in a task of its own, so that an old one delays no new one.
async fn serve_one(receiver: Receiver, mut waiting: mpsc::Receiver<Notice>, teller: Teller, answered: Answered) {
    let places = Arc::new(tokio::sync::Semaphore::new(AT_A_TIME));
    while let Some(notice) = waiting.recv().await {
        let Ok(place) = Arc::clone(&places).acquire_owned().await else { return };
        let (receiver, teller, answered) = (receiver.clone(), teller.clone(), Arc::clone(&answered));
        tokio::spawn(async move {
            bring(&receiver, &notice, &teller, &answered).await;
            drop(place);
        });
    }
}

/// Tries until it is taken, is no longer of use, or patience ends.
async fn bring(receiver: &Receiver, notice: &Notice, teller: &Teller, answered: &Answered) {
    let waits = &teller.patience.0;
    let mut why = String::new();
    for (tries, wait) in (0_u32..).zip(waits) {
        sleep(*wait).await;
        let late = answered.lock().unwrap_or_else(PoisonError::into_inner).contains(&notice.id);
        if late && tries > 0 {
            // answered meanwhile: to call somebody now would be wrong, and that it did not get through stays told
            teller.unheard.failed(not_through(&receiver.name, notice, tries, why, true));
            return;
        }
        match receiver.tell(notice, (teller.clock)()).await {
            Tried::Taken => {
                teller.unheard.through(&receiver.name, &notice.id);
                return;
            }
            Tried::Later(found) => {
                tracing::warn!("{} did not take {}: {found}", receiver.name, notice.id);
                why = found;
                let over = usize::try_from(tries).is_ok_and(|t| t + 1 >= waits.len());
                teller.unheard.failed(not_through(&receiver.name, notice, tries + 1, why.clone(), over));
            }
            Tried::Never(found) => {
                teller.unheard.failed(not_through(&receiver.name, notice, tries + 1, found, true));
                return;
            }
        }
    }
}
