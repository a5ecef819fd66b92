//! What must hold of every step, told plainly and apart from the table: taken by the random and the full walk.

use crate::floor::happening::{Asked, By, Happening};
use crate::floor::outcome::{Deed, Outcome};
use crate::floor::permit::{Class, Epoch};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Cutting, Findings, Raise};
use crate::floor::state::{
    DayLists, Homing, Link, Motion, Position, Presence, Signed, Spindle, SpindleKind, State, Store, WorkZero,
};
use crate::floor::table::step;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role, StopCause};

/// Steps, and looks at everything. A refused act gives nothing.
pub fn checked_step(before: &State, happening: &Happening) -> Option<State> {
    let epoch = Epoch::default().next();
    match step(before, happening, epoch) {
        Err(why) => {
            only_what_may_be_refused(happening, why);
            None
        }
        Ok(outcome) => {
            check(before, happening, &outcome, epoch);
            Some(outcome.state)
        }
    }
}

/// Looks at one step.
pub fn check(before: &State, happening: &Happening, outcome: &Outcome, epoch: Epoch) {
    let context = || format!("{happening:?}\nbefore {before:#?}\nafter {outcome:#?}");
    permit_fits_its_deed(outcome, epoch);
    if let Some(permit) = &outcome.permit {
        assert!(may_have_a_permit(before, happening, permit.class()), "permit: {}", context());
        assert!(class_conditions(before, happening, outcome, permit.class()), "class: {}", context());
    }
    assert!(facts_agree(&outcome.state), "facts disagree: {}", context());
    assert!(position_is_earned(before, happening, &outcome.state), "position: {}", context());
    assert!(stillness_is_earned(before, happening, &outcome.state), "spindle: {}", context());
    assert!(chain_only_shrinks(before, happening, &outcome.state), "chain: {}", context());
    assert!(stop_is_left_by_right(before, happening, &outcome.state), "left: {}", context());
    assert!(done_by_finishing(before, happening, &outcome.state), "done: {}", context());
    assert!(hands_are_safe(before, happening, &outcome.state), "hands: {}", context());
    assert!(stop_works(before, happening, outcome), "stop: {}", context());
}

pub fn only_what_may_be_refused(happening: &Happening, why: Refusal) {
    match happening {
        Happening::Act { what, .. } => assert!(
            !matches!(what, Asked::Hold | Asked::HoldAtLift | Asked::Stop | Asked::Trouble),
            "{what:?} was refused: {why}"
        ),
        told => panic!("{told:?} was refused: {why}"),
    }
}

fn permit_fits_its_deed(outcome: &Outcome, epoch: Epoch) {
    let moving: Vec<_> = outcome.deeds.iter().filter(|d| d.needs_permit()).collect();
    let class = match moving.as_slice() {
        [] => None,
        [Deed::Begin { .. }] => Some(Class::Cut),
        [Deed::ResumeLink] => Some(Class::Resume),
        [Deed::RaiseLink] => Some(Class::Raise),
        [Deed::HomeLink] => Some(Class::Home),
        [Deed::HandMoveLink] => Some(Class::Hand),
        [Deed::UnlockLink] => Some(Class::Unlock),
        more => panic!("one permit for {more:?}"),
    };
    assert_eq!(outcome.permit.as_ref().map(crate::floor::permit::Permit::class), class);
    if let Some(permit) = &outcome.permit {
        let stale = crate::floor::permit::Permit::for_tests(permit.class(), epoch);
        assert_eq!(permit, &stale, "made in another epoch");
    }
}

/// Motion follows only a person's act at the machine, but for the chain of an earlier one.
fn may_have_a_permit(before: &State, happening: &Happening, class: Class) -> bool {
    match happening {
        Happening::Act { by: By::AtMachine(role), .. } => {
            let owner = *role == Role::Owner && before.presence == Presence::Owner;
            let begun = class != Class::Cut || before.lists == DayLists::Done || owner;
            before.presence != Presence::Nobody && begun
        }
        Happening::Finished => class == Class::Cut && chain_of(before).is_some_and(|c| c != 0),
        _ => false,
    }
}

fn chain_of(state: &State) -> Option<u16> {
    match state.at() {
        Some(AtStage::Cutting(Cutting { chain, .. })) => Some(chain.0),
        _ => None,
    }
}

