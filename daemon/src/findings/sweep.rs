//! All moves of a card in the order they are cut, over its sheet: what the sheet map is made from.
//!
//! May live here: gathering the moves, each with the bit that is in. May not: judging them.

use super::case::{CannotJudge, Case};
use crate::program::motion::Doing;
use crate::program::steps;
use crate::sheetmap::Job;
use chargehand_types::card::Operation;

/// Every move of a card, in cutting order. Of a program with a block that cannot be read, the moves before it.
///
/// # Errors
/// When the card names something that is not there.
pub fn sweep(case: &Case<'_>) -> Result<Job, CannotJudge> {
    sweep_of(case, |_| true)
}

/// The same, of the operations that are wanted; each keeps its number.
///
/// # Errors
/// When the card names something that is not there.
pub fn sweep_of(case: &Case<'_>, wanted: impl Fn(&Operation) -> bool) -> Result<Job, CannotJudge> {
    let mut job = blank(case);
    for (number, operation) in (0_u16..).zip(case.in_order()) {
        if wanted(operation) {
            add(case, number, operation, &mut job)?;
        }
    }
    Ok(job)
}

/// The sheet with nothing cut yet, and what goes down with every bit.
pub(super) fn blank(case: &Case<'_>) -> Job {
    let mut job = Job::new(&case.card.sheet, case.thickness());
    job.lower(case.bench.z_shift);
    for body in &case.bench.above_bit {
        job.carry(body.diameter, body.above_tip);
    }
    job
}

fn add(case: &Case<'_>, number: u16, operation: &Operation, job: &mut Job) -> Result<(), CannotJudge> {
    let mut cutter = job.fit(case.bit(operation)?);
    let mut reader = steps(case.program(operation)?, case.bench.start());
    while let Some(step) = reader.next() {
        if !reader.faults().is_empty() {
            break;
        }
        match &step.doing {
            Doing::Move(mv) => job.push(number, cutter, step.place, mv),
            Doing::BitChange { tool } => {
                if let Some((_, bit)) = tool.and_then(|t| case.called(t)) {
                    cutter = job.fit(bit);
                }
            }
            Doing::Dwell { .. }
            | Doing::Spindle
            | Doing::Coolant
            | Doing::Prompt { .. }
            | Doing::Message(_)
            | Doing::End => {}
        }
    }
    Ok(())
}
