//! An operator played by rule, through the public API alone and step by step as a person would answer: for the
//! practice shop without hands, and to try a daemon against a controller.
//!
//! It looks, decides one thing (`next::next`, pure), asks for it against what it saw, and waits on the event stream.
//! May live here: the looking, waiting and giving up. May not: anything the API does not offer to everybody.

pub mod answers;
mod next;
#[cfg(test)]
mod tests;

pub use answers::{Answers, WrongAnswers};

use crate::client::{Api, ClientFault, Heard, Stream};
use crate::outside::Stopwatch;
use chargehand_types::act::Act;
use chargehand_types::checklist::ListKind;
use chargehand_types::event::What;
use chargehand_types::id::{CardName, Seq, SheetId, StageVersion};
use chargehand_types::now::{Motion, Now};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::Stage;
use next::{Next, Step};
use serde::Serialize;
use std::collections::BTreeSet;
use std::time::Duration;

/// Things are looked at no more often than this while something is waited for.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// And at least this often, should an event be missed.
const LOOK_AT_LEAST: Duration = Duration::from_secs(1);
/// A daemon may refuse an answer that came sooner than it can be read; it is given again after this.
const READ_FIRST: Duration = Duration::from_millis(1_600);
/// Nothing at all may change for so long, then the walk is stuck.
const STILL_AT_MOST_MS: u64 = 120_000;
/// A daemon that is gone is waited for so long.
const GONE_AT_MOST_MS: u64 = 30_000;
/// The same refusal so often in a row is final.
const REFUSALS_AT_MOST: u32 = 4;
/// No sheet takes more acts than this: lists of seven steps, a few operations, hand moves.
const ACTS_A_SHEET_AT_MOST: u32 = 2_000;

/// What is to be walked.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Sheets of this card; of any when left out.
    pub card: Option<CardName>,
    /// How many have to be closed.
    pub sheets: u32,
    /// What is answered where the expected answer is not wanted.
    pub answers: Answers,
}

/// What the walk says of itself as it goes.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// An act that was taken.
    Step(StepLine),
    /// An event of the daemon, as JSON.
    Event(String),
}

/// One act, as a line of JSON says it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepLine {
    /// The step's id in its list, or the act's name.
    pub step: String,
    /// Its list, where it has one.
    pub list: Option<ListKind>,
    /// What was answered.
    pub answer: serde_json::Value,
    /// The sheet's stage after it.
    pub stage: Option<Stage>,
    /// The sheet.
    pub sheet: Option<SheetId>,
}

/// Why a walk cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum Stuck {
    /// The daemon cannot be heard.
    #[error(transparent)]
    Client(#[from] ClientFault),
    /// Nothing that a helper does would help.
    #[error("the walk is stuck {at}: {why}")]
    Nothing {
        /// Where.
        at: String,
        /// Why.
        why: String,
    },
}

impl Stuck {
    /// The exit code: that of the daemon's refusal, or of something missing.
    #[must_use]
    pub const fn exit(&self) -> u8 {
        match self {
            Self::Client(fault) => fault.exit(),
            Self::Nothing { .. } => crate::exit::NO,
        }
    }
}

/// Plays the operator until the sheets of the plan are closed, and answers with their ids.
///
/// # Errors
/// When the daemon cannot be heard, refuses for good, or nothing changes any more.
pub async fn walk(api: &Api, plan: &Plan, tell: &mut (dyn FnMut(Told) + Send)) -> Result<Vec<SheetId>, Stuck> {
    let mut walk = Walk::begin(api, plan).await?;
    loop {
        let closed = walk.closed().await?;
        if closed.len() >= usize::try_from(plan.sheets).unwrap_or(usize::MAX) {
            walk.settle(tell).await;
            return Ok(closed);
        }
        let now = walk.look().await?;
        walk.still_changing(&now)?;
        match next::next(&now, plan, &walk.tried) {
            Next::Do(step) => walk.act(&now, step, tell).await?,
            Next::Take => walk.take_sheet(&now, tell).await?,
            Next::Wait(left) => walk.wait(left, &now, tell).await,
            Next::Stuck(why) => return Err(Walk::stuck(&now, why)),
        }
    }
}

struct Walk<'a> {
    api: &'a Api,
    plan: &'a Plan,
    stream: Stream,
    closed_before: BTreeSet<SheetId>,
    closed_known: Option<(Seq, Vec<SheetId>)>,
    last_seq: Seq,
    tried: BTreeSet<String>,
    refusals: u32,
    acts: u32,
    watch: Stopwatch,
    changed: (String, u64),
}

