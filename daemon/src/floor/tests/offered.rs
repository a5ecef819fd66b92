//! What is offered is what is taken, in every scene, by everybody.

use super::scenes::{ROUTER, SPINDLE, after, held, scenes, stopped};
use crate::floor::happening::{Asked, BitAt, By, Happening};
use crate::floor::offers::{asks_run_down, offers};
use crate::floor::permit::Epoch;
use crate::floor::refusal::Refusal;
use crate::floor::state::State;
use crate::floor::table::step;
use chargehand_types::checklist::ListKind;
use chargehand_types::now::OfferedAct;
use chargehand_types::stage::Role;

const OWNER: By = By::AtMachine(Role::Owner);

fn offered(state: &State, by: By) -> Vec<OfferedAct> {
    offers(state, by).into_iter().map(|(act, _)| act).collect()
}

#[test]
fn nothing_is_offered_twice() {
    for setup in [ROUTER, SPINDLE] {
        for (name, state) in scenes(setup) {
            for by in [OWNER, By::AtMachine(Role::Helper), By::AtMachineNobody, By::Afar] {
                let acts = offered(&state, by);
                let mut once = acts.clone();
                once.dedup();
                for act in &acts {
                    assert_eq!(acts.iter().filter(|a| *a == act).count(), 1, "{name}: {act:?}");
                }
            }
        }
    }
}

#[test]
fn every_scene_offers_a_way_on() {
    for (name, state) in scenes(ROUTER) {
        let open = offers(&state, OWNER)
            .into_iter()
            .any(|(act, why)| why.is_none() && !matches!(act, OfferedAct::SignOut | OfferedAct::Trouble));
        // Without a link and with nobody signed in there is only signing in, and waiting.
        assert!(open, "{name}: {:?}", offers(&state, OWNER));
    }
}

#[test]
fn cutting_offers_the_ways_to_stop_first() {
    let state = after(State::new(ROUTER), &super::scenes::cutting(&[0]));
    let acts = offered(&state, OWNER);
    assert_eq!(acts[..3], [OfferedAct::Hold, OfferedAct::HoldAtLift, OfferedAct::Stop]);
}

#[test]
fn a_hold_offers_to_go_on_or_raise() {
    let state = after(State::new(ROUTER), &held(BitAt::MaybeInCut));
    let acts = offers(&state, OWNER);
    assert_eq!(acts[0], (OfferedAct::Resume, None));
    assert_eq!(acts[1], (OfferedAct::Raise, None));
    assert_eq!(offers(&state, By::Afar)[0], (OfferedAct::Resume, Some(Refusal::FromAfar)));
}

#[test]
fn a_stop_asks_the_red_button_first() {
    let state = after(State::new(ROUTER), &stopped());
    assert_eq!(offered(&state, OWNER)[..2], [OfferedAct::RedButtonNo, OfferedAct::RedButtonYes]);
    assert!(!offered(&state, OWNER).contains(&OfferedAct::Restart));
}

#[test]
fn lists_near_the_bit_ask_for_the_run_down() {
    for (name, state) in scenes(ROUTER) {
        for list in [ListKind::Securing, ListKind::Tooling, ListKind::TakingOff] {
            let signed = Happening::Act { by: OWNER, what: Asked::ListSigned(list) };
            let taken = step(&state, &signed, Epoch::default()).is_ok();
            assert!(!(taken && asks_run_down(&state, list)), "{name}: {list:?}");
        }
    }
}
