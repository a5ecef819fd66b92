//! The plan of the day: the shop's state into the planner's terms, and its plan into the answer.
//!
//! A plan is made anew when it is asked for and something has happened since, or a minute has gone by. It starts from
//! the order of the one before, and what is about to start keeps its place.

mod answer;
mod intake;
mod known;
mod pace;
mod suppose;
#[cfg(test)]
mod tests;
pub(super) mod wares;

pub use suppose::{NotSupposed, Supposed};

use crate::calendar::{self, BadCalendar, Booked, Span};
use crate::dayplan::{self, Order, Plan, Problem};
use crate::ledger::State as Fold;
use crate::shop::config::{Config, Hours};
use chargehand_types::id::SheetId;
use chargehand_types::plan::{DayPlan, Minutes};
use chrono::{DateTime, NaiveTime, Utc};
use intake::Intake;
use std::time::Duration;

/// Days that are looked at from today.
const DAYS: u32 = 42;
/// A sheet that starts within so many minutes keeps its place.
const ABOUT_TO_START: Minutes = Minutes(30);
/// A person stays at the machine through a wait or an unattended cut of so many minutes. Common practice, no source.
const STAY: Minutes = Minutes(5);
/// The seed of every plan: the same state gives the same plan.
const SEED: u64 = 1;
/// A search is cut short after so long.
const CUT_OFF: Duration = Duration::from_secs(4);
/// After an event the plan is made anew from the one before with this much effort, and cut short after so long.
const TOUCH: Duration = Duration::from_millis(120);
/// What changed is told for so many minutes.
const CHANGES_TOLD_MIN: i64 = 60;

/// Up to so many sheets one search finds the best known order.
const FEW: usize = 25;

/// Evaluations for so many sheets. Twenty-five sheets come to their best known order with these; many sheets are worth
/// more, up to the cut-off.
const fn evaluations(sheets: usize) -> u64 {
    if sheets <= FEW { 400_000 } else { 4_000_000 }
}

/// How much is put into a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// As much as it is worth, with what would make missed due times.
    Whole,
    /// From the plan before, at once: an event must be answered while people look.
    Touch,
}

/// A plan that was made, to start from and to compare with.
#[derive(Debug, Clone)]
pub struct Kept {
    /// Sheets in order, when each starts and ends.
    sheets: Vec<(SheetId, DateTime<Utc>, DateTime<Utc>)>,
    /// The state it was made of.
    seq: u64,
    effort: Effort,
    /// What was answered.
    pub answer: DayPlan,
}

impl Kept {
    /// Still right: nothing has happened, and the minute is the same.
    #[must_use]
    pub fn holds(&self, seq: u64, now: DateTime<Utc>) -> bool {
        self.seq == seq && self.answer.at.timestamp() / 60 == now.timestamp() / 60
    }

    /// Made with the whole effort.
    #[must_use]
    pub const fn is_whole(&self) -> bool {
        matches!(self.effort, Effort::Whole)
    }
}

/// Everything a plan is made of.
#[derive(Debug, Clone)]
pub struct Question {
    /// The shop's settings.
    pub config: Config,
    /// What people keep elsewhere.
    pub booked: Vec<Booked>,
    /// What is supposed in place of what is.
    pub supposed: Supposed,
    /// The moment.
    pub now: DateTime<Utc>,
    /// The last event of the state.
    pub seq: u64,
    /// How much is put into it.
    pub effort: Effort,
}

/// A plan made, to answer with and to keep.
///
/// # Errors
/// When something is supposed of a batch that is not there, or the sheets contradict themselves; with a sentence.
pub fn make(
    question: &Question,
    intake: Intake,
    before: Option<&Kept>,
    pool: &rayon::ThreadPool,
) -> Result<Kept, String> {
    let span = span(&question.config.hours, question.now);
    let hours = question.supposed.hours(&question.config.hours);
    let smoulder = Minutes(question.config.limits.smoulder_min);
    let reach = calendar::reach(&hours, &question.booked, smoulder, span);
    let (problem, from) = pose(&intake, &reach, span, question, before);
    let (problem, unfit) = dayplan::sift(problem);
    let from = from.filter(|o| o.len() == problem.sheets.len());
    let cut_off = if question.effort == Effort::Touch { TOUCH } else { CUT_OFF };
    let pace = || pace::Limited::new(evaluations(problem.sheets.len()), cut_off);
    let plan = if question.effort == Effort::Touch {
        dayplan::replan(&problem, from.as_deref(), SEED, &mut pace())
    } else if problem.sheets.len() > FEW {
        dayplan::plan_by_two(&problem, from.as_deref(), SEED, [&mut pace(), &mut pace()], pool)
    } else {
        dayplan::plan(&problem, from.as_deref(), SEED, &mut pace())
    };
    let plan = plan.map_err(|e| e.to_string())?;
    let told = answer::Told { question, intake: &intake, reach: &reach, span, problem: &problem, plan: &plan };
    let mut answer = told.day_plan(&unfit, before)?;
    carry_changes(&mut answer, question, before);
    let sheets = answer.sheets.iter().map(|s| (s.sheet.clone(), s.start, s.finish)).collect();
    Ok(Kept { sheets, seq: question.seq, effort: question.effort, answer })
}

