//! Random histories from every scene: nothing panics and every invariant holds.

use super::invariants::checked_step;
use super::scenes::{NO_SWITCHES, ROUTER, SPINDLE, by_anybody, scenes};
use crate::floor::happening::By;
use crate::floor::offers::offers;
use crate::floor::state::Setup;
use chargehand_types::stage::Role;
use proptest::prelude::*;

fn setups() -> impl Strategy<Value = Setup> {
    prop::sample::select(vec![ROUTER, SPINDLE])
}

/// Every scene, and any two happenings after it: what a random walk may miss by chance.
#[test]
fn any_two_happenings_keep_the_invariants() {
    for setup in [ROUTER, SPINDLE] {
        let happenings = by_anybody(setup);
        for (_, scene) in scenes(setup) {
            let once = happenings.iter().filter_map(|h| checked_step(&scene, h));
            for state in once.collect::<std::collections::HashSet<_>>() {
                for happening in &happenings {
                    checked_step(&state, happening);
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_history_keeps_the_invariants(
        setup in setups(),
        scene in any::<prop::sample::Index>(),
        picks in prop::collection::vec(any::<prop::sample::Index>(), 1..120),
    ) {
        let scenes = scenes(setup);
        let happenings = by_anybody(setup);
        let mut state = scene.get(&scenes).1.clone();
        for pick in picks {
            if let Some(after) = checked_step(&state, pick.get(&happenings)) {
                state = after;
            }
        }
        for by in [By::AtMachine(Role::Helper), By::AtMachineNobody, By::Afar] {
            prop_assert!(!offers(&state, by).is_empty());
        }
    }

    #[test]
    fn a_machine_without_switches_too(
        picks in prop::collection::vec(any::<prop::sample::Index>(), 1..400),
    ) {
        let happenings = by_anybody(NO_SWITCHES);
        let mut state = crate::floor::State::new(NO_SWITCHES);
        for pick in picks {
            if let Some(after) = checked_step(&state, pick.get(&happenings)) {
                state = after;
            }
        }
    }

    #[test]
    fn a_stored_state_reads_back(scene in any::<prop::sample::Index>()) {
        let scenes = scenes(ROUTER);
        let state = &scene.get(&scenes).1;
        let text = serde_json::to_string(state).unwrap();
        prop_assert_eq!(&serde_json::from_str::<crate::floor::State>(&text).unwrap(), state);
    }
}
