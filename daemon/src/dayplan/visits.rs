//! When a person is needed, and a later start where that saves a walk to the machine.
//!
//! A visit is a run of steps that need a person with nothing but short waits between. Where one visit is parted from
//! the next by waiting alone, the first may as well begin later and run into the second: neither tardiness nor the last
//! finish gets worse, and the person is called once less.

use super::model::{Hours, Problem};
use super::schedule::{Doing, Schedule, Step};
use chargehand_types::plan::{Minute, Minutes};

/// A stretch in which a person is needed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// It begins.
    pub from: Minute,
    /// It ends.
    pub to: Minute,
    /// What is done: the place of the sheet in the schedule, and of the step among its steps.
    pub steps: Vec<(usize, usize)>,
}

/// Every visit, in order. A person stays through waits and unattended cuts of at most `stay`.
#[must_use]
pub fn visits(schedule: &Schedule, stay: Minutes) -> Vec<Visit> {
    let mut visits: Vec<Visit> = Vec::new();
    for (block, sheet) in schedule.blocks.iter().enumerate() {
        for (number, step) in sheet.steps.iter().enumerate().filter(|(_, s)| s.doing.needs_person()) {
            match visits.last_mut() {
                Some(visit) if step.start.since(visit.to) <= stay => {
                    visit.to = step.end;
                    visit.steps.push((block, number));
                }
                _ => visits.push(Visit { from: step.start, to: step.end, steps: vec![(block, number)] }),
            }
        }
    }
    visits
}

/// The same order with visits merged where that costs nothing.
#[must_use]
pub fn merged(problem: &Problem, schedule: &Schedule, stay: Minutes) -> Schedule {
    let mut merged = schedule.clone();
    let mut number = visits(&merged, stay).len().saturating_sub(1);
    while number > 0 {
        number -= 1;
        let all = visits(&merged, stay);
        let (Some(visit), Some(next)) = (all.get(number), all.get(number + 1)) else { continue };
        if let Some(later) = later_until(problem, &merged, visit, next.from) {
            for (block, step, moved) in later {
                merged.blocks[block].steps[step] = moved;
            }
            for block in &mut merged.blocks {
                block.finish = block.steps.last().map_or(block.finish, |s| s.end);
            }
        }
    }
    merged
}

/// The steps of a visit, and what runs between them, packed so that the last ends when the next visit begins; nothing
/// when that is not allowed.
fn later_until(
    problem: &Problem,
    schedule: &Schedule,
    visit: &Visit,
    until: Minute,
) -> Option<Vec<(usize, usize, Step)>> {
    let (first, last) = (*visit.steps.first()?, *visit.steps.last()?);
    if follows_a_cut(schedule, last, until) {
        return None;
    }
    let mut end = until;
    let mut moved = Vec::new();
    for (block, step) in between(schedule, first, last).into_iter().rev() {
        let old = &schedule.blocks[block].steps[step];
        let start = Minute(end.0.checked_sub(old.end.since(old.start).0)?);
        if !allowed(&problem.hours, &old.doing, start, end) || end > latest(problem, schedule, block, step) {
            return None;
        }
        moved.push((block, step, Step { doing: old.doing.clone(), start, end }));
        end = start;
    }
    Some(moved)
}

/// Something is cut between that step and the minute.
fn follows_a_cut(schedule: &Schedule, after: (usize, usize), until: Minute) -> bool {
    let later =
        schedule.blocks.iter().enumerate().flat_map(|(b, s)| s.steps.iter().enumerate().map(move |(n, s)| ((b, n), s)));
    later.filter(|(place, _)| *place > after).any(|(_, step)| step.start < until)
}

/// The places of all steps from one to another.
fn between(schedule: &Schedule, first: (usize, usize), last: (usize, usize)) -> Vec<(usize, usize)> {
    let all = schedule.blocks.iter().enumerate().flat_map(|(b, s)| (0..s.steps.len()).map(move |n| (b, n)));
    all.filter(|place| *place >= first && *place <= last).collect()
}

fn allowed(hours: &Hours, doing: &Doing, from: Minute, to: Minute) -> bool {
    match doing {
        Doing::Load | Doing::BitChange(_) | Doing::Cleanup => hours.hands.hold(from, to),
        Doing::Cut { unattended: false, .. } => hours.attended.hold(from, to),
        Doing::Cut { unattended: true, .. } => hours.alone.as_ref().is_none_or(|w| w.hold(from, to)),
    }
}

/// The latest a step may end: the last one of a sheet when it is due, or when it ended before if that is later; of the
/// last sheet when it ended before.
fn latest(problem: &Problem, schedule: &Schedule, block: usize, step: usize) -> Minute {
    let sheet = &schedule.blocks[block];
    if step + 1 < sheet.steps.len() {
        return Minute(u32::MAX);
    }
    if block + 1 == schedule.blocks.len() {
        return sheet.finish;
    }
    problem.sheets[sheet.number].due.map_or(Minute(u32::MAX), |due| due.max(sheet.finish))
}
