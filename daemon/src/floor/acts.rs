//! What people ask for, by act. Hold, stop and trouble are never refused.

use super::happening::{Asked, Deed, Pressed, SheetFacts};
use super::permit::Class;
use super::proofs::{self, person};
use super::refusal::Refusal;
use super::state::{
    By, Chain, Findings, Freshness, Homing, Middle, Moving, OPERATIONS_AT_MOST, OnMachine, OperationFact, Position,
    Signed, Spindle, State, Stopped, Switching, Thickness, Way, Zero, ZeroOn,
};
use super::table::Draft;
use chargehand_types::act::Axis;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role, Stage, StopCause};

/// Sends an act to its rule.
pub(in crate::floor) fn asked(d: &mut Draft, by: By, what: &Asked) -> Result<(), Refusal> {
    match what {
        Asked::Hold => {
            hold(d, by);
            Ok(())
        }
        Asked::HoldAtLift => {
            hold_at_lift(d);
            Ok(())
        }
        Asked::Stop => {
            stop(d);
            Ok(())
        }
        Asked::Trouble => {
            trouble(d);
            Ok(())
        }
        Asked::TakeSheet(facts) => take_sheet(d, by, facts),
        Asked::Thickness(t) => thickness(d, by, *t),
        Asked::ListSigned(list) => list_signed(d, by, *list),
        Asked::SpindleSwitchedOff => switched_off(d, by),
        Asked::SpindleStill => still(d, by),
        Asked::BitFitted(slot) => bit_fitted(d, by, *slot),
        Asked::ZZeroed => z_zeroed(d, by),
        Asked::FindingsSigned => findings_signed(d, by),
        Asked::CycleStart => cycle_start(d, by),
        Asked::Resume => resume(d, by),
        Asked::Raise => raise(d, by),
        Asked::RedButton(pressed) => red_button(d, by, *pressed),
        Asked::BitFree => bit_free(d, by),
        Asked::Home => home(d, by),
        Asked::ConfirmZero => confirm_zero(d, by),
        Asked::HandMove(_) => hand_move(d, by),
        Asked::ZeroHere(axis) => zero_here(d, by, *axis),
        Asked::Decide(decision) => decide(d, by, *decision),
        Asked::PartsGraded => parts_graded(d, by),
    }
}

fn sheet(state: &State) -> Result<&OnMachine, Refusal> {
    state.sheet.as_ref().ok_or(Refusal::NoSheet)
}

fn sheet_in(state: &mut State, stage: Stage) -> Result<&mut OnMachine, Refusal> {
    let sheet = state.sheet.as_mut().ok_or(Refusal::NoSheet)?;
    if sheet.stage == stage { Ok(sheet) } else { Err(Refusal::WrongStage(sheet.stage)) }
}

fn running(state: &State) -> bool {
    matches!(state.moving, Moving::Program | Moving::ProgramHolding)
}

fn hold(d: &mut Draft, by: By) {
    match by {
        By::Afar => {
            if running(&d.state) {
                d.must(Deed::Call(CallReason::HeldFromAfar));
            }
            hold_at_lift(d);
        }
        By::AtMachine(_) | By::Unsigned => {
            if d.state.moving != Moving::Nothing {
                if running(&d.state) {
                    d.state.moving = Moving::ProgramHolding;
                    end_chain(&mut d.state);
                }
                d.must(Deed::Hold);
            }
        }
    }
}

fn hold_at_lift(d: &mut Draft) {
    if running(&d.state) {
        end_chain(&mut d.state);
        d.must(Deed::HoldAtLift);
    }
}

fn end_chain(state: &mut State) {
    if let Some(sheet) = &mut state.sheet {
        sheet.chain = Chain::Ended;
    }
}

fn stop(d: &mut Draft) {
    let at_work = matches!(d.state.stage(), Some(Stage::Cutting | Stage::Held));
    if d.state.moving != Moving::Nothing || at_work {
        d.must(Deed::StopLink);
        if d.state.switching == Switching::Controlled {
            d.must(Deed::SpindleOff);
        }
    }
    if at_work {
        stop_sheet(d, StopCause::Person);
    }
}

/// The sheet stops; what moves is no longer ours.
pub(in crate::floor) fn stop_sheet(d: &mut Draft, cause: StopCause) {
    d.state.moving = Moving::Nothing;
    if let Some(sheet) = &mut d.state.sheet
        && (matches!(sheet.stage, Stage::Cutting | Stage::Held) || sheet.middle == Middle::WaitsForBit)
    {
        sheet.stage = Stage::Stopped;
        sheet.chain = Chain::Ended;
        sheet.middle = Middle::No;
        sheet.held = None;
        sheet.signed.ready = false;
        sheet.stopped = Some(Stopped { cause, red_button: None });
        d.must(Deed::SheetStopped(cause));
    }
}

