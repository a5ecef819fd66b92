//! Every reachable state of one sheet with two operations, walked to the last: the invariants hold in all of them,
//! and from each the sheet can still be finished or given up.

use super::invariants::checked_step;
use super::scenes::{ROUTER, SPINDLE, after, morning, owner, tooling};
use crate::floor::happening::{Asked, BitAt, By, Happening, Reading, Tried};
use crate::floor::offers::offers;
use crate::floor::state::{Link, Motion, Presence, Setup, Slot, State};
use chargehand_types::checklist::ListKind;
use chargehand_types::now::OfferedAct;
use chargehand_types::stage::{Decision, Role};
use std::collections::{HashMap, VecDeque};

/// The happenings of the walk: one of each kind that differs for a sheet with one bit and a helper and an owner.
fn alphabet() -> Vec<Happening> {
    let mut all: Vec<Happening> = [
        Asked::Thickness(Reading::Inside),
        Asked::SpindleSwitchedOff,
        Asked::SpindleStill,
        Asked::SpindleSwitchedOn,
        Asked::BitFitted(Slot(0)),
        Asked::BitFitted(Slot(1)),
        Asked::Trouble,
        Asked::ZZeroed,
        Asked::CycleStart,
        Asked::Hold,
        Asked::HoldAtLift,
        Asked::Resume,
        Asked::Raise,
        Asked::Stop,
        Asked::RedButton { pressed: true },
        Asked::RedButton { pressed: false },
        Asked::BitFree,
        Asked::Home,
        Asked::ConfirmZero,
        Asked::HandMove,
        Asked::Decide(Decision::Restart),
        Asked::Decide(Decision::SetAside),
        Asked::Decide(Decision::End),
        Asked::PartsGraded,
    ]
    .map(owner)
    .into();
    all.extend(ListKind::ALL.map(|list| owner(Asked::ListSigned(list))));
    all.push(Happening::Act { by: By::AtMachine(Role::Helper), what: Asked::CycleStart });
    all.extend([
        Happening::LinkUp { position_kept: true },
        Happening::LinkDown,
        Happening::StandsStill,
        Happening::Homed,
        Happening::HeldConfirmed { asked: true, bit: BitAt::MaybeInCut },
        Happening::HeldConfirmed { asked: false, bit: BitAt::Clear },
        Happening::AtBitChange { wants: Some(Slot(1)), bit: BitAt::Clear },
        Happening::LinkUp { position_kept: false },
        Happening::Fault { position_lost: true },
        Happening::Stopped { position_kept: false },
        Happening::NotDone(Tried::SetZZero),
        Happening::NotDone(Tried::SetWorkZero),
        Happening::HeldAtLift,
        Happening::AtPrompt { bit: BitAt::Clear },
        Happening::Finished,
        Happening::Raised,
        Happening::Refused,
        Happening::Fault { position_lost: false },
        Happening::Restarted,
        Happening::Stopped { position_kept: true },
        Happening::HandDone,
        Happening::NotDone(Tried::Begin),
        Happening::NotDone(Tried::ResumeLink),
        Happening::RunDownDue,
        Happening::StillThereDue,
        Happening::Act { by: By::AtMachineNobody, what: Asked::StillThere },
        Happening::PresenceChanged(Presence::Owner),
        Happening::PresenceChanged(Presence::Nobody),
    ]);
    all
}

struct Walk {
    states: Vec<State>,
    /// For each state, those it is reached from.
    from: Vec<Vec<usize>>,
    /// Those without a sheet: it was closed or set aside.
    over: Vec<usize>,
}

/// Breadth first, to the end. A sheet that left is the end of its path.
fn walk(start: State) -> Walk {
    let alphabet = alphabet();
    let mut found = HashMap::from([(start.clone(), 0)]);
    let mut walk = Walk { states: vec![start], from: vec![Vec::new()], over: Vec::new() };
    let mut queue = VecDeque::from([0]);
    while let Some(at) = queue.pop_front() {
        if walk.states[at].sheet.is_none() {
            walk.over.push(at);
            continue;
        }
        for happening in &alphabet {
            let Some(after) = checked_step(&walk.states[at], happening) else { continue };
            let next = *found.entry(after.clone()).or_insert_with(|| {
                walk.states.push(after);
                walk.from.push(Vec::new());
                queue.push_back(walk.states.len() - 1);
                walk.states.len() - 1
            });
            walk.from[next].push(at);
        }
    }
    walk
}

/// Whether somebody who reads only the screen finds something to do, or the machine is still busy.
fn screen_leads_on(state: &State) -> bool {
    let busy = state.machine.motion == Motion::Stopping;
    let absent = state.presence == Presence::Nobody || state.machine.link == Link::Down;
    let open = offers(state, By::AtMachine(Role::Owner))
        .into_iter()
        .any(|(act, why)| why.is_none() && !matches!(act, OfferedAct::SignOut | OfferedAct::Trouble));
    busy || absent || open
}

/// The states from which the end can still be reached.
fn can_end(walk: &Walk) -> usize {
    let mut can = vec![false; walk.states.len()];
    let mut queue: VecDeque<usize> = walk.over.iter().copied().collect();
    for at in &walk.over {
        can[*at] = true;
    }
    while let Some(at) = queue.pop_front() {
        for before in &walk.from[at] {
            if !can[*before] {
                can[*before] = true;
                queue.push_back(*before);
            }
        }
    }
    can.iter().filter(|c| **c).count()
}

fn every_state_ends(setup: Setup) {
    let mut path = tooling(&[0, 0]);
    assert_eq!(path[..morning().len()], morning()[..]);
    path.push(Happening::PresenceChanged(Presence::Owner));
    let walk = walk(after(State::new(setup), &path));
    assert!(walk.states.len() > 1000, "only {} states", walk.states.len());
    println!("{} states, {} steps", walk.states.len(), walk.from.iter().map(Vec::len).sum::<usize>());
    for state in walk.states.iter().filter(|s| s.sheet.is_some()) {
        assert!(screen_leads_on(state), "the screen offers nothing: {state:#?}");
    }
    assert_eq!(can_end(&walk), walk.states.len(), "a state with no way out");
}

#[test]
fn a_hand_switched_router_always_ends() {
    every_state_ends(ROUTER);
}

#[test]
fn a_controlled_spindle_always_ends() {
    every_state_ends(SPINDLE);
}