/// The start conditions, read off the design once more.
fn class_conditions(before: &State, happening: &Happening, after: &Outcome, class: Class) -> bool {
    let m = &after.state.machine;
    let general = before.machine.link == Link::Up && before.machine.store == Store::Fine;
    let known = m.position == Position::Known;
    general
        && match class {
            Class::Home => m.position == Position::Unknown && m.motion == Motion::Homing,
            Class::Unlock => known && matches!(m.motion, Motion::Still | Motion::Hand),
            Class::Hand => known && matches!(before.machine.spindle, Spindle::Off | Spindle::Still),
            Class::Raise => known && before.machine.motion == Motion::Held,
            Class::Resume => known && before.machine.motion == Motion::Held && cut_facts(after),
            Class::Cut => {
                let by_chain = *happening == Happening::Finished;
                known && cut_facts(after) && start_facts(after) && (by_chain || before.machine.motion == Motion::Still)
            }
        }
}

fn cut_facts(after: &Outcome) -> bool {
    let (m, sheet) = (&after.state.machine, after.state.sheet.as_ref().unwrap());
    m.zero == WorkZero::Confirmed
        && m.tooling == Signed::Yes
        && m.z_zero == Some(sheet.z_on)
        && m.spindle == Spindle::MayTurn
        && sheet.findings == Findings::Clear
        && sheet.securing == Signed::Yes
        && sheet.thickness == Some(crate::floor::Reading::Inside)
}

fn start_facts(after: &Outcome) -> bool {
    let (m, sheet) = (&after.state.machine, after.state.sheet.as_ref().unwrap());
    let operation = sheet.operations[usize::from(sheet.operation)];
    sheet.ready == Signed::Yes
        && m.bit == Some(operation.bit)
        && operation.after.within(sheet.done)
        && !sheet.done.contains(sheet.operation)
}

/// Facts that belong together.
fn facts_agree(state: &State) -> bool {
    let m = &state.machine;
    let linked = m.link == Link::Up || m.motion == Motion::Unknown;
    let lost = m.position == Position::Known
        || (m.zero == WorkZero::Unconfirmed && m.z_zero.is_none() && m.tooling == Signed::No);
    let way = m.way == crate::floor::state::Way::NotSaid
        || matches!(m.motion, Motion::Still | Motion::Faulted | Motion::Unknown);
    linked && lost && way && stage_agrees(state)
}

fn stage_agrees(state: &State) -> bool {
    let m = &state.machine;
    let free = !matches!(m.motion, Motion::Program | Motion::LiftAsked | Motion::Raising);
    match state.at() {
        None | Some(AtStage::Securing | AtStage::TakingOff | AtStage::Checking { .. }) => free,
        Some(AtStage::Tooling) => free && state.sheet.as_ref().unwrap().ready == Signed::No,
        Some(AtStage::Ready) => free && m.tooling == Signed::Yes && m.position == Position::Known,
        Some(AtStage::Cutting(_)) => {
            let moves = matches!(m.motion, Motion::Program | Motion::LiftAsked | Motion::HoldAsked(_));
            moves && m.position == Position::Known && m.zero == WorkZero::Confirmed
        }
        Some(AtStage::Held(held)) => {
            let given_up = held.raise == Raise::Done && matches!(m.motion, Motion::Still | Motion::Held);
            let holds = matches!(m.motion, Motion::Held | Motion::Raising | Motion::HoldAsked(_) | Motion::Hand);
            m.position == Position::Known && (given_up || (holds && held.raise == Raise::Not))
        }
        Some(AtStage::Stopped(stopped)) => {
            // A stop whose position was kept all along stands on a known one.
            free && (stopped.position == Position::Unknown || m.position == Position::Known)
        }
    }
}

fn position_is_earned(before: &State, happening: &Happening, after: &State) -> bool {
    let gained = before.machine.position == Position::Unknown && after.machine.position == Position::Known;
    let shown = matches!(happening, Happening::Act { what: Asked::ConfirmZero, .. })
        && before.machine.setup.homing == Homing::Unable;
    let found = *happening == Happening::Homed && before.machine.motion == Motion::Homing;
    !gained || shown || found
}