fn trouble(d: &mut Draft) {
    if d.state.moving != Moving::Nothing {
        if running(&d.state) {
            d.state.moving = Moving::ProgramHolding;
            end_chain(&mut d.state);
        }
        d.must(Deed::Hold);
    }
    d.must(Deed::Call(CallReason::Trouble));
}

fn take_sheet(d: &mut Draft, by: By, facts: &SheetFacts) -> Result<(), Refusal> {
    person(by)?;
    if d.state.sheet.is_some() {
        return Err(Refusal::SheetOnMachine);
    }
    if d.state.moving != Moving::Nothing {
        return Err(Refusal::Moving);
    }
    if facts.findings == Findings::Stops {
        return Err(Refusal::CannotRun);
    }
    if facts.operations.len() > OPERATIONS_AT_MOST {
        return Err(Refusal::TooManyOperations);
    }
    let operations: Vec<OperationFact> = facts
        .operations
        .iter()
        .enumerate()
        .map(|(i, (bit, after))| OperationFact { bit: *bit, after: *after, done: facts.done & (1 << i) != 0 })
        .collect();
    let on = OnMachine {
        stage: Stage::Securing,
        operations,
        at: 0,
        zero_on: facts.zero_on,
        z_zero: match facts.zero_on {
            ZeroOn::Sheet => Freshness::Stale,
            ZeroOn::Bed => facts.z_zero,
        },
        signed: Signed::default(),
        thickness: Thickness::Unread,
        findings: facts.findings,
        chain: Chain::Ended,
        middle: Middle::No,
        held: None,
        stopped: None,
    };
    if on.next_operation().is_none() {
        return Err(Refusal::NothingToCut);
    }
    d.state.bit = facts.bit;
    d.state.sheet = Some(on);
    Ok(())
}

fn thickness(d: &mut Draft, by: By, read: Thickness) -> Result<(), Refusal> {
    person(by)?;
    sheet_in(&mut d.state, Stage::Securing)?.thickness = read;
    Ok(())
}

fn list_signed(d: &mut Draft, by: By, list: ListKind) -> Result<(), Refusal> {
    person(by)?;
    match list {
        ListKind::Securing => {
            let on = sheet_in(&mut d.state, Stage::Securing)?;
            match on.thickness {
                Thickness::Unread => return Err(Refusal::ThicknessUnread),
                Thickness::Outside => return Err(Refusal::ThicknessOutside),
                Thickness::Inside => on.signed.securing = true,
            }
            next_operation(&mut d.state);
        }
        ListKind::Tooling => tooling_signed(d)?,
        ListKind::Ready => sheet_in(&mut d.state, Stage::Ready)?.signed.ready = true,
        ListKind::TakingOff => {
            sheet_in(&mut d.state, Stage::TakingOff)?;
            proofs::still(&d.state)?;
            sheet_in(&mut d.state, Stage::TakingOff)?.stage = Stage::Checking;
        }
        ListKind::Checking => parts_graded(d, by)?,
    }
    Ok(())
}

fn tooling_signed(d: &mut Draft) -> Result<(), Refusal> {
    let bit = d.state.bit;
    let on = sheet_in(&mut d.state, Stage::Tooling)?;
    if on.middle == Middle::No && bit != on.operation().map(|o| o.bit) {
        return Err(Refusal::OtherBit);
    }
    if on.z_zero == Freshness::Stale {
        return Err(Refusal::ZZeroStale);
    }
    on.signed.tooling = true;
    on.stage = Stage::Ready;
    Ok(())
}

/// Goes to the next operation that may be cut: its tooling where bit or zero do not serve, else its ready list; to
/// taking-off when there is none left.
pub(in crate::floor) fn next_operation(state: &mut State) {
    let bit = state.bit;
    let Some(on) = &mut state.sheet else { return };
    on.signed.ready = false;
    on.middle = Middle::No;
    on.held = None;
    match on.next_operation() {
        None => {
            on.stage = Stage::TakingOff;
            on.chain = Chain::Ended;
        }
        Some(at) => {
            on.at = at;
            let serves = bit == on.operation().map(|o| o.bit) && on.z_zero == Freshness::Fresh;
            on.signed.tooling = serves;
            on.stage = if serves { Stage::Ready } else { Stage::Tooling };
        }
    }
}

fn switched_off(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    if d.state.moving != Moving::Nothing {
        return Err(Refusal::Moving);
    }
    if d.state.spindle == Spindle::MayTurn {
        d.state.spindle = Spindle::RunningDown;
        if d.state.switching == Switching::Controlled {
            d.must(Deed::SpindleOff);
        }
        d.must(Deed::CountRunDown);
    }
    Ok(())
}

