//! Each invariant bites: a table that is broken in one place is found out by the invariant that is meant for it.

use super::invariants::{check, only_what_may_be_refused};
use super::scenes::{ROUTER, SPINDLE, by_anybody, scenes};
use crate::floor::happening::{Asked, Happening};
use crate::floor::outcome::{Deed, Outcome};
use crate::floor::permit::{Class, Epoch, Permit};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Ops};
use crate::floor::state::{DayLists, Link, Motion, Position, Spindle, State, WorkZero};
use crate::floor::table::step;
use chargehand_types::card::ZZero;
use std::panic::catch_unwind;

/// A break of the table.
type Break = fn(&State, &Happening, Result<Outcome, Refusal>) -> Result<Outcome, Refusal>;

/// What the invariant says of the first step it does not hold of, if there is one.
fn found_out(broken: Break) -> Option<String> {
    let epoch = Epoch::default().next();
    for setup in [ROUTER, SPINDLE] {
        for (_, before) in scenes(setup) {
            for happening in by_anybody(setup) {
                let looked = catch_unwind(|| match broken(&before, &happening, step(&before, &happening, epoch)) {
                    Ok(outcome) => check(&before, &happening, &outcome, epoch),
                    Err(why) => only_what_may_be_refused(&happening, why),
                });
                if let Err(said) = looked {
                    let text = said.downcast_ref::<String>().cloned();
                    return Some(text.or_else(|| said.downcast_ref::<&str>().map(|s| (*s).to_owned())).unwrap());
                }
            }
        }
    }
    None
}

fn bites(says: &str, broken: Break) {
    let said = found_out(broken).unwrap_or_else(|| panic!("nothing found out what {says:?} is there for"));
    let first = said.lines().next().unwrap_or_default();
    assert!(first.contains(says), "{says:?} should have bitten, and this did: {first}");
}

const fn asks(happening: &Happening, wanted: &Asked) -> bool {
    match happening {
        Happening::Act { what, .. } => matches!(
            (what, wanted),
            (Asked::Stop, Asked::Stop)
                | (Asked::SpindleSwitchedOff, Asked::SpindleSwitchedOff)
                | (Asked::BitFitted(_), Asked::BitFitted(_))
                | (Asked::Resume, Asked::Resume)
        ),
        _ => false,
    }
}

#[test]
fn the_table_as_it_is_passes() {
    assert_eq!(found_out(|_, _, told| told), None);
}

#[test]
fn motion_that_nobody_asked_for() {
    bites("permit: ", |_, happening, mut told| {
        if let (Happening::StandsStill, Ok(outcome)) = (happening, &mut told) {
            outcome.deeds = vec![Deed::Begin { operation: 0 }];
            outcome.permit = Some(Permit::for_tests(Class::Cut, Epoch::default().next()));
        }
        told
    });
}

#[test]
fn a_start_with_a_condition_missing() {
    bites("class: ", |_, _, mut told| {
        if let Ok(outcome) = &mut told
            && outcome.permit.as_ref().is_some_and(|p| p.class() == Class::Cut)
        {
            outcome.state.machine.zero = WorkZero::Unconfirmed;
        }
        told
    });
}

#[test]
fn a_helper_who_starts_on_a_day_not_begun() {
    bites("permit: ", |before, happening, told| {
        if told == Err(Refusal::ListDue) {
            let begun = State { lists: DayLists::Done, ..before.clone() };
            return step(&begun, happening, Epoch::default().next());
        }
        told
    });
}

#[test]
fn a_permit_of_another_epoch() {
    bites("made in another epoch", |_, _, mut told| {
        if let Ok(outcome) = &mut told
            && let Some(permit) = &outcome.permit
        {
            outcome.permit = Some(Permit::for_tests(permit.class(), Epoch::default()));
        }
        told
    });
}

#[test]
fn a_deed_that_moves_without_its_permit() {
    bites("left == right", |_, _, mut told| {
        if let Ok(outcome) = &mut told {
            outcome.permit = None;
        }
        told
    });
}

#[test]
fn a_program_that_runs_without_a_link() {
    bites("facts disagree: ", |_, happening, mut told| {
        if let (Happening::LinkDown, Ok(outcome)) = (happening, &mut told) {
            outcome.state.machine.link = Link::Down;
            outcome.state.machine.motion = Motion::Program;
        }
        told
    });
}

#[test]
fn a_position_known_because_the_controller_answers() {
    bites("position: ", |_, happening, mut told| {
        if let (Happening::LinkUp { .. }, Ok(outcome)) = (happening, &mut told) {
            outcome.state.machine.position = Position::Known;
        }
        told
    });
}

#[test]
fn a_spindle_still_because_it_was_switched_off() {
    bites("spindle: ", |_, happening, mut told| {
        if let (true, Ok(outcome)) = (asks(happening, &Asked::SpindleSwitchedOff), &mut told) {
            outcome.state.machine.spindle = Spindle::Still;
        }
        told
    });
}

#[test]
fn a_chain_that_grows() {
    bites("chain: ", |_, happening, mut told| {
        if let (Happening::RunDownDue, Ok(outcome)) = (happening, &mut told)
            && let Some(sheet) = &mut outcome.state.sheet
            && let AtStage::Cutting(cutting) = &mut sheet.at
        {
            cutting.chain = Ops::first(9);
        }
        told
    });
}

#[test]
fn a_stop_that_is_left_by_itself() {
    bites("left: ", |before, happening, mut told| {
        if let (Happening::RunDownDue, Some(AtStage::Stopped(_)), Ok(outcome)) = (happening, before.at(), &mut told)
            && let Some(sheet) = &mut outcome.state.sheet
        {
            sheet.at = AtStage::TakingOff;
        }
        told
    });
}

#[test]
fn an_operation_done_that_was_not_cut() {
    bites("done: ", |_, happening, mut told| {
        if let (Happening::RunDownDue, Ok(outcome)) = (happening, &mut told)
            && let Some(sheet) = &mut outcome.state.sheet
        {
            sheet.done = sheet.done.with(7);
        }
        told
    });
}

#[test]
fn a_new_bit_with_the_old_zero() {
    bites("hands: ", |_, happening, mut told| {
        if let (true, Ok(outcome)) = (asks(happening, &Asked::BitFitted(crate::floor::state::Slot(0))), &mut told) {
            outcome.state.machine.z_zero = Some(ZZero::Top);
        }
        told
    });
}

#[test]
fn a_stop_that_stops_nothing() {
    bites("stop: ", |before, happening, mut told| {
        if let (true, Some(AtStage::Cutting(_)), Ok(outcome)) = (asks(happening, &Asked::Stop), before.at(), &mut told)
        {
            outcome.state = before.clone();
        }
        told
    });
}

#[test]
fn a_stop_that_is_refused() {
    bites("was refused", |_, happening, told| if asks(happening, &Asked::Stop) { Err(Refusal::NoLink) } else { told });
}
