//! Two rules told a second time, plainly, and compared: whether a chain goes on by itself, and what may be decided
//! about a stopped sheet.

use super::scenes::{ROUTER, SPINDLE, after, cutting, facts, helper, owner, stopped};
use crate::floor::happening::{Asked, BitAt, By, Happening};
use crate::floor::offers::decisions;
use crate::floor::outcome::Deed;
use crate::floor::permit::Epoch;
use crate::floor::sheet::{Approval, AtStage, Attendance, Cutting, Findings, Ops, RedButton, Since, Stopped, Watch};
use crate::floor::state::{Away, Link, Motion, Position, Presence, Signed, Slot, SpindleKind, State, Store, WorkZero};
use crate::floor::table::step;
use chargehand_types::stage::{Decision, Role, StopCause};
use proptest::prelude::*;

/// A cutting sheet of two operations, with every fact that could speak against going on left open.
#[derive(Debug, Clone)]
struct Facts {
    controlled: bool,
    away: bool,
    somebody: bool,
    unattended: [bool; 2],
    same_bit: bool,
    chain_whole: bool,
    hold_asked: bool,
    zero: bool,
    ready: bool,
    tooling: bool,
    findings: bool,
    store: bool,
    link: bool,
}

fn facts_drawn() -> impl Strategy<Value = Facts> {
    (
        any::<[bool; 4]>(),
        any::<[bool; 2]>(),
        // Mostly in order, or every case would be refused for several reasons at once.
        prop::collection::vec(prop::bool::weighted(0.9), 7),
    )
        .prop_map(|(free, unattended, order)| Facts {
            controlled: free[0],
            away: free[1],
            somebody: free[2],
            unattended,
            same_bit: order[0],
            chain_whole: order[1],
            hold_asked: !order[2],
            zero: order[3],
            ready: order[4],
            tooling: order[5],
            findings: order[6],
            store: true,
            link: free[3] || order[0],
        })
}

/// The rule of start condition 4, with 2 and 5, in one sentence.
fn goes_on_plainly(f: &Facts) -> bool {
    let watched = f.somebody || (f.away && f.controlled && f.unattended == [true, true]);
    let undisturbed = f.chain_whole && !f.hold_asked;
    let in_order = f.zero && f.ready && f.tooling && f.findings && f.store && f.link;
    watched && undisturbed && f.same_bit && in_order
}

fn built(f: &Facts) -> State {
    let mut state = after(State::new(if f.controlled { SPINDLE } else { ROUTER }), &cutting(&[0, 0]));
    state.presence = if f.somebody { Presence::Helper } else { Presence::Nobody };
    let m = &mut state.machine;
    m.away = if f.away { Away::Allowed } else { Away::Off };
    m.zero = if f.zero { WorkZero::Confirmed } else { WorkZero::Unconfirmed };
    m.tooling = if f.tooling { Signed::Yes } else { Signed::No };
    m.store = if f.store { Store::Fine } else { Store::Failed };
    m.link = if f.link { Link::Up } else { Link::Down };
    let sheet = state.sheet.as_mut().unwrap();
    sheet.ready = if f.ready { Signed::Yes } else { Signed::No };
    sheet.findings = if f.findings { Findings::Clear } else { Findings::Unsigned };
    let chain = if f.chain_whole { Ops::first(2) } else { Ops::NONE };
    sheet.at = AtStage::Cutting(Cutting { chain, since: Since::Start, watch: Watch::Rests });
    for (operation, alone) in sheet.operations.iter_mut().zip(f.unattended) {
        operation.attendance = if alone { Attendance::Unattended } else { Attendance::Attended };
    }
    sheet.operations[1].bit = Slot(if f.same_bit { 0 } else { 1 });
    if f.hold_asked {
        state = step(&state, &owner(Asked::Hold), Epoch::default()).unwrap().state;
    }
    state
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn chain_goes_on_as_told_plainly(f in facts_drawn()) {
        let outcome = step(&built(&f), &Happening::Finished, Epoch::default()).unwrap();
        let began = outcome.deeds.contains(&Deed::Begin { operation: 1 });
        prop_assert_eq!(began, goes_on_plainly(&f));
        prop_assert_eq!(outcome.permit.is_some(), began);
    }
}

/// Which chain a cycle start names: everything that follows with the same bit, and no further.
#[test]
fn chain_ends_at_a_bit_change() {
    let state = after(State::new(ROUTER), &cutting(&[0, 0, 1, 0]));
    assert_eq!(state.chain(), [0, 1]);
    let mut waiting = facts(&[0, 0, 1]);
    waiting.operations[0].after = Ops::of([2]);
    waiting.operations[1].after = Ops::NONE;
    waiting.operations[2].after = Ops::NONE;
    let mut path = super::scenes::morning();
    path.push(owner(Asked::TakeSheet(waiting)));
    assert_eq!(after(State::new(ROUTER), &path).chain(), [1], "the other waits for a bit change");
}