impl<'a> Walk<'a> {
    async fn begin(api: &'a Api, plan: &'a Plan) -> Result<Self, Stuck> {
        let now = api.now().await?;
        let mut walk = Self {
            api,
            plan,
            stream: api.events(Some(now.seq)),
            closed_before: BTreeSet::new(),
            closed_known: None,
            last_seq: now.seq,
            tried: BTreeSet::new(),
            refusals: 0,
            acts: 0,
            watch: Stopwatch::start(),
            changed: (String::new(), 0),
        };
        walk.closed_before = walk.closed_of_card().await?.into_iter().collect();
        Ok(walk)
    }

    async fn closed_of_card(&self) -> Result<Vec<SheetId>, Stuck> {
        let list = self.api.sheets().await?;
        let wanted = |card: &CardName| self.plan.card.as_ref().is_none_or(|c| c == card);
        Ok(list.sheets.into_iter().filter(|s| s.stage == Stage::Closed && wanted(&s.card)).map(|s| s.id).collect())
    }

    /// Sheets closed since the walk began; asked anew only after something happened.
    async fn closed(&mut self) -> Result<Vec<SheetId>, Stuck> {
        if let Some((seq, closed)) = &self.closed_known
            && *seq == self.last_seq
        {
            return Ok(closed.clone());
        }
        let all = self.closed_of_card().await?;
        let new: Vec<SheetId> = all.into_iter().filter(|id| !self.closed_before.contains(id)).collect();
        self.closed_known = Some((self.last_seq, new.clone()));
        Ok(new)
    }

    /// How things stand; a daemon that is restarted meanwhile is waited for.
    async fn look(&mut self) -> Result<Now, Stuck> {
        let gone = Stopwatch::start();
        loop {
            match self.api.now().await {
                Ok(now) => {
                    self.last_seq = now.seq;
                    return Ok(now);
                }
                Err(fault) if fault.is_unreachable() && gone.ms() < GONE_AT_MOST_MS => {
                    tokio::time::sleep(LOOK_EVERY).await;
                }
                Err(fault) => return Err(fault.into()),
            }
        }
    }

    fn still_changing(&mut self, now: &Now) -> Result<(), Stuck> {
        let at = now.sheet.as_ref().and_then(|s| s.operation.as_ref()).map(|o| (o.left, o.line));
        let shape = format!("{:?} {:?} {:?} {:?} {at:?}", now.seq, now.version, now.machine.motion, now.machine.at);
        if shape != self.changed.0 {
            self.changed = (shape, self.watch.ms());
        }
        if self.watch.ms().saturating_sub(self.changed.1) > STILL_AT_MOST_MS {
            return Err(Self::stuck(now, "nothing has changed for two minutes".to_owned()));
        }
        Ok(())
    }

    fn stuck(now: &Now, why: String) -> Stuck {
        let at = match (&now.sheet, &now.task) {
            (Some(sheet), Some(task)) => {
                format!("at sheet {}, {}, step `{}`", sheet.id, sheet.stage.word(), task.step.id)
            }
            (Some(sheet), None) => format!("at sheet {}, {}", sheet.id, sheet.stage.word()),
            (None, _) => "with no sheet on the machine".to_owned(),
        };
        Stuck::Nothing { at, why: format!("{why} ({})", now.headline) }
    }

    async fn act(&mut self, now: &Now, step: Step, tell: &mut (dyn FnMut(Told) + Send)) -> Result<(), Stuck> {
        self.acts += 1;
        if self.acts > ACTS_A_SHEET_AT_MOST.saturating_mul(self.plan.sheets.max(1)) {
            return Err(Self::stuck(now, "more acts were made than any sheet needs".to_owned()));
        }
        match self.api.act(step.act.clone(), Some(now.version)).await {
            Ok(answer) => {
                self.refusals = 0;
                self.remember(&step, &answer.now, now.version);
                let sheet = answer.now.sheet.as_ref().or(now.sheet.as_ref());
                let line = StepLine {
                    step: step.name,
                    list: step.list,
                    answer: step.answer,
                    stage: answer.now.sheet.as_ref().map(|s| s.stage),
                    sheet: sheet.map(|s| s.id.clone()),
                };
                self.last_seq = answer.now.seq;
                tell(Told::Step(line));
                Ok(())
            }
            Err(fault) => self.refused(now, &step, fault).await,
        }
    }

