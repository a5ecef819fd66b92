//! What the machine tells, and what follows. Nothing here starts motion but the chain of one cycle start.
//!
//! May live here: the rows of link reports. May not: what people ask.

use super::halting::{end_motion, halt};
use super::moving::cuts;
use crate::floor::chain::next_after;
use crate::floor::draft::Draft;
use crate::floor::happening::BitAt;
use crate::floor::outcome::Deed;
use crate::floor::proofs::{ChainHolds, CutProofs, Starter};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Change, Cutting, Held, OnMachine, Raise, Since, Watch};
use crate::floor::state::{Link, Motion, Position, Slot, Spindle, SpindleKind, Way};
use chargehand_types::call::CallReason;
use chargehand_types::stage::{HeldBy, StopCause};

/// It answers (again). A position is never known by that alone.
pub(super) fn link_up(d: &mut Draft, position: Position) {
    let was_there = d.state.machine.link == Link::Up;
    if was_there && d.stop_sheet(StopCause::LinkLost).is_some() {
        d.call(CallReason::LinkLost);
        d.lose_position();
    }
    d.state.machine.link = Link::Up;
    d.moves(Motion::Unknown);
    if position == Position::Unknown {
        d.lose_position();
    }
}

/// It runs out what it holds, and nobody can tell it anything.
pub(super) fn link_down(d: &mut Draft) {
    d.worsen_stop(StopCause::LinkLost);
    d.stop_sheet(StopCause::LinkLost);
    d.state.machine.link = Link::Down;
    d.moves(Motion::Unknown);
    doubt_controlled_spindle(d);
    d.lose_position();
    d.call(CallReason::LinkLost);
}

/// A spindle switched by the controller may turn whenever the controller is out of reach or started anew.
fn doubt_controlled_spindle(d: &mut Draft) {
    if d.state.machine.setup.spindle == SpindleKind::Controlled {
        d.state.machine.spindle = Spindle::MayTurn;
    }
}

pub(super) fn stands_still(d: &mut Draft) {
    let held = matches!(d.state.at(), Some(AtStage::Held(_)));
    match d.state.machine.motion {
        Motion::Unknown | Motion::Faulted => d.state.machine.motion = Motion::Still,
        // Its own button held it while nothing ran, and let go again.
        Motion::Held if !held => d.state.machine.motion = Motion::Still,
        Motion::Held
        | Motion::Still
        | Motion::Homing
        | Motion::Hand
        | Motion::Program
        | Motion::HoldAsked(_)
        | Motion::LiftAsked
        | Motion::Raising
        | Motion::Stopping => {}
    }
}

/// Home counts only while it is being looked for: one that was held or stopped on the way is looked for again.
pub(super) fn homed(d: &mut Draft) {
    match d.state.machine.motion {
        Motion::Homing => {
            d.state.machine.motion = Motion::Still;
            d.state.machine.position = Position::Known;
        }
        Motion::HoldAsked(_) => end_free_motion(d),
        Motion::Still
        | Motion::Hand
        | Motion::Program
        | Motion::LiftAsked
        | Motion::Held
        | Motion::Raising
        | Motion::Stopping
        | Motion::Faulted
        | Motion::Unknown => {}
    }
}

/// A hold of something that was no program leaves nothing to go on with: it is discarded.
fn end_free_motion(d: &mut Draft) {
    let program = matches!(d.state.at(), Some(AtStage::Cutting(_) | AtStage::Held(_)));
    if !program {
        end_motion(d);
    }
}

/// The axes are held: `by` says whether by us or by the machine's own button.
pub(super) fn held(d: &mut Draft, by: HeldBy, bit: BitAt) {
    let motion = d.state.machine.motion;
    match (d.state.at(), motion) {
        (_, Motion::Stopping | Motion::Unknown | Motion::Faulted) => {}
        (Some(AtStage::Cutting(_)), Motion::HoldAsked(why)) => hold_sheet(d, why.held_by(), bit),
        (Some(AtStage::Cutting(_)), _) => hold_sheet(d, by, bit),
        (Some(AtStage::Held(_)), Motion::Raising) => d.state.machine.motion = Motion::Held,
        // a move by hand at a bit change is not over: let go it runs on, so hands stay away from the bit
        (Some(AtStage::Held(_)), Motion::HoldAsked(_) | Motion::Hand) => {}
        (_, Motion::Homing | Motion::Hand | Motion::HoldAsked(_)) => end_motion(d),
        (_, Motion::Still) => d.moves(Motion::Held),
        (_, Motion::Held | Motion::Raising | Motion::Program | Motion::LiftAsked) => {}
    }
}

