//! Holds, stops and what follows them, told as stories.

use super::life::{machine, then, why};
use super::scenes::{
    ROUTER, after, at_rest, cutting, cutting_then, fitted, held, helper, morning, owner, ready, run_out, stopped,
    tooling,
};
use crate::floor::happening::{Asked, BitAt, By, Happening, Tried};
use crate::floor::offers::offers;
use crate::floor::outcome::Deed;
use crate::floor::permit::{Class, Epoch};
use crate::floor::refusal::Refusal;
use crate::floor::state::{Motion, Position, Presence, Slot, WorkZero};
use crate::floor::table::step;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::ListKind;
use chargehand_types::now::OfferedAct;
use chargehand_types::stage::{Decision, Role, Stage};

#[test]
fn a_daemon_restart_stops_the_sheet() {
    for path in [cutting(&[0, 0]), held(BitAt::Clear)] {
        let outcome = then(&machine(&path), &Happening::DaemonRestarted(ROUTER));
        assert_eq!(outcome.state.stage(), Some(Stage::Stopped));
        assert_eq!(outcome.state.machine.position, Position::Unknown);
        assert!(outcome.deeds.iter().all(|d| !d.needs_permit()));
        let back = after(
            outcome.state,
            &[
                Happening::LinkUp { position_kept: true },
                Happening::StandsStill,
                Happening::PresenceChanged(Presence::Owner),
            ],
        );
        assert_eq!(back.machine.position, Position::Unknown, "kept, it says; nobody looked");
        assert_eq!(why(&back, Asked::Decide(Decision::Restart)), Refusal::RedButtonFirst);
        let restarted =
            after(back, &[owner(Asked::RedButton { pressed: false }), owner(Asked::Decide(Decision::Restart))]);
        assert_eq!(restarted.stage(), Some(Stage::Tooling));
        assert_eq!(why(&restarted, Asked::CycleStart), Refusal::PositionUnknown);
        let found = [
            vec![owner(Asked::BitFree), owner(Asked::Home), Happening::Homed],
            vec![owner(Asked::ConfirmZero), Happening::HandDone],
            at_rest(),
            fitted(0),
            vec![owner(Asked::ListSigned(ListKind::Ready)), owner(Asked::CycleStart)],
        ]
        .concat();
        assert_eq!(after(restarted, &found).stage(), Some(Stage::Cutting));
    }
}

#[test]
fn red_button_means_position_lost() {
    let pressed = owner(Asked::RedButton { pressed: true });
    let outcome = then(&machine(&stopped()), &pressed);
    assert_eq!(outcome.deeds, [Deed::PositionLost]);
    let helped = after(outcome.state, &[Happening::PresenceChanged(Presence::Helper)]);
    let decide = helper(Asked::Decide(Decision::End));
    assert_eq!(step(&helped, &decide, Epoch::default()).unwrap_err(), Refusal::OwnerDecides);
}

#[test]
fn what_ran_out_before_a_stop_reached_it_is_done() {
    let stopped = then(&machine(&cutting(&[0, 1])), &owner(Asked::Stop)).state;
    let heard = then(&stopped, &Happening::Finished);
    assert_eq!(heard.deeds, [Deed::OperationDone { operation: 0 }], "nothing begins");
    assert_eq!(heard.state.stage(), Some(Stage::Stopped), "the first question is still to be answered");
    assert!(then(&heard.state, &Happening::Finished).deeds.is_empty(), "once");
    for pressed in [false, true] {
        let state = machine(&run_out(&[0, 1], pressed));
        for again in [Decision::ReEnter, Decision::Restart] {
            assert_eq!(why(&state, Asked::Decide(again)), Refusal::RanOut, "its cut is not cut again");
        }
        let next = then(&state, &owner(Asked::Decide(Decision::Next)));
        assert_eq!((next.state.stage(), next.permit), (Some(Stage::Tooling), None));
        assert_eq!(next.state.sheet.map(|s| s.operation), Some(1));
    }
    let last = machine(&run_out(&[0], false));
    assert_eq!(why(&last, Asked::Decide(Decision::SetAside)), Refusal::RanOut, "nobody could take it up again");
    assert_eq!(then(&last, &owner(Asked::Decide(Decision::Next))).state.stage(), Some(Stage::TakingOff));
    let half = machine(&[super::scenes::stopped(), vec![owner(Asked::RedButton { pressed: false })]].concat());
    assert_eq!(why(&half, Asked::Decide(Decision::Next)), Refusal::NotRunOut);
}

#[test]
fn home_waits_until_the_bit_is_free() {
    let path = [stopped(), vec![owner(Asked::RedButton { pressed: true })]].concat();
    let state = machine(&path);
    assert_eq!(why(&state, Asked::Home), Refusal::BitNotFree);
    let free = after(state, &[owner(Asked::BitFree)]);
    assert_eq!(then(&free, &owner(Asked::Home)).permit.map(|p| p.class()), Some(Class::Home));
}

