//! A sheet runs with nobody signed in: it is asked whether somebody is still there, and what follows when nobody says so.

use super::life::then;
use super::scenes::{SPINDLE, after, at_rest, facts, fitted, morning, owner};
use crate::floor::happening::{Asked, By, Happening, Reading};
use crate::floor::outcome::Deed;
use crate::floor::permit::Epoch;
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Attendance, Cutting, SheetFacts, Watch};
use crate::floor::state::{Away, Motion, Presence, Spindle, State};
use crate::floor::table::step;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{HeldBy, Stage};

const GONE: Happening = Happening::PresenceChanged(Presence::Nobody);
const DUE: Happening = Happening::StillThereDue;
const THERE: Happening = Happening::Act { by: By::AtMachineNobody, what: Asked::StillThere };

/// Two operations that may run alone, being cut; everybody left, as they were allowed to.
fn alone() -> State {
    let mut sheet: SheetFacts = facts(&[0, 0]);
    sheet.operations.iter_mut().for_each(|o| o.attendance = Attendance::Unattended);
    let path = [
        morning(),
        vec![
            owner(Asked::TakeSheet(sheet)),
            owner(Asked::Thickness(Reading::Inside)),
            owner(Asked::ListSigned(ListKind::Securing)),
        ],
        fitted(0),
        vec![owner(Asked::ListSigned(ListKind::Ready)), owner(Asked::CycleStart)],
        vec![Happening::AwayChanged(Away::Allowed)],
    ]
    .concat();
    let gone = then(&after(State::new(SPINDLE), &path), &GONE);
    assert_eq!(gone.deeds, [], "it may be left");
    assert_eq!(gone.state.machine.motion, Motion::Program);
    gone.state
}

fn watch(state: &State) -> Option<Watch> {
    match state.at() {
        Some(AtStage::Cutting(Cutting { watch, .. })) => Some(*watch),
        _ => None,
    }
}

#[test]
fn unanswered_it_calls_then_holds_at_the_next_lift_with_the_spindle_stopped() {
    let asked = then(&alone(), &DUE);
    assert_eq!(asked.deeds, [Deed::AskStillThere]);
    assert_eq!(asked.state.machine.motion, Motion::Program, "it cuts on meanwhile");
    let called = then(&asked.state, &DUE);
    assert_eq!(called.deeds, [Deed::Call(CallReason::StillThere)]);
    assert_eq!(called.state.machine.motion, Motion::Program);
    let given_up = then(&called.state, &DUE);
    assert_eq!(given_up.deeds, [Deed::HoldAtLift]);
    assert_eq!(given_up.state.chain(), [0], "the chain is over");
    let held = then(&given_up.state, &Happening::HeldAtLift);
    assert!(matches!(held.state.at(), Some(AtStage::Held(h)) if h.by == HeldBy::NobodyThere));
    assert!(held.deeds.contains(&Deed::SpindleOff) && held.deeds.contains(&Deed::StartRunDown), "{:?}", held.deeds);
    assert_eq!(held.state.machine.spindle, Spindle::RunningDown);

    let back = after(held.state, &[Happening::PresenceChanged(Presence::Owner)]);
    assert_eq!(super::life::why(&back, Asked::Resume), Refusal::RouterOff, "not into the wood with a bit at rest");
    let turning = then(&back, &owner(Asked::SpindleSwitchedOn));
    assert_eq!(turning.deeds, [Deed::SpindleOn]);
    assert_eq!(after(turning.state, &[owner(Asked::Resume)]).stage(), Some(Stage::Cutting));
}

#[test]
fn a_program_that_ends_before_the_lift_ends_with_the_spindle_off_too() {
    let given_up = after(alone(), &[DUE, DUE, DUE]);
    let end = then(&given_up, &Happening::Finished);
    assert!(end.permit.is_none() && end.deeds.contains(&Deed::SpindleOff), "{:?}", end.deeds);
}

#[test]
fn only_somebody_at_the_machine_answers_and_only_what_is_asked() {
    let why =
        |state: &State, by| step(state, &Happening::Act { by, what: Asked::StillThere }, Epoch::default()).unwrap_err();
    assert_eq!(why(&alone(), By::AtMachineNobody), Refusal::NothingAsked);
    for asked in [vec![DUE], vec![DUE, DUE]] {
        let asked = after(alone(), &asked);
        assert_eq!(why(&asked, By::Afar), Refusal::FromAfar);
        let answered = then(&asked, &THERE);
        assert_eq!((watch(&answered.state), answered.deeds), (Some(Watch::Rests), Vec::new()));
    }
    let given_up = after(alone(), &[DUE, DUE, DUE]);
    assert_eq!(why(&given_up, By::AtMachineNobody), Refusal::NothingAsked, "what was told to hold is held");
}

#[test]
fn somebody_signed_in_is_asked_nothing() {
    let back = Happening::PresenceChanged(Presence::Helper);
    let there = after(alone(), &[DUE, DUE, back]);
    assert_eq!(watch(&there), Some(Watch::Rests));
    let due = then(&there, &DUE);
    assert_eq!((due.state, due.deeds), (there, Vec::new()));
    // nor is anybody while it is on its way to a hold already
    let asked = Happening::Act { by: By::AtMachineNobody, what: Asked::HoldAtLift };
    let holds = after(alone(), &[asked]);
    let due = then(&holds, &DUE);
    assert_eq!((due.state, due.deeds), (holds, Vec::new()));
}

#[test]
fn the_next_operation_of_the_chain_answers_nothing() {
    let next = then(&after(alone(), &[DUE]), &Happening::Finished);
    assert!(next.deeds.contains(&Deed::Begin { operation: 1 }));
    assert_eq!(watch(&next.state), Some(Watch::Asked));
}

#[test]
fn what_may_no_longer_run_alone_holds_with_the_spindle_stopped() {
    let over = then(&alone(), &Happening::AwayChanged(Away::Off));
    assert_eq!(over.deeds, [Deed::HoldAtLift, Deed::Call(CallReason::HeldFromAfar)]);
    let held = then(&over.state, &Happening::HeldAtLift);
    assert!(held.deeds.contains(&Deed::SpindleOff), "{:?}", held.deeds);
    let quiet = after(held.state, &[Happening::PresenceChanged(Presence::Owner), Happening::RunDownDue]);
    assert_eq!(after(quiet, &at_rest()[2..]).machine.spindle, Spindle::Still);
}