fn hold_sheet(d: &mut Draft, by: HeldBy, bit: BitAt) {
    d.state.machine.motion = Motion::Held;
    d.go(AtStage::Held(Held { by, bit, raise: Raise::Not, change: Change::None }));
}

/// It is asked again, and somebody is called: the red button is nearer than this program.
pub(super) fn hold_unconfirmed(d: &mut Draft) {
    if let Motion::HoldAsked(_) = d.state.machine.motion {
        d.deed(Deed::Hold);
        d.call(CallReason::Trouble);
    }
}

pub(super) fn held_at_lift(d: &mut Draft) {
    match (d.state.at(), d.state.machine.motion) {
        (Some(AtStage::Cutting(_)), Motion::HoldAsked(why)) => {
            hold_sheet(d, why.held_by(), BitAt::Clear);
        }
        (Some(AtStage::Cutting(Cutting { watch: Watch::GivenUp, .. })), _) => {
            hold_sheet(d, HeldBy::NobodyThere, BitAt::Clear);
            d.switch_off_by_command();
        }
        (Some(AtStage::Cutting(_)), _) => hold_sheet(d, HeldBy::Lift, BitAt::Clear),
        (Some(_) | None, _) => {}
    }
}

/// The program's own pause: a person releases it.
pub(super) fn at_prompt(d: &mut Draft, bit: BitAt) {
    if let Some(AtStage::Cutting(_)) = d.state.at() {
        hold_sheet(d, HeldBy::Prompt, bit);
        d.call(CallReason::Prompt);
    }
}

/// Another bit is wanted. Nothing is due when it is in already and its zero and list serve.
pub(super) fn at_bit_change(d: &mut Draft, wants: Option<Slot>, bit: BitAt) {
    let Some(AtStage::Cutting(_)) = d.state.at() else {
        return;
    };
    let change = match wants {
        Some(slot) if d.state.machine.bit == Some(slot) => Change::None,
        Some(slot) => Change::To(slot),
        None => Change::ToUnlisted,
    };
    d.state.machine.motion = Motion::Held;
    d.go(AtStage::Held(Held { by: HeldBy::BitChange, bit, raise: Raise::Not, change }));
    d.switch_off_by_command();
    d.call(CallReason::Prompt);
}

/// The operation is done. The chain goes on to its next one, or a person is needed.
pub(super) fn finished(d: &mut Draft) {
    let Some(sheet) = &mut d.state.sheet else { return };
    // it ran out before the stop that is on its way reached it, and is no less done for that
    let stopped = match (&sheet.at, d.state.machine.motion) {
        (AtStage::Cutting(_), _) => false,
        (AtStage::Stopped(_), Motion::Stopping) if !sheet.done.contains(sheet.operation) => true,
        _ => return,
    };
    let operation = sheet.operation;
    sheet.done = sheet.done.with(operation);
    d.deed(Deed::OperationDone { operation });
    if stopped {
        return;
    }
    d.state.machine.motion = Motion::Still;
    if go_on(d).is_err() {
        needs_a_person(d);
    }
}

/// By the chain: every start condition is looked at as for a cycle start, with the next operation at hand.
fn go_on(d: &mut Draft) -> Result<(), Refusal> {
    let holds = ChainHolds::of(&d.state)?;
    let next = holds.next();
    let sheet = d.sheet()?;
    let AtStage::Cutting(Cutting { chain, watch, .. }) = sheet.at else {
        return Err(Refusal::OtherStage);
    };
    sheet.operation = next;
    let sheet = d.state.sheet.as_ref().ok_or(Refusal::NoSheet)?;
    let permit = CutProofs::of(&d.state, sheet, Starter::Chain(holds))?.permit(d.epoch);
    d.go(AtStage::Cutting(Cutting { chain, since: Since::Start, watch }));
    cuts(d);
    d.permitted(Deed::Begin { operation: next }, permit);
    Ok(())
}