/// A plan that came out as before goes on telling what changed last, for a while.
fn carry_changes(answer: &mut DayPlan, question: &Question, before: Option<&Kept>) {
    if !question.supposed.is_nothing() {
        return;
    }
    if !answer.changes.is_empty() {
        answer.changed = Some(question.now);
        return;
    }
    let told = before.and_then(|b| Some((b.answer.changed?, &b.answer.changes)));
    let fresh = |at: &DateTime<Utc>| question.now.signed_duration_since(*at).num_minutes() < CHANGES_TOLD_MIN;
    if let Some((at, changes)) = told.filter(|(at, _)| fresh(at)) {
        answer.changes.clone_from(changes);
        answer.changed = Some(at);
    }
}

/// Reads what is to be planned out of the state.
///
/// # Errors
/// When something is supposed of a batch that is not there; with a sentence.
pub fn take_in(
    fold: &Fold,
    stores: &chargehand_types::card::Stores,
    config: &Config,
    supposed: &Supposed,
) -> Result<Intake, NotSupposed> {
    intake::read(fold, stores, config, supposed)
}

/// The stretches of a person's own calendar that matter from now on.
///
/// # Errors
/// As the calendar's file is malformed.
pub fn booked(who: &str, text: &str, hours: &Hours, now: DateTime<Utc>) -> Result<Booked, BadCalendar> {
    let span = span(hours, now);
    let stretches = calendar::read_ics(text, hours.time_zone, span.zero, span.instant(span.end()))?;
    Ok(Booked { who: who.to_owned(), stretches })
}

/// From the midnight before now, in the shop's zone.
fn span(hours: &Hours, now: DateTime<Utc>) -> Span {
    let midnight = now.with_timezone(&hours.time_zone).with_time(NaiveTime::MIN).earliest();
    Span { zero: midnight.map_or(now, |m| m.to_utc()), days: DAYS }
}

/// The problem, with what is about to start at its head, and the order of the plan before as one of its sheets.
fn pose(
    intake: &Intake,
    reach: &calendar::Reach,
    span: Span,
    question: &Question,
    before: Option<&Kept>,
) -> (Problem, Option<Order>) {
    let old = before.map_or(&[][..], |b| &b.sheets[..]);
    let soon = question.now + chrono::TimeDelta::minutes(i64::from(ABOUT_TO_START.0));
    let mut sheets = intake.sheets.clone();
    let rank = |id: &SheetId| old.iter().position(|s| s.0 == *id).unwrap_or(usize::MAX);
    let on_machine = sheets.iter().filter(|s| s.on_machine).count();
    sheets.sort_by_key(|s| (!s.on_machine, rank(&s.id)));
    let next = sheets.get(on_machine).and_then(|s| old.iter().find(|o| o.0 == s.id));
    let about = on_machine == 0 && next.is_some_and(|n| n.1 <= soon && question.supposed.is_nothing());
    let frozen = on_machine + usize::from(about);
    // sorted by the order of the plan before, that order is 0, 1, 2, …
    let order = (0..sheets.len()).map(|n| dayplan::Place { sheet: u16::try_from(n).unwrap_or(u16::MAX), route: 0 });
    let order = before.map(|_| order.collect());
    let times = intake.known.times;
    let problem = Problem {
        now: span.minute_up(question.now),
        bit_on_machine: intake.bit.clone(),
        bit_change: times.bit_change,
        hours: dayplan::Hours {
            hands: reach.presence.clone(),
            attended: reach.attended(),
            // a cut may run unwatched only while somebody is in, unless the shop says otherwise
            alone: Some(if question.config.hours.leave_running { reach.alone() } else { reach.attended() }),
        },
        sheets: sheets.iter().map(|s| s.planned(times, span)).collect(),
        frozen,
    };
    (problem, order)
}

/// Used by the answer: the schedule with visits merged.
fn with_visits(problem: &Problem, plan: &Plan) -> (dayplan::Schedule, Vec<dayplan::Visit>) {
    let schedule = dayplan::merged(problem, &plan.schedule, STAY);
    let visits = dayplan::visits(&schedule, STAY);
    (schedule, visits)
}