#[test]
fn a_held_search_for_home_starts_anew() {
    let path = [&morning()[..5], &[owner(Asked::Hold), Happening::Homed]].concat();
    let state = machine(&path);
    assert_eq!(state.machine.motion, Motion::Stopping, "there is nothing to go on with");
    let over = after(state, &[Happening::Stopped { position_kept: true }]);
    assert_eq!(over.machine.position, Position::Unknown);
    assert_eq!(why(&over, Asked::Home), Refusal::BitNotFree, "look again");
}

#[test]
fn re_entry_asks_for_the_lists_anew() {
    assert_eq!(why(&machine(&stopped()), Asked::Decide(Decision::ReEnter)), Refusal::RedButtonFirst);
    let path = [stopped(), vec![owner(Asked::RedButton { pressed: false })]].concat();
    let decided = then(&machine(&path), &owner(Asked::Decide(Decision::ReEnter)));
    assert_eq!(decided.permit, None, "it moves nothing by itself");
    assert_eq!(decided.state.stage(), Some(Stage::Tooling));
    assert!(step(&decided.state, &owner(Asked::CycleStart), Epoch::default()).is_err(), "the lists come first");
}

#[test]
fn a_kept_fault_is_unlocked_by_the_owner() {
    let path =
        cutting_then(&[0], &[Happening::Fault { position_lost: false }, owner(Asked::RedButton { pressed: false })]);
    let restart = then(&machine(&path), &owner(Asked::Decide(Decision::Restart)));
    assert_eq!(restart.deeds[0], Deed::UnlockLink);
    assert_eq!(restart.permit.map(|p| p.class()), Some(Class::Unlock));
}

#[test]
fn a_sheet_that_is_ended_after_a_fault_can_still_be_touched_once_more() {
    let path =
        cutting_then(&[0], &[Happening::Fault { position_lost: false }, owner(Asked::RedButton { pressed: false })]);
    let ended = then(&machine(&path), &owner(Asked::Decide(Decision::End)));
    assert_eq!((ended.state.stage(), ended.deeds[0]), (Some(Stage::TakingOff), Deed::UnlockLink));
    // one that comes while its parts come off is left by finding home, which is offered
    let taken = after(ended.state, &[Happening::StandsStill, Happening::Fault { position_lost: false }]);
    let offered: Vec<_> = offers(&taken, By::AtMachine(Role::Owner)).into_iter().map(|(act, _)| act).collect();
    assert!(offered.contains(&OfferedAct::BitFree) && offered.contains(&OfferedAct::Home), "{offered:?}");
}

#[test]
fn an_unlocking_that_was_not_done_ends_no_hand_move() {
    let path =
        cutting_then(&[0], &[Happening::Fault { position_lost: false }, owner(Asked::RedButton { pressed: false })]);
    let again = [path, vec![owner(Asked::Decide(Decision::Restart))]].concat();
    let refused = Happening::NotDone(Tried::UnlockLink);
    assert_eq!(machine(&[again.clone(), vec![refused.clone()]].concat()).machine.motion, Motion::Faulted);
    let put =
        [again, vec![owner(Asked::SpindleSwitchedOff), Happening::RunDownDue, owner(Asked::SpindleStill)]].concat();
    let moves = machine(&[put, vec![owner(Asked::HandMove), refused]].concat());
    assert_eq!(moves.machine.motion, Motion::Hand, "hands stay away until it is told of the move itself");
}

#[test]
fn a_zero_that_was_ended_on_its_way_counts_for_nothing() {
    let stopped = Happening::Stopped { position_kept: true };
    for ended in [
        vec![owner(Asked::Stop), stopped.clone()],
        vec![owner(Asked::Hold), Happening::HandDone, stopped],
        vec![Happening::Fault { position_lost: false }],
    ] {
        let state = machine(&[ready(&[0]), vec![owner(Asked::ConfirmZero)], ended.clone()].concat());
        assert_eq!(state.machine.zero, WorkZero::Unconfirmed, "{ended:?}");
        assert_eq!(state.machine.position, Position::Known, "{ended:?}");
    }
    let state = machine(&[ready(&[0]), vec![owner(Asked::ConfirmZero), Happening::HandDone]].concat());
    assert_eq!(state.machine.zero, WorkZero::Confirmed);
}

#[test]
fn raising_gives_the_motion_up() {
    let path = [held(BitAt::MaybeInCut), vec![owner(Asked::Raise), Happening::Raised]].concat();
    let state = machine(&path);
    assert_eq!(why(&state, Asked::Resume), Refusal::RaisedAlready);
    let outcome = then(&state, &owner(Asked::Stop));
    assert_eq!(outcome.state.stage(), Some(Stage::Stopped));
    assert!(!outcome.deeds.contains(&Deed::StopLink), "nothing is left to discard");
}

#[test]
fn hold_from_afar_waits_for_a_lift() {
    let state = machine(&cutting(&[0]));
    let afar = |what| then(&state, &Happening::Act { by: By::Afar, what }).deeds;
    assert_eq!(afar(Asked::Hold), [Deed::Call(CallReason::HeldFromAfar), Deed::HoldAtLift]);
    assert_eq!(afar(Asked::Trouble), [Deed::Hold, Deed::Call(CallReason::Trouble)]);
    assert_eq!(afar(Asked::Stop)[..2], [Deed::Call(CallReason::Stopped), Deed::StopLink]);
    let here = Happening::Act { by: By::AtMachineNobody, what: Asked::Hold };
    assert_eq!(then(&state, &here).deeds, [Deed::Hold]);
}