    /// An answer that was not taken is not given a second time where another one can be.
    fn remember(&mut self, step: &Step, after: &Now, _seen: StageVersion) {
        let again = after.task.as_ref().filter(|t| t.step.id == step.name && t.note.is_some());
        if again.is_some() {
            if !self.tried.insert(step.name.clone()) {
                self.refusals += 1;
            }
        } else {
            self.tried.remove(&step.name);
        }
    }

    async fn refused(&mut self, now: &Now, step: &Step, fault: ClientFault) -> Result<(), Stuck> {
        self.refusals += 1;
        let kind = fault.problem().map(|p| p.kind);
        let patient = match kind {
            Some(ProblemKind::SeenIsOld) => Some(LOOK_EVERY),
            Some(ProblemKind::NotNow | ProblemKind::StartCondition | ProblemKind::MissingOrBusy) => Some(READ_FIRST),
            None if fault.is_unreachable() => Some(LOOK_EVERY),
            Some(_) | None => None,
        };
        match patient {
            Some(wait) if self.refusals < REFUSALS_AT_MOST => {
                tokio::time::sleep(wait).await;
                Ok(())
            }
            Some(_) | None => Err(Self::stuck(now, format!("`{}` is refused: {fault}", step.name))),
        }
    }

    async fn take_sheet(&mut self, now: &Now, tell: &mut (dyn FnMut(Told) + Send)) -> Result<(), Stuck> {
        let list = self.api.sheets().await?;
        let wanted = |card: &CardName| self.plan.card.as_ref().is_none_or(|c| c == card);
        let next = list.sheets.into_iter().find(|s| s.stage == Stage::Queued && wanted(&s.card));
        let Some(next) = next else {
            let of = self.plan.card.as_ref().map(|c| format!(" of card {c}")).unwrap_or_default();
            return Err(Self::stuck(now, format!("no sheet{of} waits in the queue; add a batch")));
        };
        let act = Act::TakeSheet { sheet: Some(next.id.clone()) };
        let answer = serde_json::Value::from(next.id.0);
        self.act(now, Step { name: "take-sheet".to_owned(), list: None, answer, act }, tell).await
    }

    /// Waits for an event, at least as long as looks must lie apart.
    async fn wait(&mut self, left: Option<Seconds>, now: &Now, tell: &mut (dyn FnMut(Told) + Send)) {
        let rate = if now.machine.rate > 0.0 { now.machine.rate } else { 1.0 };
        let real = left.map_or(LOOK_AT_LEAST.as_secs_f64(), |s| s.value() / rate);
        let most = Duration::from_secs_f64(real.clamp(LOOK_EVERY.as_secs_f64(), LOOK_AT_LEAST.as_secs_f64()));
        let least = tokio::time::Instant::now() + LOOK_EVERY;
        let until = tokio::time::Instant::now() + most;
        while let Ok(heard) = tokio::time::timeout_at(until, self.stream.next()).await {
            if self.hear(heard, tell) {
                break;
            }
        }
        tokio::time::sleep_until(least).await;
    }

    /// Events that were told while the last act was made.
    async fn settle(&mut self, tell: &mut (dyn FnMut(Told) + Send)) {
        let until = tokio::time::Instant::now() + LOOK_EVERY;
        while let Ok(heard) = tokio::time::timeout_at(until, self.stream.next()).await {
            self.hear(heard, tell);
        }
    }

    /// Tells an event; true when it is a reason to look anew.
    fn hear(&mut self, heard: Heard, tell: &mut (dyn FnMut(Told) + Send)) -> bool {
        match heard {
            Heard::Event(told) => {
                let seq = told.seq;
                let looks = told.event().map_or(true, |e| !matches!(e.what, What::StepAnswered { .. }));
                tell(Told::Event(told.json));
                seq > self.last_seq && looks
            }
            Heard::Gap => true,
            Heard::Open | Heard::Lost(_) | Heard::Position(_) | Heard::Plan(_) => false,
        }
    }
}

/// Whether something moves, or may.
fn moves(motion: Motion) -> bool {
    match motion {
        Motion::Moving | Motion::HoldAsked | Motion::Homing => true,
        Motion::Still | Motion::Held | Motion::Faulted | Motion::Unknown => false,
    }
}
