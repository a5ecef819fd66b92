//! All moves of a card in the order they are cut, over its sheet: what the sheet map is made from.
//!
//! May live here: gathering the moves, each with the bit that is in. May not: judging them.

use super::bench::Bench;
use super::case::{CannotJudge, Case};
use crate::program::motion::Doing;
use crate::program::steps;
use crate::sheetmap::Job;
use chargehand_types::card::{Bit, Operation};

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
    job.lower(case.card.sheet.face_z(case.thickness()) - case.face_z());
    for body in &case.bench.above_bit {
        job.carry(body.diameter, body.above_tip);
    }
    job
}

fn add(case: &Case<'_>, number: u16, operation: &Operation, job: &mut Job) -> Result<(), CannotJudge> {
    let called = |tool| case.called(tool).map(|(_, bit)| bit);
    write_down(job, number, case.bit(operation)?, case.program(operation)?, case.bench, called);
    Ok(())
}

/// The moves of one program, cut with a bit and with those that its T words call.
pub(super) fn write_down<'a>(
    job: &mut Job,
    number: u16,
    bit: &Bit,
    program: &[u8],
    bench: &Bench,
    called: impl Fn(u32) -> Option<&'a Bit>,
) {
    let mut cutter = job.fit(bit);
    let mut reader = steps(program, bench.start());
    while let Some(step) = reader.next() {
        if !reader.faults().is_empty() {
            break;
        }
        match &step.doing {
            Doing::Move(mv) => job.push(number, cutter, step.place, mv),
            Doing::BitChange { tool } => {
                if let Some(bit) = tool.and_then(&called) {
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
}