fn stillness_is_earned(before: &State, happening: &Happening, after: &State) -> bool {
    let (was, is) = (before.machine.spindle, after.machine.spindle);
    match is {
        Spindle::MayTurn => true,
        _ if was == is => true,
        Spindle::RunningDown => {
            before.machine.setup.spindle == SpindleKind::Controlled
                || matches!(happening, Happening::Act { what: Asked::SpindleSwitchedOff, .. })
        }
        Spindle::Off => was == Spindle::RunningDown && *happening == Happening::RunDownDue,
        Spindle::Still => was == Spindle::Off && matches!(happening, Happening::Act { what: Asked::SpindleStill, .. }),
    }
}

/// Whatever happens to a chain but the end of an operation leaves it as it was, or over.
fn chain_only_shrinks(before: &State, happening: &Happening, after: &State) -> bool {
    let (Some(was), Some(is)) = (chain_of(before), chain_of(after)) else { return true };
    let ends = match happening {
        Happening::Act { what, .. } => {
            matches!(what, Asked::Hold | Asked::HoldAtLift | Asked::Trouble)
        }
        Happening::ChainGapDue => true,
        _ => false,
    };
    if ends { is == 0 } else { is == was || is == 0 }
}

/// Only the owner leaves a fault or a lost position; nobody leaves a stop without the first question.
fn stop_is_left_by_right(before: &State, happening: &Happening, after: &State) -> bool {
    let (Some(AtStage::Stopped(stopped)), false) = (before.at(), matches!(after.at(), Some(AtStage::Stopped(_))))
    else {
        return true;
    };
    let Happening::Act { by, what: Asked::Decide(decision) } = happening else { return false };
    let own = stopped.cause == StopCause::Person && stopped.position == Position::Known;
    let owner = *by == By::AtMachine(Role::Owner) && before.presence == Presence::Owner;
    let cut_again = matches!(decision, Decision::ReEnter | Decision::Restart);
    stopped.red_button.is_some() && (own || owner) && (!cut_again || after.machine.tooling == Signed::No)
}

/// Start condition 7: hands come near the bit only while it was seen to stand still. And a bit fitted anew has no
/// zero yet.
fn hands_are_safe(before: &State, happening: &Happening, after: &State) -> bool {
    let Happening::Act { what, .. } = happening else { return true };
    let near = matches!(
        what,
        Asked::BitFitted(_)
            | Asked::ZZeroed
            | Asked::ListSigned(ListKind::Securing | ListKind::Tooling | ListKind::TakingOff)
    );
    let fitted = matches!(what, Asked::BitFitted(_));
    (!near || before.machine.spindle == Spindle::Still)
        && (!fitted || (after.machine.z_zero.is_none() && after.machine.tooling == Signed::No))
}

fn done_by_finishing(before: &State, happening: &Happening, after: &State) -> bool {
    let (Some(was), Some(is)) = (&before.sheet, &after.sheet) else { return true };
    let stop_on_its_way = matches!(was.at, AtStage::Stopped(_)) && before.machine.motion == Motion::Stopping;
    was.done == is.done
        || (*happening == Happening::Finished
            && is.done == was.done.with(was.operation)
            && (matches!(was.at, AtStage::Cutting(_)) || stop_on_its_way))
}

/// After stop, link loss, fault, refusal, restart or store trouble nothing of a program is under way.
fn stop_works(before: &State, happening: &Happening, outcome: &Outcome) -> bool {
    let halts = matches!(
        happening,
        Happening::Act { what: Asked::Stop, .. }
            | Happening::LinkDown
            | Happening::Refused
            | Happening::Fault { .. }
            | Happening::Restarted
            | Happening::Stopped { .. }
            | Happening::DaemonRestarted(_)
            | Happening::StoreFailed
    );
    let unheard = *happening == Happening::LinkDown && before.machine.link == Link::Down;
    let over = !matches!(outcome.state.at(), Some(AtStage::Cutting(_) | AtStage::Held(_)));
    let unready = outcome.state.sheet.as_ref().is_none_or(|s| s.ready == Signed::No);
    let was_cutting = matches!(before.at(), Some(AtStage::Cutting(_) | AtStage::Held(_)));
    !halts || unheard || (over && outcome.permit.is_none() && (!was_cutting || unready))
}
