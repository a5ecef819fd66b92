//! Everything else that comes about: deeds not done, timers, restarts, the store.
//!
//! May live here: rows that neither a person nor the machine brings. May not: anything that starts motion.

use super::halting::{at_once, end_motion, halt};
use super::machine::rest_after_hand;
use crate::floor::draft::Draft;
use crate::floor::happening::{BitAt, Tried};
use crate::floor::sheet::{Approval, AtStage, Change, Cutting, Findings, Held, Raise, Since};
use crate::floor::state::{HoldFor, Homing, Motion, Presence, Setup, Spindle, State, Store, WorkZero};
use chargehand_types::call::CallReason;
use chargehand_types::stage::StopCause;

/// A deed was not carried out: nothing was sent for it, so things are as before it or, where that is not known, as
/// bad as they may be.
pub(super) fn not_done(d: &mut Draft, tried: Tried) {
    match tried {
        Tried::RaiseLink | Tried::HomeLink | Tried::HandMoveLink
            if matches!(d.state.machine.motion, Motion::HoldAsked(_)) =>
        {
            nothing_left_to_hold(d);
        }
        Tried::Hold => hold_not_done(d),
        Tried::HoldAtLift => lift_not_done(d),
        Tried::StopLink => stop_not_done(d),
        Tried::Begin => begin_not_done(d),
        Tried::ResumeLink => resume_not_done(d),
        Tried::RaiseLink => back(d, Motion::Raising, Motion::Held),
        Tried::HomeLink => back(d, Motion::Homing, Motion::Unknown),
        Tried::HandMoveLink => {
            if d.state.machine.motion == Motion::Hand {
                rest_after_hand(d);
            }
        }
        Tried::UnlockLink | Tried::SetWorkZero | Tried::SetZZero => setting_not_done(d, tried),
        Tried::Spindle => d.state.machine.spindle = Spindle::MayTurn,
    }
}

fn back(d: &mut Draft, from: Motion, to: Motion) {
    if d.state.machine.motion == from {
        d.state.machine.motion = to;
    }
}

/// A hold was asked for while something short was on its way, and that was not done: no hold will be confirmed.
fn nothing_left_to_hold(d: &mut Draft) {
    match d.state.at() {
        Some(AtStage::Held(_)) => d.state.machine.motion = Motion::Held,
        Some(AtStage::Cutting(_)) => {}
        _ => end_motion(d),
    }
}

fn hold_not_done(d: &mut Draft) {
    if let Motion::HoldAsked(_) = d.state.machine.motion {
        d.call(CallReason::Trouble);
    }
}

/// Then at once.
fn lift_not_done(d: &mut Draft) {
    if d.state.machine.motion == Motion::LiftAsked {
        at_once(d, HoldFor::Person);
    }
}

fn stop_not_done(d: &mut Draft) {
    if d.state.machine.motion == Motion::Stopping {
        d.state.machine.motion = Motion::Unknown;
        d.call(CallReason::Trouble);
    }
}

/// Look again and start anew: the ready list is asked once more.
fn begin_not_done(d: &mut Draft) {
    let Some(AtStage::Cutting(Cutting { since: Since::Start, .. })) = d.state.at() else {
        return;
    };
    d.state.machine.motion = Motion::Still;
    d.unsign_ready();
    d.go_prepare();
    if d.state.presence == Presence::Nobody {
        d.call(CallReason::OperationDone);
    }
}

fn resume_not_done(d: &mut Draft) {
    let Some(AtStage::Cutting(Cutting { since: Since::Resume(by), .. })) = d.state.at() else {
        return;
    };
    let held = Held { by: *by, bit: BitAt::MaybeInCut, raise: Raise::Not, change: Change::None };
    d.state.machine.motion = Motion::Held;
    d.go(AtStage::Held(held));
}

/// A setting that was not taken counts for nothing. No program can have started on it: until the controller takes a
/// setting, something is under way.
fn setting_not_done(d: &mut Draft, tried: Tried) {
    match d.state.at() {
        Some(AtStage::Cutting(_)) => return,
        // At a bit change only the Z zero is set.
        Some(AtStage::Held(_)) if tried != Tried::SetZZero => return,
        Some(_) | None => {}
    }
    // an unlocking takes no motion: a hand that is under way by now is another's, and ends by its own answer
    if d.state.machine.motion == Motion::Hand && tried != Tried::UnlockLink {
        rest_after_hand(d);
    }
    match tried {
        Tried::UnlockLink => back(d, Motion::Still, Motion::Faulted),
        Tried::SetWorkZero => d.state.machine.zero = WorkZero::Unconfirmed,
        Tried::SetZZero => d.state.machine.z_zero = None,
        Tried::Hold
        | Tried::HoldAtLift
        | Tried::StopLink
        | Tried::Begin
        | Tried::ResumeLink
        | Tried::RaiseLink
        | Tried::HomeLink
        | Tried::HandMoveLink
        | Tried::Spindle => {}
    }
    d.unsign_tooling();
    d.review_ready();
    if tried != Tried::SetZZero {
        forget_shown_position(d);
    }
}

/// What a machine without switches was shown did not reach its controller.
fn forget_shown_position(d: &mut Draft) {
    if d.state.machine.setup.homing == Homing::Unable {
        d.lose_position();
    }
}

/// Off and counted out; a late timer changes nothing.
pub(super) fn run_down_due(d: &mut Draft) {
    if d.state.machine.spindle == Spindle::RunningDown {
        d.state.machine.spindle = Spindle::Off;
    }
}

/// It counts as no bit of the card until it was fitted and read back anew, and its zero as none.
pub(super) fn bit_doubted(d: &mut Draft) {
    d.state.machine.bit = None;
    d.state.machine.z_zero = None;
    d.unsign_tooling();
    d.review_ready();
    d.call(CallReason::Suspect);
}

/// The sheet on the machine may be left alone from now on, as far as its first article goes.
pub(super) fn approved(d: &mut Draft) {
    if let Some(sheet) = &mut d.state.sheet {
        sheet.approval = Approval::Given;
    }
}

/// A new check counts from now on; it ends the chain where it is worse.
pub(super) fn findings(d: &mut Draft, findings: Findings) {
    if let Some(sheet) = &mut d.state.sheet {
        sheet.findings = findings;
        if findings != Findings::Clear {
            d.end_chain();
        }
    }
}

/// Nothing is known but what the journal says, and nothing is sent. A sheet that was being cut is stopped.
pub(super) fn daemon_restarted(d: &mut Draft, setup: Setup) {
    d.worsen_stop(StopCause::DaemonRestarted);
    if d.stop_sheet(StopCause::DaemonRestarted).is_some() {
        d.call(CallReason::Stopped);
    }
    d.lose_position();
    d.state.presence = Presence::Nobody;
    let known = &d.state.machine;
    let (bit, unknown) = (known.bit, State::new(setup).machine);
    d.state.machine = crate::floor::state::Machine { bit, ..unknown };
}

pub(super) fn store_failed(d: &mut Draft) {
    d.state.machine.store = Store::Failed;
    halt(d, StopCause::StoreFailed);
    d.call(CallReason::Store);
}
