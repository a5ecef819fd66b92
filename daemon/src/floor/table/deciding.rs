//! After a stop: the first question, whether the bit is free, and the decision. And the grades at the end.
//!
//! May live here: what only people can know or decide. May not: what moves.

use super::halting::end_motion;
use super::machine::to_what_comes_next;
use super::moving::{no_program, unlock};
use crate::floor::chain::next_after;
use crate::floor::draft::Draft;
use crate::floor::happening::{BitAt, By};
use crate::floor::outcome::Deed;
use crate::floor::proofs::{NothingUnderWay, PersonHere};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Graded, OnMachine, RedButton, Stopped};
use crate::floor::state::{Motion, Position, Way};
use chargehand_types::stage::{Decision, Stage, StopCause};

/// Button, power or carriage: a yes means that position is lost, and no later no brings it back.
pub(super) fn red_button(d: &mut Draft, by: By, answer: RedButton) -> Result<(), Refusal> {
    d.person(by)?;
    match &mut d.state.sheet {
        Some(OnMachine { at: AtStage::Cutting(_) | AtStage::Held(_), .. }) => {
            return Err(Refusal::NotStopped);
        }
        Some(OnMachine { at: AtStage::Stopped(stopped), .. }) => stopped.red_button = Some(answer),
        Some(_) | None => {}
    }
    match answer {
        RedButton::Pressed => {
            end_motion(d);
            d.lose_position();
        }
        RedButton::Untouched => {}
    }
    Ok(())
}

pub(super) fn bit_free(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    no_program(d.state.at())?;
    NothingUnderWay::of(&d.state)?;
    d.state.machine.way = Way::SaidClear;
    if let Some(OnMachine { at: AtStage::Stopped(stopped), .. }) = &mut d.state.sheet {
        stopped.bit = BitAt::Clear;
    }
    Ok(())
}

/// What becomes of the sheet. One that was not cut yet may be given up too.
pub(super) fn decide(d: &mut Draft, by: By, decision: Decision) -> Result<(), Refusal> {
    let person = d.person(by)?;
    match d.sheet()?.at {
        AtStage::Stopped(stopped) => decide_stopped(d, person, &stopped, decision),
        AtStage::Securing | AtStage::Tooling | AtStage::Ready => give_up(d, person, decision),
        AtStage::Cutting(_) | AtStage::Held(_) => Err(Refusal::NotStopped),
        AtStage::TakingOff | AtStage::Checking { .. } => Err(Refusal::OtherStage),
    }
}

fn decide_stopped(d: &mut Draft, person: PersonHere, stopped: &Stopped, decision: Decision) -> Result<(), Refusal> {
    if stopped.red_button.is_none() {
        return Err(Refusal::RedButtonFirst);
    }
    if needs_owner(stopped) && !person.is_owner() {
        return Err(Refusal::OwnerDecides);
    }
    NothingUnderWay::of(&d.state)?;
    let sheet = d.sheet()?;
    let ran_out = sheet.done.contains(sheet.operation);
    let more = next_after(&sheet.operations, sheet.done).is_some();
    match decision {
        // one that is set aside with nothing left to cut could not be taken up again
        Decision::ReEnter | Decision::Restart if ran_out => Err(Refusal::RanOut),
        Decision::SetAside if ran_out && !more => Err(Refusal::RanOut),
        Decision::Next if !ran_out => Err(Refusal::NotRunOut),
        Decision::Next if !more => {
            moves_again(d, person)?;
            to_what_comes_next(d);
            Ok(())
        }
        // where it goes on is `app`'s to know; the lists, and home and zero where they were lost, come first in all
        Decision::ReEnter | Decision::Restart | Decision::Next => cut_on(d, person),
        Decision::SetAside | Decision::End => give_up(d, person, decision),
    }
}

/// Only a stop that a person made, with the position kept ever since, may be left by a helper.
const fn needs_owner(stopped: &Stopped) -> bool {
    match (stopped.cause, stopped.position) {
        (StopCause::Person, Position::Known) => false,
        (StopCause::Person, Position::Unknown)
        | (
            StopCause::RefusedLine
            | StopCause::Fault
            | StopCause::LinkLost
            | StopCause::ControllerRestarted
            | StopCause::DaemonRestarted
            | StopCause::StoreFailed,
            _,
        ) => true,
    }
}

/// A controller that is faulted with its position kept takes motion again by a decision; with its position lost, by
/// finding home.
fn moves_again(d: &mut Draft, person: PersonHere) -> Result<(), Refusal> {
    let machine = &d.state.machine;
    if machine.motion == Motion::Faulted && machine.position == Position::Known {
        unlock(d, person)?;
    }
    Ok(())
}

/// The operation is cut again, from its start or from a line, or the next one is, with new lists.
fn cut_on(d: &mut Draft, person: PersonHere) -> Result<(), Refusal> {
    moves_again(d, person)?;
    d.unsign_tooling();
    let sheet = d.sheet()?;
    if sheet.done.contains(sheet.operation) {
        to_what_comes_next(d);
    } else {
        d.go_prepare();
    }
    Ok(())
}

fn give_up(d: &mut Draft, person: PersonHere, decision: Decision) -> Result<(), Refusal> {
    NothingUnderWay::of(&d.state)?;
    match decision {
        Decision::ReEnter | Decision::Restart | Decision::Next => Err(Refusal::NotStopped),
        Decision::SetAside => {
            d.leave(Stage::SetAside, Deed::SetSheetAside);
            Ok(())
        }
        Decision::End => {
            // as its parts come off the bit is touched once more, where it was touched before
            moves_again(d, person)?;
            d.unsign_ready();
            d.go(AtStage::TakingOff);
            Ok(())
        }
    }
}

pub(super) fn parts_graded(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    match &mut d.sheet()?.at {
        AtStage::Checking { graded } => {
            *graded = Graded::All;
            Ok(())
        }
        AtStage::Securing
        | AtStage::Tooling
        | AtStage::Ready
        | AtStage::Cutting(_)
        | AtStage::Held(_)
        | AtStage::Stopped(_)
        | AtStage::TakingOff => Err(Refusal::OtherStage),
    }
}
