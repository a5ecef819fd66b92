//! Hold, hold at the next lift, stop, "something is wrong": never refused, from anywhere.
//!
//! May live here: ending motion. May not: starting any.

use crate::floor::draft::Draft;
use crate::floor::happening::By;
use crate::floor::outcome::Deed;
use crate::floor::sheet::Stopped;
use crate::floor::state::{HoldFor, Motion};
use chargehand_types::call::CallReason;
use chargehand_types::stage::StopCause;

/// At once; from afar at the next lift, and somebody is called.
pub(super) fn hold(d: &mut Draft, by: By) {
    match by {
        By::Afar => hold_at_lift(d, by),
        By::AtMachine(_) | By::AtMachineNobody => at_once(d, HoldFor::Person),
    }
}

pub(super) fn hold_at_lift(d: &mut Draft, by: By) {
    call_from_afar(d, by, CallReason::HeldFromAfar);
    match d.state.machine.motion {
        Motion::Program => lift(d),
        // There is no lift to wait for.
        Motion::Homing | Motion::Hand | Motion::Raising | Motion::Faulted | Motion::Unknown => {
            at_once(d, HoldFor::Person);
        }
        Motion::LiftAsked | Motion::HoldAsked(_) | Motion::Still | Motion::Held | Motion::Stopping => {}
    }
}

/// A running program stops after its next lift.
pub(super) fn lift(d: &mut Draft) {
    d.deed(Deed::HoldAtLift);
    d.state.machine.motion = Motion::LiftAsked;
    d.end_chain();
}

pub(super) fn trouble(d: &mut Draft) {
    at_once(d, HoldFor::Trouble);
    d.unsign_ready();
    d.call(CallReason::Trouble);
}

pub(super) fn stop(d: &mut Draft, by: By) {
    call_from_afar(d, by, CallReason::Stopped);
    halt(d, StopCause::Person);
}

/// Feed hold at once. Where nobody knows what moves, it is sent all the same.
pub(super) fn at_once(d: &mut Draft, why: HoldFor) {
    match d.state.machine.motion {
        Motion::Program | Motion::LiftAsked | Motion::Homing | Motion::Hand | Motion::Raising => {
            d.deed(Deed::Hold);
            d.state.machine.motion = Motion::HoldAsked(why);
            d.end_chain();
        }
        Motion::HoldAsked(before) => {
            d.deed(Deed::Hold);
            let worst = if before == HoldFor::Trouble { before } else { why };
            d.state.machine.motion = Motion::HoldAsked(worst);
        }
        Motion::Faulted | Motion::Unknown => d.deed(Deed::Hold),
        Motion::Still | Motion::Held | Motion::Stopping => {}
    }
}

/// Ends whatever moves or is held, for good. A sheet that was being cut is stopped.
pub(super) fn halt(d: &mut Draft, cause: StopCause) -> Option<Stopped> {
    end_motion(d);
    let stopped = d.stop_sheet(cause);
    if stopped.is_some() {
        d.switch_off_by_command();
    }
    stopped
}

/// Tells the link to discard, where there is something to discard: a needless one could cost the position.
pub(super) fn end_motion(d: &mut Draft) {
    match d.state.machine.motion {
        Motion::Homing
        | Motion::Hand
        | Motion::Program
        | Motion::HoldAsked(_)
        | Motion::LiftAsked
        | Motion::Held
        | Motion::Raising => {
            d.doubt_setting();
            d.deed(Deed::StopLink);
            d.moves(Motion::Stopping);
        }
        Motion::Unknown => d.deed(Deed::StopLink),
        Motion::Still | Motion::Stopping | Motion::Faulted => {}
    }
}

fn call_from_afar(d: &mut Draft, by: By, reason: CallReason) {
    let nothing_moves = matches!(d.state.machine.motion, Motion::Still | Motion::Held | Motion::Stopping);
    if by == By::Afar && !nothing_moves {
        d.call(reason);
    }
}
