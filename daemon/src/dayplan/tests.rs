//! Tests of the planner by values.

mod brute;
mod people;
mod rules;
mod small;

use super::*;
use crate::calendar::Windows;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::plan::{Minute, Minutes};

/// Stretches of minutes.
fn windows(all: &[(u32, u32)]) -> Windows {
    Windows::of(all.iter().map(|(a, b)| (Minute(*a), Minute(*b))))
}

/// An operation that needs nobody.
fn alone(name: &str, minutes: u32, bit: &str) -> Operation {
    let bit = BitName::from(bit);
    Operation { name: name.to_owned(), minutes: Minutes(minutes), bit, after: Vec::new(), unattended: true }
}

/// A sheet of weight 1.
fn sheet(id: &str, due: u32, operations: Vec<Operation>) -> Sheet {
    let due = Some(Minute(due));
    Sheet { id: SheetId::from(id), load: Minutes(5), cleanup: Minutes(10), due, weight: 1.0, operations }
}

/// A problem that starts at minute 0 with the bit `a` in.
fn problem(presence: &[(u32, u32)], sheets: Vec<Sheet>) -> Problem {
    Problem {
        now: Minute(0),
        bit_on_machine: Some(BitName::from("a")),
        bit_change: Minutes(4),
        hours: Hours::presence_alone(windows(presence)),
        sheets,
        frozen: 0,
    }
}

fn planned(problem: &Problem) -> Plan {
    plan(problem, None, 1, &mut Evaluations(2000)).unwrap()
}

fn ids(plan: &Plan) -> Vec<&str> {
    plan.schedule.blocks.iter().map(|b| b.sheet.0.as_str()).collect()
}