#[test]
fn nothing_to_hold_is_harmless() {
    let state = machine(&ready(&[0]));
    for what in [Asked::Hold, Asked::HoldAtLift, Asked::Stop] {
        let outcome = then(&state, &owner(what));
        assert_eq!((outcome.state, outcome.deeds), (state.clone(), Vec::new()));
    }
}

#[test]
fn a_hold_of_a_hand_move_that_was_not_done_ends_in_a_stop() {
    let moving = then(&machine(&tooling(&[0])), &owner(Asked::HandMove)).state;
    assert_eq!(moving.machine.motion, Motion::Hand);
    let asked = then(&moving, &owner(Asked::Trouble)).state;
    assert!(matches!(asked.machine.motion, Motion::HoldAsked(_)));
    let given_up = then(&asked, &Happening::NotDone(Tried::HandMoveLink));
    assert_eq!(given_up.deeds, [Deed::StopLink], "no hold will be confirmed any more");
    let stands = then(&given_up.state, &Happening::Stopped { position_kept: true }).state;
    assert_eq!(stands.machine.motion, Motion::Still);
}

#[test]
fn leaving_the_machine_holds_at_the_next_lift() {
    let gone = then(&machine(&cutting(&[0])), &Happening::PresenceChanged(Presence::Nobody));
    assert_eq!(gone.deeds[0], Deed::HoldAtLift);
    assert_eq!(gone.state.machine.motion, Motion::LiftAsked);
}

#[test]
fn a_zero_confirmed_before_a_stop_was_heard_was_not_set() {
    let asked = after(machine(&morning()), &[owner(Asked::Stop), owner(Asked::ConfirmZero)]);
    assert_eq!(asked.machine.zero, WorkZero::Confirmed);
    let heard = after(asked, &[Happening::Stopped { position_kept: true }]);
    assert_eq!((heard.machine.zero, heard.machine.position), (WorkZero::Unconfirmed, Position::Known));
    // of a program that is stopped nothing is set anew
    let cut = after(machine(&cutting(&[0])), &[owner(Asked::Hold), Happening::Stopped { position_kept: true }]);
    assert_eq!(cut.machine.zero, WorkZero::Confirmed);
}

#[test]
fn hands_stay_away_from_the_bit_while_a_move_at_a_bit_change_is_held() {
    let change = Happening::AtBitChange { wants: Some(Slot(1)), bit: BitAt::Clear };
    let path = [cutting_then(&[0], &[change]), at_rest(), vec![owner(Asked::HandMove)]].concat();
    for hold in [&[][..], &[owner(Asked::Hold)]] {
        let button = [hold, &[Happening::HeldConfirmed { asked: false, bit: BitAt::Clear }]].concat();
        let held = after(machine(&path), &button);
        assert!(step(&held, &owner(Asked::BitFitted(Slot(1))), Epoch::default()).is_err(), "{:?}", held.machine.motion);
        // let go, it has run out; or it was given up
        for over in [Happening::HandDone, Happening::NotDone(Tried::HandMoveLink)] {
            let still = after(held.clone(), &[over]);
            assert_eq!(still.machine.motion, Motion::Held);
            assert!(step(&still, &owner(Asked::BitFitted(Slot(1))), Epoch::default()).is_ok());
        }
    }
}

#[test]
fn a_bit_that_is_doubted_at_a_change_is_fitted_anew() {
    for wants in [0, 1] {
        let change = Happening::AtBitChange { wants: Some(Slot(wants)), bit: BitAt::Clear };
        let zeroed = [owner(Asked::ZZeroed), Happening::HandDone, owner(Asked::ListSigned(ListKind::Tooling))];
        let fitted = [vec![owner(Asked::BitFitted(Slot(wants)))], zeroed.to_vec()].concat();
        let path = [cutting_then(&[0], &[change]), at_rest(), fitted.clone(), vec![Happening::BitDoubted]].concat();
        let doubted = after(machine(&path), &zeroed[..2]);
        assert_eq!(why(&doubted, Asked::ListSigned(ListKind::Tooling)), Refusal::WrongBit, "nobody knows how it sits");
        assert_eq!(why(&doubted, Asked::Resume), Refusal::WrongBit);
        let seated = after(doubted, &[fitted, vec![owner(Asked::SpindleSwitchedOn), owner(Asked::Resume)]].concat());
        assert_eq!(seated.stage(), Some(Stage::Cutting));
    }
}

#[test]
fn nothing_is_asked_of_a_controller_that_started_anew_and_has_not_said_how_it_stands() {
    let state = after(machine(&morning()), &[Happening::Restarted, owner(Asked::BitFree)]);
    assert_eq!(why(&state, Asked::Home), Refusal::NoLink);
    let up = after(state, &[Happening::LinkUp { position_kept: false }, owner(Asked::BitFree)]);
    assert!(step(&up, &owner(Asked::Home), Epoch::default()).is_ok());
}
