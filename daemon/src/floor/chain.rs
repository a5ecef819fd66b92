//! The order of a sheet's operations, and the chain that one cycle start names.
//!
//! May live here: which operation comes next, which belong together, whether the next one may start by itself. May
//! not: starting it.

use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Approval, AtStage, Attendance, OnMachine, OperationFacts, Ops, SheetFacts};
use crate::floor::state::{Away, Presence, SpindleKind, State};

impl OnMachine {
    /// An operation by its place.
    #[must_use]
    pub fn facts(&self, place: u8) -> Option<OperationFacts> {
        self.operations.get(usize::from(place)).copied()
    }

    /// The operation at hand.
    #[must_use]
    pub fn at_hand(&self) -> Option<OperationFacts> {
        self.facts(self.operation)
    }

    /// Every operation of the chain that a cycle start would name now: the one at hand and, as long as the bit
    /// stays the same, those that follow it.
    #[must_use]
    pub fn chain_from_here(&self) -> Ops {
        self.follow().into_iter().fold(Ops::NONE, Ops::with)
    }

    /// The same, in the order in which they are cut.
    fn follow(&self) -> Vec<u8> {
        let mut order = vec![self.operation];
        let mut done = self.done.with(self.operation);
        while let Some(next) = next_after(&self.operations, done)
            && self.facts(next).map(|o| o.bit) == self.at_hand().map(|o| o.bit)
        {
            order.push(next);
            done = done.with(next);
        }
        order
    }
}

impl State {
    /// What one cycle start would run now, or still runs, by place, in the order of cutting.
    #[must_use]
    pub fn chain(&self) -> Vec<u8> {
        let Some(sheet) = &self.sheet else {
            return Vec::new();
        };
        let order = sheet.follow();
        match &sheet.at {
            AtStage::Cutting(cutting) => {
                order.into_iter().filter(|p| *p == sheet.operation || cutting.chain.contains(*p)).collect()
            }
            AtStage::Securing | AtStage::Tooling | AtStage::Ready => order,
            AtStage::Held(_) | AtStage::Stopped(_) => vec![sheet.operation],
            AtStage::TakingOff | AtStage::Checking { .. } => Vec::new(),
        }
    }
}

/// The first operation, in the order of the list, that is not done and waits for none.
pub(super) fn next_after(operations: &[OperationFacts], done: Ops) -> Option<u8> {
    (0u8..).zip(operations).find(|(place, o)| !done.contains(*place) && o.after.within(done)).map(|(place, _)| place)
}

/// Whether a sheet's operations can be cut one after the other.
pub(super) fn check_order(facts: &SheetFacts) -> Result<u8, Refusal> {
    if facts.operations.len() > super::sheet::MOST_OPERATIONS {
        return Err(Refusal::TooManyOperations);
    }
    let all = Ops::first(facts.operations.len());
    if all.within(facts.done) {
        return Err(Refusal::NothingToCut);
    }
    let first = next_after(&facts.operations, facts.done).ok_or(Refusal::ImpossibleOrder)?;
    let mut done = facts.done;
    while let Some(next) = next_after(&facts.operations, done) {
        done = done.with(next);
    }
    if all.within(done) { Ok(first) } else { Err(Refusal::ImpossibleOrder) }
}

/// Whether the operation at hand may run with nobody beside the machine. Before the owner approved the revision's first
/// article it never may. With a spindle switched by hand it never
/// may: nobody could switch it off.
pub(super) fn may_run_alone(state: &State, operations: Ops) -> bool {
    let Some(sheet) = &state.sheet else {
        return false;
    };
    state.machine.away == Away::Allowed
        && sheet.approval == Approval::Given
        && state.machine.setup.spindle == SpindleKind::Controlled
        && operations.places().all(|p| sheet.facts(p).is_some_and(|o| o.attendance == Attendance::Unattended))
}

/// The operation that a finished one may be followed by without a new cycle start. The start conditions of cutting
/// are looked at beside this; here is only what belongs to the chain.
pub(super) fn goes_on_to(state: &State) -> Result<u8, Refusal> {
    let Some(sheet) = &state.sheet else {
        return Err(Refusal::NoSheet);
    };
    let AtStage::Cutting(cutting) = &sheet.at else {
        return Err(Refusal::OtherStage);
    };
    let next = next_after(&sheet.operations, sheet.done)
        .filter(|next| cutting.chain.contains(*next))
        .ok_or(Refusal::ChainOver)?;
    if sheet.facts(next).map(|o| o.bit) != state.machine.bit {
        return Err(Refusal::WrongBit);
    }
    if state.presence == Presence::Nobody && !may_run_alone(state, cutting.chain) {
        return Err(Refusal::MayNotRunAlone);
    }
    Ok(next)
}