const CAUSES: [StopCause; 7] = [
    StopCause::RefusedLine,
    StopCause::Fault,
    StopCause::LinkLost,
    StopCause::ControllerRestarted,
    StopCause::DaemonRestarted,
    StopCause::Person,
    StopCause::StoreFailed,
];

/// First the question; a helper only after a stop of a person's own with the position kept; nothing while it moves;
/// re-entry is for a later version.
fn choices_plainly(s: &Stopped, by: By, presence: Presence, motion: Motion) -> Vec<Decision> {
    let here = matches!(by, By::AtMachine(_)) && presence != Presence::Nobody;
    let owner = by == By::AtMachine(Role::Owner) && presence == Presence::Owner;
    let harmless = s.cause == StopCause::Person && s.position == Position::Known;
    let stands = matches!(motion, Motion::Still | Motion::Unknown | Motion::Faulted);
    if here && s.red_button.is_some() && (owner || harmless) && stands {
        vec![Decision::ReEnter, Decision::Restart, Decision::SetAside, Decision::End]
    } else {
        Vec::new()
    }
}

#[test]
fn decisions_are_as_told_plainly() {
    let base = after(State::new(ROUTER), &stopped());
    let mut tried = 0;
    for cause in CAUSES {
        for red_button in [None, Some(RedButton::Pressed), Some(RedButton::Untouched)] {
            for position in [Position::Known, Position::Unknown] {
                let stopped = Stopped { cause, red_button, position, bit: BitAt::MaybeInCut };
                tried += decided_by_everybody(&base, &stopped);
            }
        }
    }
    assert_eq!(tried, 7 * 3 * 2 * 4 * 3 * 6);
}

fn decided_by_everybody(base: &State, stopped: &Stopped) -> u32 {
    let mut tried = 0;
    let roles = [By::AtMachine(Role::Owner), By::AtMachine(Role::Helper), By::AtMachineNobody, By::Afar];
    for by in roles {
        for presence in [Presence::Nobody, Presence::Helper, Presence::Owner] {
            for motion in
                [Motion::Still, Motion::Unknown, Motion::Faulted, Motion::Stopping, Motion::Homing, Motion::Hand]
            {
                let mut state = base.clone();
                state.presence = presence;
                state.machine.motion = motion;
                state.sheet.as_mut().unwrap().at = AtStage::Stopped(*stopped);
                let plainly = choices_plainly(stopped, by, presence, motion);
                assert_eq!(decisions(&state, by), plainly, "{stopped:?} {by:?} {presence:?} {motion:?}");
                tried += 1;
            }
        }
    }
    tried
}

#[test]
fn helper_may_leave_an_own_stop() {
    let mut path = stopped();
    path.push(Happening::PresenceChanged(Presence::Helper));
    path.push(helper(Asked::RedButton { pressed: false }));
    path.push(helper(Asked::Decide(Decision::Restart)));
    assert_eq!(after(State::new(ROUTER), &path).stage(), Some(chargehand_types::stage::Stage::Tooling));
}

/// Until the owner approved the first article nothing of its revision starts, or goes on, with nobody beside it.
#[test]
fn an_unapproved_article_never_runs_alone() {
    let running = |approval| {
        let mut state = after(State::new(SPINDLE), &cutting(&[0, 0]));
        let sheet = state.sheet.as_mut().unwrap();
        sheet.approval = approval;
        for operation in &mut sheet.operations {
            operation.attendance = Attendance::Unattended;
        }
        state.machine.away = Away::Allowed;
        state
    };
    let leave = Happening::PresenceChanged(Presence::Nobody);
    let left = |state: &State| step(state, &leave, Epoch::default()).unwrap();
    let awaited = running(Approval::Awaited);
    assert!(left(&awaited).deeds.contains(&Deed::HoldAtLift), "it is held when the last person leaves");
    let begins = |o: &crate::floor::Outcome| o.deeds.iter().any(|d| matches!(d, Deed::Begin { .. }));
    let mut alone = awaited.clone();
    alone.presence = Presence::Nobody;
    assert!(!begins(&step(&alone, &Happening::Finished, Epoch::default()).unwrap()), "the next one does not start");
    let given = running(Approval::Given);
    assert_eq!(after(awaited, &[Happening::ArticleApproved]), given);
    let gone = left(&given);
    assert!(!gone.deeds.contains(&Deed::HoldAtLift));
    assert!(begins(&step(&gone.state, &Happening::Finished, Epoch::default()).unwrap()));
}

#[test]
fn manual_router_never_runs_alone() {
    assert_eq!(ROUTER.spindle, SpindleKind::Manual);
    let mut state = after(State::new(ROUTER), &cutting(&[0, 0]));
    for operation in &mut state.sheet.as_mut().unwrap().operations {
        operation.attendance = Attendance::Unattended;
    }
    state.machine.away = Away::Allowed;
    let gone = step(&state, &Happening::PresenceChanged(Presence::Nobody), Epoch::default()).unwrap();
    assert!(gone.deeds.contains(&Deed::HoldAtLift));
}
