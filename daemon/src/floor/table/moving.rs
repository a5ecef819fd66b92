//! What moves, each by a person's act and with a permit of its class.
//!
//! May live here: the acts of start condition 3. May not: conditions (those are proofs), what the machine answers.

use crate::floor::draft::Draft;
use crate::floor::happening::By;
use crate::floor::outcome::Deed;
use crate::floor::proofs::{
    self, CutProofs, DayBegun, LinkUp, NothingUnderWay, PositionKnown, ResumeProofs, Standing, StandsStill, Starter,
    StoreFine, WayClear,
};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Cutting, Held, OnMachine, Ops, Raise, Since, Stopped, Watch};
use crate::floor::state::{Homing, Motion, Position, Spindle, WorkZero};
use chargehand_types::stage::HeldBy;

/// Starts the operation at hand and names the chain.
pub(super) fn cycle_start(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    let sheet = d.state.sheet.as_ref().ok_or(Refusal::NoSheet)?;
    super::preparing::before_cutting(sheet)?;
    let begun = DayBegun::of(&d.state, &person)?;
    let permit = CutProofs::of(&d.state, sheet, Starter::Person(person, begun))?.permit(d.epoch);
    // Bit, zero and lists hold, so it can only be that the sheet stands in another stage.
    if sheet.at != AtStage::Ready {
        return Err(Refusal::OtherStage);
    }
    let (operation, chain) = (sheet.operation, sheet.chain_from_here());
    d.go(AtStage::Cutting(Cutting { chain, since: Since::Start, watch: Watch::Rests }));
    cuts(d);
    d.permitted(Deed::Begin { operation }, permit);
    Ok(())
}

/// Goes on after a hold. The chain is over by then.
pub(super) fn resume(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    let sheet = d.state.sheet.as_ref().ok_or(Refusal::NoSheet)?;
    let held = held(sheet)?;
    let permit = ResumeProofs::of(&d.state, sheet, &held, person)?.permit(d.epoch);
    let since = Since::Resume(held.by);
    d.go(AtStage::Cutting(Cutting { chain: Ops::NONE, since, watch: Watch::Rests }));
    cuts(d);
    d.permitted(Deed::ResumeLink, permit);
    Ok(())
}

/// The bit is up to go into the wood, turning.
pub(super) fn cuts(d: &mut Draft) {
    d.moves(Motion::Program);
    d.state.machine.spindle = Spindle::MayTurn;
}

pub(super) fn raise(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    held(d.sheet()?)?;
    let permit = proofs::raise(&d.state, person, d.epoch)?;
    d.moves(Motion::Raising);
    d.permitted(Deed::RaiseLink, permit);
    Ok(())
}

/// The hold that can still be gone on from.
const fn held(sheet: &OnMachine) -> Result<Held, Refusal> {
    match sheet.at {
        AtStage::Held(held) => match held.raise {
            Raise::Not => Ok(held),
            Raise::Done => Err(Refusal::RaisedAlready),
        },
        AtStage::Cutting(_) => Err(Refusal::ProgramRuns),
        AtStage::Securing
        | AtStage::Tooling
        | AtStage::Ready
        | AtStage::Stopped(_)
        | AtStage::TakingOff
        | AtStage::Checking { .. } => Err(Refusal::NotHeld),
    }
}

/// Finds home. Until it is found, position counts as lost.
pub(super) fn home(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    no_program(d.state.at())?;
    let permit = proofs::home(&d.state, person, d.epoch)?;
    d.lose_position();
    d.moves(Motion::Homing);
    d.permitted(Deed::HomeLink, permit);
    Ok(())
}

/// Whether no program is under way and, after a stop, the first question was answered.
pub(super) const fn no_program(at: Option<&AtStage>) -> Result<(), Refusal> {
    match at {
        Some(AtStage::Cutting(_) | AtStage::Held(_)) => Err(Refusal::ProgramRuns),
        Some(AtStage::Stopped(Stopped { red_button: None, .. })) => Err(Refusal::RedButtonFirst),
        Some(
            AtStage::Securing
            | AtStage::Tooling
            | AtStage::Ready
            | AtStage::Stopped(_)
            | AtStage::TakingOff
            | AtStage::Checking { .. },
        )
        | None => Ok(()),
    }
}

/// One named distance on one axis. In the middle of a program only at its bit change, for the touch.
pub(super) fn hand_move(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    let standing = match d.state.at() {
        Some(AtStage::Held(Held { by: HeldBy::BitChange, raise: Raise::Not, .. })) => Standing::AtBitChange,
        at => {
            no_program(at)?;
            Standing::Free
        }
    };
    let permit = proofs::hand(&d.state, standing, person, d.epoch)?;
    d.moves(Motion::Hand);
    d.unsign_ready();
    d.permitted(Deed::HandMoveLink, permit);
    Ok(())
}

/// Sets the work zero over the mark. It writes all three axes, so the Z zero must be touched anew. A machine that
/// cannot find home learns its position by it.
pub(super) fn confirm_zero(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let person = d.person(by)?;
    no_program(d.state.at())?;
    StoreFine::of(&d.state)?;
    LinkUp::of(&d.state)?;
    match d.state.machine.setup.homing {
        Homing::Able => {
            PositionKnown::of(&d.state)?;
            StandsStill::of(&d.state)?;
        }
        Homing::Unable => {
            NothingUnderWay::of(&d.state)?;
            WayClear::of(&d.state)?;
            d.state.machine.position = Position::Known;
            unlock(d, person)?;
        }
    }
    d.state.machine.zero = WorkZero::Confirmed;
    d.state.machine.z_zero = None;
    d.unsign_tooling();
    d.review_ready();
    d.moves(Motion::Hand);
    d.deed(Deed::SetWorkZero);
    Ok(())
}

/// What was seen with eyes counts more than what the controller says: position is lost.
pub(super) fn off_the_mark(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    no_program(d.state.at())?;
    d.lose_position();
    Ok(())
}

/// Makes the controller take motion again, where it does not.
pub(super) fn unlock(d: &mut Draft, person: proofs::PersonHere) -> Result<(), Refusal> {
    match d.state.machine.motion {
        Motion::Faulted | Motion::Unknown => {
            let permit = proofs::unlock(&d.state, person, d.epoch)?;
            d.state.machine.motion = Motion::Still;
            d.permitted(Deed::UnlockLink, permit);
        }
        Motion::Still
        | Motion::Homing
        | Motion::Hand
        | Motion::Program
        | Motion::HoldAsked(_)
        | Motion::LiftAsked
        | Motion::Held
        | Motion::Raising
        | Motion::Stopping => {}
    }
    Ok(())
}