fn still(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    match d.state.spindle {
        Spindle::RunDownOver | Spindle::Still => {
            d.state.spindle = Spindle::Still;
            Ok(())
        }
        Spindle::RunningDown => Err(Refusal::RunDownNotOver),
        Spindle::MayTurn => Err(Refusal::BitMayTurn),
    }
}

fn bit_fitted(d: &mut Draft, by: By, slot: u8) -> Result<(), Refusal> {
    person(by)?;
    proofs::still(&d.state)?;
    let on = sheet_in(&mut d.state, Stage::Tooling)?;
    if on.middle == Middle::No && on.operation().map(|o| o.bit) != Some(slot) {
        return Err(Refusal::OtherBit);
    }
    on.z_zero = Freshness::Stale;
    d.state.bit = Some(slot);
    Ok(())
}

fn z_zeroed(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    proofs::position(&d.state)?;
    proofs::still(&d.state)?;
    sheet_in(&mut d.state, Stage::Tooling)?.z_zero = Freshness::Fresh;
    Ok(())
}

fn findings_signed(d: &mut Draft, by: By) -> Result<(), Refusal> {
    proofs::owner(by)?;
    let on = d.state.sheet.as_mut().ok_or(Refusal::NoSheet)?;
    match on.findings {
        Findings::Stops => Err(Refusal::CannotRun),
        Findings::Clear | Findings::Unsigned => {
            on.findings = Findings::Clear;
            Ok(())
        }
    }
}

fn cycle_start(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let here = person(by)?;
    let on = sheet(&d.state)?;
    if on.stage != Stage::Ready {
        return Err(Refusal::WrongStage(on.stage));
    }
    let proofs = proofs::cut(&d.state, on)?;
    let (class, deed) = match on.middle {
        Middle::No => (Class::Cut, Deed::Begin { operation: on.at }),
        Middle::WaitsForBit => (Class::Resume, Deed::Resume),
    };
    let permit = proofs.permit(class, d.epoch, here);
    start_cutting(d, deed, permit);
    Ok(())
}

/// The stage and the machine once a program runs.
pub(in crate::floor) fn start_cutting(d: &mut Draft, deed: Deed, permit: super::permit::Permit) {
    d.state.moving = Moving::Program;
    d.state.spindle = Spindle::MayTurn;
    if let Some(on) = &mut d.state.sheet {
        on.stage = Stage::Cutting;
        on.chain = Chain::Whole;
        on.middle = Middle::No;
        on.held = None;
    }
    d.moves(deed, permit);
}

fn resume(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let here = person(by)?;
    let on = sheet(&d.state)?;
    if on.stage != Stage::Held {
        return Err(Refusal::WrongStage(on.stage));
    }
    let proofs = proofs::cut(&d.state, on)?;
    let permit = proofs.permit(Class::Resume, d.epoch, here);
    let chain = on.chain;
    start_cutting(d, Deed::Resume, permit);
    // a hold ended the chain; going on does not make it whole again
    if let Some(on) = &mut d.state.sheet {
        on.chain = chain;
    }
    Ok(())
}

fn raise(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let here = person(by)?;
    let on = sheet(&d.state)?;
    if on.stage != Stage::Held {
        return Err(Refusal::WrongStage(on.stage));
    }
    if d.state.moving != Moving::Nothing {
        return Err(Refusal::Moving);
    }
    let known = proofs::position(&d.state)?;
    let permit = proofs::raise_permit(&here, known, d.epoch);
    d.state.moving = Moving::Raise;
    d.moves(Deed::Raise, permit);
    Ok(())
}

fn red_button(d: &mut Draft, by: By, pressed: Pressed) -> Result<(), Refusal> {
    person(by)?;
    let on = sheet_in(&mut d.state, Stage::Stopped)?;
    if let Some(stopped) = &mut on.stopped {
        stopped.red_button = Some(pressed == Pressed::Yes);
    }
    if pressed == Pressed::Yes && d.state.position == Position::Known {
        d.state.lose_position();
        d.must(Deed::PositionLost);
    }
    Ok(())
}

fn stop_answered(state: &State) -> Result<(), Refusal> {
    match state.sheet.as_ref().filter(|s| s.stage == Stage::Stopped).and_then(|s| s.stopped) {
        Some(Stopped { red_button: None, .. }) => Err(Refusal::RedButtonUnanswered),
        Some(_) | None => Ok(()),
    }
}

fn bit_free(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    stop_answered(&d.state)?;
    if d.state.moving != Moving::Nothing {
        return Err(Refusal::Moving);
    }
    d.state.way = Way::Clear;
    Ok(())
}

