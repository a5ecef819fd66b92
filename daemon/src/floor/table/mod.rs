//! The one transition table: each happening, and the function that says what follows from it.
//!
//! May live here: the list of happenings with their rows, by who brings them. May not: anything a row needs twice
//! (that is in `draft`), conditions (those are in `proofs`).

mod deciding;
mod halting;
mod machine;
mod moving;
mod preparing;
mod watching;
mod world;

use crate::floor::draft::Draft;
use crate::floor::happening::{Asked, By, Happening};
use crate::floor::outcome::Outcome;
use crate::floor::permit::Epoch;
use crate::floor::refusal::Refusal;
use crate::floor::sheet::RedButton;
use crate::floor::state::{Link, Position, State};
use chargehand_types::stage::HeldBy;

/// What follows from a happening in a state. `epoch` is the link's, as it last told.
///
/// # Errors
/// When a start condition does not hold, or the act does not belong here. Only acts are ever refused, and the state
/// is unchanged then. Hold, hold at the next lift, stop and trouble are never refused.
pub fn step(state: &State, happening: &Happening, epoch: Epoch) -> Result<Outcome, Refusal> {
    let mut draft = Draft::on(state, epoch);
    match happening {
        Happening::Act { by, what } => act(&mut draft, *by, what)?,
        told => tell(&mut draft, told),
    }
    Ok(draft.done())
}

/// What people ask and say.
fn act(d: &mut Draft, by: By, what: &Asked) -> Result<(), Refusal> {
    match what {
        Asked::Hold => halting::hold(d, by),
        Asked::HoldAtLift => halting::hold_at_lift(d, by),
        Asked::Stop => halting::stop(d, by),
        Asked::Trouble => halting::trouble(d),

        Asked::TakeSheet(facts) => return preparing::take(d, by, facts),
        Asked::ListSigned(list) => return preparing::signed(d, by, *list),
        Asked::Thickness(reading) => return preparing::thickness(d, by, *reading),
        Asked::SpindleSwitchedOn => return preparing::switched_on(d, by),
        Asked::SpindleSwitchedOff => return preparing::switched_off(d, by),
        Asked::SpindleStill => return preparing::still(d, by),
        Asked::BitFitted(slot) => return preparing::bit_fitted(d, by, *slot),
        Asked::ZZeroed => return preparing::z_zeroed(d, by),
        Asked::FindingsSigned => return preparing::findings_signed(d, by),

        Asked::CycleStart => return moving::cycle_start(d, by),
        Asked::Resume => return moving::resume(d, by),
        Asked::Raise => return moving::raise(d, by),
        Asked::Home => return moving::home(d, by),
        Asked::HandMove => return moving::hand_move(d, by),
        Asked::ConfirmZero => return moving::confirm_zero(d, by),
        Asked::OffTheMark => return moving::off_the_mark(d, by),

        Asked::RedButton { pressed: true } => {
            return deciding::red_button(d, by, RedButton::Pressed);
        }
        Asked::RedButton { pressed: false } => {
            return deciding::red_button(d, by, RedButton::Untouched);
        }
        Asked::BitFree => return deciding::bit_free(d, by),
        Asked::Decide(decision) => return deciding::decide(d, by, *decision),
        Asked::StillThere => return watching::still_there(d, by),
        Asked::PartsGraded => return deciding::parts_graded(d, by),
    }
    Ok(())
}

/// What the machine, the timers and the house tell. Never refused: it is so.
fn tell(d: &mut Draft, told: &Happening) {
    match told {
        // Taken by `step`.
        Happening::Act { .. } => {}

        Happening::LinkUp { position_kept } => machine::link_up(d, kept(*position_kept)),
        Happening::LinkDown
        | Happening::StandsStill
        | Happening::Homed
        | Happening::HeldConfirmed { .. }
        | Happening::HoldUnconfirmed
        | Happening::HeldAtLift
        | Happening::AtPrompt { .. }
        | Happening::AtBitChange { .. }
        | Happening::Finished
        | Happening::Raised
        | Happening::Refused
        | Happening::Fault { .. }
        | Happening::Restarted
        | Happening::Stopped { .. }
        | Happening::HandDone => {
            // A controller that does not answer tells nothing: what still comes in is late.
            if d.state.machine.link == Link::Up {
                report(d, told);
            }
        }
        Happening::NotDone(tried) => world::not_done(d, *tried),

        Happening::RunDownDue => world::run_down_due(d),
        Happening::ChainGapDue => d.end_chain(),
        Happening::StillThereDue => watching::due(d),
        Happening::BitDoubted => world::bit_doubted(d),

        Happening::PresenceChanged(presence) => watching::presence(d, *presence),
        Happening::AwayChanged(away) => watching::away(d, *away),
        Happening::ListsChanged(lists) => d.state.lists = *lists,
        Happening::ArticleApproved => world::approved(d),
        Happening::FindingsChanged(findings) => world::findings(d, *findings),
        Happening::DaemonRestarted(setup) => world::daemon_restarted(d, *setup),
        Happening::StoreFailed => world::store_failed(d),
    }
}

/// What a controller that answers reports.
fn report(d: &mut Draft, told: &Happening) {
    match told {
        Happening::LinkDown => machine::link_down(d),
        Happening::StandsStill => machine::stands_still(d),
        Happening::Homed => machine::homed(d),
        Happening::HeldConfirmed { asked: true, bit } => machine::held(d, HeldBy::Person, *bit),
        Happening::HeldConfirmed { asked: false, bit } => machine::held(d, HeldBy::Machine, *bit),
        Happening::HoldUnconfirmed => machine::hold_unconfirmed(d),
        Happening::HeldAtLift => machine::held_at_lift(d),
        Happening::AtPrompt { bit } => machine::at_prompt(d, *bit),
        Happening::AtBitChange { wants, bit } => machine::at_bit_change(d, *wants, *bit),
        Happening::Finished => machine::finished(d),
        Happening::Raised => machine::raised(d),
        Happening::Refused => machine::refused(d),
        Happening::Fault { position_lost } => machine::fault(d, kept(!*position_lost)),
        Happening::Restarted => machine::restarted(d),
        Happening::Stopped { position_kept } => machine::stopped(d, kept(*position_kept)),
        Happening::HandDone => machine::hand_done(d),
        // Taken by `tell`.
        Happening::Act { .. }
        | Happening::LinkUp { .. }
        | Happening::NotDone(_)
        | Happening::RunDownDue
        | Happening::ChainGapDue
        | Happening::StillThereDue
        | Happening::BitDoubted
        | Happening::PresenceChanged(_)
        | Happening::AwayChanged(_)
        | Happening::ListsChanged(_)
        | Happening::ArticleApproved
        | Happening::FindingsChanged(_)
        | Happening::DaemonRestarted(_)
        | Happening::StoreFailed => {}
    }
}

/// What is left of a position.
const fn kept(position_kept: bool) -> Position {
    if position_kept { Position::Known } else { Position::Unknown }
}
