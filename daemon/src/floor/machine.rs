//! What the machine, the timers and the store tell. Nothing here can be refused: it has happened.

use super::acts::{next_operation, start_cutting, stop_sheet};
use super::happening::{Deed, Happening, PositionAfter};
use super::permit::Class;
use super::proofs;
use super::state::{
    Chain, Freshness, Held, Link, Middle, Moving, OnMachine, Position, Presence, Spindle, State, Switching,
};
use super::table::Draft;
use chargehand_types::call::CallReason;
use chargehand_types::stage::{HeldBy, Stage, StopCause};

/// Takes note of what has happened.
pub(in crate::floor) fn told(d: &mut Draft, what: &Happening) {
    match what {
        // acts have their own rules
        Happening::Asked { .. } => {}
        Happening::PresenceIs(who) => d.state.presence = *who,
        Happening::LinkUp => d.state.link = Link::Up,
        Happening::LinkDown => lost(d, StopCause::LinkLost),
        Happening::ControllerRestarted => {
            lost(d, StopCause::ControllerRestarted);
            d.state.link = Link::Up;
        }
        Happening::Homed => homed(d),
        Happening::HeldConfirmed => held(d, None),
        Happening::HeldAtLift => held(d, Some(HeldBy::Lift)),
        Happening::AtPrompt => held(d, Some(HeldBy::Prompt)),
        Happening::AtBitChange => at_bit_change(d),
        Happening::Finished => finished(d),
        Happening::Raised => raised(d),
        Happening::HandDone => settle(d, Moving::Hand),
        Happening::Refused => {
            stop_with_call(d, StopCause::RefusedLine);
        }
        Happening::Fault { position } => fault(d, *position),
        Happening::LinkStopped { position } => link_stopped(d, *position),
        Happening::NotDone => not_done(d),
        Happening::RunDownDue => {
            if d.state.spindle == Spindle::RunningDown {
                d.state.spindle = Spindle::RunDownOver;
            }
        }
        Happening::ChainGapDue => {
            if let Some(on) = &mut d.state.sheet {
                on.chain = Chain::Ended;
            }
        }
        Happening::DaemonRestarted => restarted(d),
        Happening::StoreFailed => store_failed(d),
    }
}

fn settle(d: &mut Draft, was: Moving) {
    if d.state.moving == was {
        d.state.moving = Moving::Nothing;
    }
}

fn lose_position(d: &mut Draft) {
    if d.state.position == Position::Known {
        d.must(Deed::PositionLost);
    }
    d.state.lose_position();
}

fn lost(d: &mut Draft, cause: StopCause) {
    d.state.link = Link::Down;
    stop_with_call(d, cause);
    d.state.moving = Moving::Nothing;
    d.state.spindle = Spindle::MayTurn;
    lose_position(d);
}

fn stop_with_call(d: &mut Draft, cause: StopCause) {
    let before = d.deeds.len();
    stop_sheet(d, cause);
    if d.deeds.len() > before {
        let reason = match cause {
            StopCause::LinkLost => CallReason::LinkLost,
            StopCause::StoreFailed => CallReason::Store,
            StopCause::RefusedLine
            | StopCause::Fault
            | StopCause::ControllerRestarted
            | StopCause::DaemonRestarted
            | StopCause::Person => CallReason::Stopped,
        };
        d.must(Deed::Call(reason));
    }
}

fn homed(d: &mut Draft) {
    if d.state.moving == Moving::Home {
        d.state.moving = Moving::Nothing;
        d.state.position = Position::Known;
        d.must(Deed::SetWorkZero);
    }
}

/// Held; by a person or the machine's own button where `why` does not say better.
fn held(d: &mut Draft, why: Option<HeldBy>) {
    let asked = d.state.moving == Moving::ProgramHolding;
    let program = matches!(d.state.moving, Moving::Program | Moving::ProgramHolding);
    let Some(on) = &mut d.state.sheet else { return };
    if on.stage != Stage::Cutting || !program {
        return;
    }
    let by = why.unwrap_or(if asked { HeldBy::Person } else { HeldBy::Machine });
    on.stage = Stage::Held;
    on.chain = Chain::Ended;
    on.held = Some(Held { by });
    d.state.moving = Moving::Nothing;
    if by == HeldBy::Prompt {
        d.must(Deed::Call(CallReason::Prompt));
    }
}