fn home(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let here = if fault_behind(&d.state) { proofs::owner(by)? } else { person(by)? };
    if d.state.homing == Homing::ByMark {
        return Err(Refusal::CannotHome);
    }
    stop_answered(&d.state)?;
    if matches!(d.state.stage(), Some(Stage::Cutting | Stage::Held)) {
        return Err(Refusal::Moving);
    }
    let idle = proofs::idle(&d.state)?;
    let way = proofs::way(&d.state)?;
    let permit = proofs::home_permit(&here, idle, way, d.epoch);
    if d.state.position == Position::Known {
        d.state.lose_position();
        d.must(Deed::PositionLost);
    }
    // the clear way is used up by the one search
    d.state.way = Way::Unknown;
    d.state.moving = Moving::Home;
    d.moves(Deed::Home, permit);
    Ok(())
}

/// Whether a stop stands that only the owner may leave: after a fault, or with the position lost.
pub(in crate::floor) fn fault_behind(state: &State) -> bool {
    let Some(stopped) = state.sheet.as_ref().filter(|s| s.stage == Stage::Stopped).and_then(|s| s.stopped) else {
        return false;
    };
    stopped.cause != StopCause::Person || stopped.red_button == Some(true)
}

fn confirm_zero(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    proofs::idle(&d.state)?;
    if d.state.homing == Homing::ByMark && d.state.position == Position::Unknown {
        proofs::way(&d.state)?;
        d.state.position = Position::Known;
        d.state.way = Way::Unknown;
        d.must(Deed::SetWorkZero);
    }
    proofs::position(&d.state)?;
    d.state.zero = Zero::Confirmed;
    Ok(())
}

fn hand_move(d: &mut Draft, by: By) -> Result<(), Refusal> {
    let here = person(by)?;
    hands_near(&d.state)?;
    let idle = proofs::idle(&d.state)?;
    let known = proofs::position(&d.state)?;
    let still = proofs::still(&d.state)?;
    let permit = proofs::hand_permit(&here, idle, known, still, d.epoch);
    d.state.moving = Moving::Hand;
    d.moves(Deed::HandMove, permit);
    Ok(())
}

fn hands_near(state: &State) -> Result<(), Refusal> {
    match state.stage() {
        None | Some(Stage::Tooling | Stage::Securing) => Ok(()),
        Some(stage) => Err(Refusal::WrongStage(stage)),
    }
}

fn zero_here(d: &mut Draft, by: By, axis: Axis) -> Result<(), Refusal> {
    person(by)?;
    hands_near(&d.state)?;
    proofs::idle(&d.state)?;
    proofs::position(&d.state)?;
    proofs::still(&d.state)?;
    // sideways, the zero is looked at over the mark anew
    if axis != Axis::Z {
        proofs::owner(by)?;
        d.state.zero = Zero::Unconfirmed;
    }
    d.state.moving = Moving::Hand;
    d.must(Deed::ZeroHere);
    Ok(())
}

fn decide(d: &mut Draft, by: By, decision: Decision) -> Result<(), Refusal> {
    person(by)?;
    sheet_in(&mut d.state, Stage::Stopped)?;
    stop_answered(&d.state)?;
    if fault_behind(&d.state) {
        proofs::owner(by)?;
    }
    match decision {
        Decision::ReEnter => Err(Refusal::ReEntryNotBuilt),
        Decision::Restart => restart(d),
        Decision::SetAside => {
            d.state.sheet = None;
            d.must(Deed::SheetOff);
            Ok(())
        }
        Decision::End => {
            let on = sheet_in(&mut d.state, Stage::Stopped)?;
            on.stopped = None;
            on.stage = Stage::TakingOff;
            Ok(())
        }
    }
}

fn restart(d: &mut Draft) -> Result<(), Refusal> {
    proofs::idle(&d.state)?;
    proofs::position(&d.state)?;
    proofs::zero(&d.state)?;
    let bit = d.state.bit;
    let on = sheet_in(&mut d.state, Stage::Stopped)?;
    on.stopped = None;
    on.signed.ready = false;
    let serves = bit == on.operation().map(|o| o.bit) && on.z_zero == Freshness::Fresh;
    on.signed.tooling = serves;
    on.stage = if serves { Stage::Ready } else { Stage::Tooling };
    Ok(())
}

fn parts_graded(d: &mut Draft, by: By) -> Result<(), Refusal> {
    person(by)?;
    sheet_in(&mut d.state, Stage::Checking)?;
    d.state.sheet = None;
    d.must(Deed::CloseSheet);
    Ok(())
}

/// The role of an asker, if it counts at the machine.
#[must_use]
pub(in crate::floor) const fn role(by: By) -> Option<Role> {
    match by {
        By::AtMachine(role) => Some(role),
        By::Unsigned | By::Afar => None,
    }
}