fn needs_a_person(d: &mut Draft) {
    d.unsign_ready();
    to_what_comes_next(d);
    d.switch_off_by_command();
    d.call(CallReason::OperationDone);
}

/// To the lists of the next operation; after the last one the parts come off.
pub(super) fn to_what_comes_next(d: &mut Draft) {
    let Some(sheet) = &mut d.state.sheet else { return };
    match next_after(&sheet.operations, sheet.done) {
        Some(next) => {
            sheet.operation = next;
            d.go_prepare();
        }
        None => d.go(AtStage::TakingOff),
    }
}

/// The bit is up and the stretch is over.
pub(super) fn raised(d: &mut Draft) {
    let raising = matches!(d.state.machine.motion, Motion::Raising | Motion::HoldAsked(_));
    if let Some(OnMachine { at: AtStage::Held(held), .. }) = &mut d.state.sheet
        && raising
    {
        held.raise = Raise::Done;
        held.bit = BitAt::Clear;
        d.state.machine.motion = Motion::Still;
        d.switch_off_by_command();
    }
}

/// The link sends no more; what the controller still holds is discarded.
pub(super) fn refused(d: &mut Draft) {
    d.unsign_ready();
    if halt(d, StopCause::RefusedLine).is_some() {
        d.call(CallReason::Stopped);
    }
}

pub(super) fn fault(d: &mut Draft, position: Position) {
    d.worsen_stop(StopCause::Fault);
    d.doubt_setting();
    let stopped = d.stop_sheet(StopCause::Fault);
    d.moves(Motion::Faulted);
    d.unsign_ready();
    d.try_switch_off();
    if position == Position::Unknown {
        d.lose_position();
    }
    if stopped.is_some() {
        d.call(CallReason::Stopped);
    }
}

pub(super) fn restarted(d: &mut Draft) {
    d.worsen_stop(StopCause::ControllerRestarted);
    let stopped = d.stop_sheet(StopCause::ControllerRestarted);
    // until it says how it stands it answers nothing: what is asked of it meanwhile would be taken for done by what it says
    d.state.machine.link = Link::Down;
    d.moves(Motion::Unknown);
    doubt_controlled_spindle(d);
    d.lose_position();
    if stopped.is_some() {
        d.call(CallReason::Stopped);
    }
}

/// A stop was carried out. One that nobody here asked for, in the middle of a sheet, counts as a fault.
pub(super) fn stopped(d: &mut Draft, position: Position) {
    // a setting that was asked for before this was heard was not taken
    d.doubt_setting();
    if d.stop_sheet(StopCause::Fault).is_some() {
        d.call(CallReason::Stopped);
    }
    if d.state.machine.motion != Motion::Faulted {
        d.moves(Motion::Still);
    }
    if position == Position::Unknown {
        d.lose_position();
    }
}

pub(super) fn hand_done(d: &mut Draft) {
    match d.state.machine.motion {
        Motion::Hand => rest_after_hand(d),
        // it was over before it could be held
        Motion::HoldAsked(_) if matches!(d.state.at(), Some(AtStage::Held(_))) => rest_after_hand(d),
        Motion::HoldAsked(_) => end_free_motion(d),
        Motion::Still
        | Motion::Homing
        | Motion::Program
        | Motion::LiftAsked
        | Motion::Held
        | Motion::Raising
        | Motion::Stopping
        | Motion::Faulted
        | Motion::Unknown => {}
    }
}

/// After a hand move the machine stands, or is still held at a bit change.
pub(super) fn rest_after_hand(d: &mut Draft) {
    let held = matches!(d.state.at(), Some(AtStage::Held(_)));
    d.state.machine.motion = if held { Motion::Held } else { Motion::Still };
    d.state.machine.way = Way::NotSaid;
}