fn at_bit_change(d: &mut Draft) {
    let Some(on) = &mut d.state.sheet else { return };
    if on.stage != Stage::Cutting {
        return;
    }
    on.stage = Stage::Tooling;
    on.middle = Middle::WaitsForBit;
    on.chain = Chain::Ended;
    on.z_zero = Freshness::Stale;
    on.signed.tooling = false;
    on.signed.ready = false;
    d.state.moving = Moving::Nothing;
    d.state.bit = None;
    d.state.spindle = Spindle::MayTurn;
    if d.state.switching == Switching::Controlled {
        d.must(Deed::SpindleOff);
    }
    d.must(Deed::Call(CallReason::Prompt));
}

fn finished(d: &mut Draft) {
    let Some(on) = &mut d.state.sheet else { return };
    if on.stage != Stage::Cutting {
        return;
    }
    let at = on.at;
    if let Some(operation) = on.operations.get_mut(usize::from(at)) {
        operation.done = true;
    }
    let chain = on.chain;
    d.state.moving = Moving::Nothing;
    d.must(Deed::OperationFinished { operation: at });
    next_operation(&mut d.state);
    if chain == Chain::Whole && may_go_on(&d.state) {
        go_on(d);
    } else {
        end(d);
    }
}

/// Start condition 4 and 5: the next operation starts by itself only with the same bit and zero, somebody signed in
/// at the machine, and nothing having happened since cycle start. (An empty room is off until its own issue.)
#[must_use]
pub(in crate::floor) fn may_go_on(state: &State) -> bool {
    let Some(on) = &state.sheet else { return false };
    on.stage == Stage::Ready && state.presence != Presence::Nobody && on.signed.tooling && on.middle == Middle::No
}

fn go_on(d: &mut Draft) {
    if let Some(on) = &mut d.state.sheet {
        // the ready list of this cycle start named the whole chain
        on.signed.ready = true;
    }
    let ready = match &d.state.sheet {
        Some(on) => proofs::cut(&d.state, on).and_then(|p| Ok((p, proofs::presence(&d.state)?, on.at))),
        None => return,
    };
    match ready {
        Ok((proofs, here, operation)) => {
            let permit = proofs.permit(Class::Cut, d.epoch, here);
            start_cutting(d, Deed::Begin { operation }, permit);
        }
        Err(_) => {
            if let Some(on) = &mut d.state.sheet {
                on.signed.ready = false;
            }
            end(d);
        }
    }
}

fn end(d: &mut Draft) {
    if let Some(on) = &mut d.state.sheet {
        on.chain = Chain::Ended;
    }
    d.must(Deed::Call(CallReason::OperationDone));
}

fn raised(d: &mut Draft) {
    if d.state.moving == Moving::Raise {
        d.state.moving = Moving::Nothing;
        stop_sheet(d, StopCause::Person);
    }
}

fn fault(d: &mut Draft, position: PositionAfter) {
    stop_with_call(d, StopCause::Fault);
    d.state.moving = Moving::Nothing;
    if position == PositionAfter::Lost {
        lose_position(d);
    }
}

fn link_stopped(d: &mut Draft, position: PositionAfter) {
    if matches!(d.state.stage(), Some(Stage::Cutting | Stage::Held)) {
        stop_sheet(d, StopCause::Person);
    }
    d.state.moving = Moving::Nothing;
    if position == PositionAfter::Lost {
        lose_position(d);
    }
}

/// A command was not carried out: back to where it was asked.
fn not_done(d: &mut Draft) {
    let was = d.state.moving;
    d.state.moving = Moving::Nothing;
    match (was, &mut d.state.sheet) {
        (Moving::Program | Moving::ProgramHolding, Some(on)) if on.stage == Stage::Cutting => back_to_ready(on),
        (Moving::Home, _) => {}
        _ => {}
    }
}

fn back_to_ready(on: &mut OnMachine) {
    on.stage = Stage::Ready;
    on.signed.ready = false;
    on.chain = Chain::Ended;
}

fn restarted(d: &mut Draft) {
    d.state.link = Link::Down;
    d.state.moving = Moving::Nothing;
    d.state.presence = Presence::Nobody;
    d.state.spindle = Spindle::MayTurn;
    stop_with_call(d, StopCause::DaemonRestarted);
    // nobody knows what was turned or moved meanwhile
    d.state.bit = None;
    let known = d.state.position;
    d.state.lose_position();
    if known == Position::Known {
        d.must(Deed::PositionLost);
    }
    back_to_tooling(&mut d.state);
}

fn back_to_tooling(state: &mut State) {
    if let Some(on) = &mut state.sheet
        && on.stage == Stage::Ready
    {
        on.stage = Stage::Tooling;
    }
}

fn store_failed(d: &mut Draft) {
    if d.state.moving != Moving::Nothing {
        d.must(Deed::Hold);
    }
    stop_with_call(d, StopCause::StoreFailed);
}
