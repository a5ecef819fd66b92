//! Who watches a running sheet: people come and go, and where nobody is signed in it is asked whether somebody is still
//! there.
//!
//! May live here: what an empty room means. May not: how long anything may take; the timers are only due.

use super::halting::lift;
use crate::floor::chain::may_run_alone;
use crate::floor::draft::Draft;
use crate::floor::happening::By;
use crate::floor::outcome::Deed;
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Cutting, OnMachine, Watch};
use crate::floor::state::{Away, Motion, Presence};
use chargehand_types::call::CallReason;

pub(super) fn presence(d: &mut Draft, presence: Presence) {
    d.state.presence = presence;
    if presence != Presence::Nobody {
        // whoever signs in is there
        set_watch(d, Watch::Rests);
    }
    mind_the_empty_room(d, Watch::Rests);
}

/// What was allowed is not any more: as when nobody answers, the spindle stops at the lift.
pub(super) fn away(d: &mut Draft, away: Away) {
    d.state.machine.away = away;
    mind_the_empty_room(d, Watch::GivenUp);
}

/// With nobody signed in at the machine a program runs on only where that is allowed; else it is held at the next
/// lift and somebody is called. A ready list signed by somebody who left does not count.
fn mind_the_empty_room(d: &mut Draft, watch: Watch) {
    if d.state.presence != Presence::Nobody {
        return;
    }
    let Some(sheet) = &d.state.sheet else { return };
    match sheet.at {
        AtStage::Ready => d.unsign_ready(),
        AtStage::Cutting(Cutting { chain, .. }) => {
            let alone = may_run_alone(&d.state, chain.with(sheet.operation));
            if d.state.machine.motion == Motion::Program && !alone {
                set_watch(d, watch);
                lift(d);
                d.call(CallReason::HeldFromAfar);
            }
        }
        AtStage::Securing
        | AtStage::Tooling
        | AtStage::Held(_)
        | AtStage::Stopped(_)
        | AtStage::TakingOff
        | AtStage::Checking { .. } => {}
    }
}

fn set_watch(d: &mut Draft, watch: Watch) {
    if let Some(OnMachine { at: AtStage::Cutting(cutting), .. }) = &mut d.state.sheet {
        cutting.watch = watch;
    }
}

/// Asked first; nobody answered: somebody is called; nobody came: it holds at the next lift, with the spindle stopped.
pub(super) fn due(d: &mut Draft) {
    // what is about to be held needs nobody's word to run on
    if d.state.presence != Presence::Nobody || d.state.machine.motion != Motion::Program {
        return;
    }
    let Some(AtStage::Cutting(Cutting { watch, .. })) = d.state.at() else { return };
    match watch {
        Watch::Rests => {
            set_watch(d, Watch::Asked);
            d.deed(Deed::AskStillThere);
        }
        Watch::Asked => {
            set_watch(d, Watch::Called);
            d.call(CallReason::StillThere);
        }
        Watch::Called => {
            set_watch(d, Watch::GivenUp);
            lift(d);
        }
        Watch::GivenUp => {}
    }
}

/// Somebody at the machine says that they are there; whoever is somewhere else is not. It starts nothing, and what was
/// told to hold is held.
pub(super) fn still_there(d: &mut Draft, by: By) -> Result<(), Refusal> {
    if by == By::Afar {
        return Err(Refusal::FromAfar);
    }
    match d.state.at() {
        Some(AtStage::Cutting(Cutting { watch: Watch::Asked | Watch::Called, .. })) => {
            set_watch(d, Watch::Rests);
            Ok(())
        }
        _ => Err(Refusal::NothingAsked),
    }
}
