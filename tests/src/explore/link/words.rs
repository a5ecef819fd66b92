//! What the real link writes and says, as the model and the contract call it.
//!
//! May live here: the names of words, lines and deeds. May not: what any of them comes to.

use crate::explore::contract::Word;
use crate::explore::machine::Line;
use chargehand_daemon::floor::Tried;
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::link::wire::{Reached, Report, Wanted};

/// What a line is, by how this profile writes it.
pub(super) fn line_of(text: &str) -> Line {
    match text {
        "$H" => Line::Home,
        "$X" => Line::Unlock,
        _ if text.starts_with("G21G10") || text == "G90" || text.starts_with('M') => Line::Setting,
        _ if text.starts_with("G21G91G1") => Line::Hand,
        _ if text.starts_with("G21G53") => Line::Raise,
        _ if text.contains("X1") => Line::Program(1),
        _ if text.contains("X2") => Line::Program(2),
        _ => Line::Program(3),
    }
}

pub(super) fn word_of(report: &Report) -> Option<Word> {
    Some(match report {
        Report::Up { .. } => Word::Up,
        Report::Down { .. } => Word::Down,
        Report::Held { asked, .. } => Word::Held { asked: *asked },
        Report::HoldUnconfirmed => Word::HoldUnconfirmed,
        Report::HeldAtLift(_) => Word::HeldAtLift,
        Report::AtPrompt { .. } => Word::AtPrompt,
        Report::Finished(_) => Word::Finished,
        Report::Refused { .. } => Word::Refused,
        Report::Fault { position_lost, .. } => Word::Fault { lost: *position_lost },
        Report::Restarted { .. } => Word::Restarted,
        Report::Stopped { position_kept, .. } => Word::Stopped { kept: *position_kept },
        Report::Homed => Word::Homed,
        Report::HandDone | Report::SettingTaken | Report::Touched { .. } => Word::HandDone,
        Report::Raised { .. } => Word::Raised,
        Report::NotDone { what, .. } => Word::NotDone(tried_of(*what)?),
        Report::State(_) | Report::WantsLines { .. } | Report::Reached(_) | Report::Said(_) => return None,
    })
}

/// As the floor calls it.
pub(super) const fn tried_of(what: Wanted) -> Option<Tried> {
    Some(match what {
        Wanted::Home => Tried::HomeLink,
        Wanted::Unlock => Tried::UnlockLink,
        Wanted::WorkZero => Tried::SetWorkZero,
        Wanted::HandMove | Wanted::Touch => Tried::HandMoveLink,
        Wanted::ZeroHere => Tried::SetZZero,
        Wanted::Stretch => Tried::Begin,
        Wanted::Hold => Tried::Hold,
        Wanted::HoldAtLift => Tried::HoldAtLift,
        Wanted::Resume => Tried::ResumeLink,
        Wanted::Raise => Tried::RaiseLink,
        Wanted::Stop => Tried::StopLink,
        Wanted::Spindle => Tried::Spindle,
        Wanted::Override => return None,
    })
}

pub(super) const fn reached_of(report: &Report) -> Option<Reached> {
    match report {
        Report::Reached(at)
        | Report::Held { at, .. }
        | Report::HeldAtLift(at)
        | Report::AtPrompt { at, .. }
        | Report::Finished(at)
        | Report::Refused { at, .. }
        | Report::Raised { at } => Some(*at),
        Report::Down { at, .. }
        | Report::Fault { at, .. }
        | Report::Restarted { at, .. }
        | Report::Stopped { at, .. } => *at,
        _ => None,
    }
}

/// An epoch that this one is not.
pub(super) fn before_a_stop(epoch: Epoch) -> Epoch {
    // the ring is long: the next one was certainly not lately
    epoch.next()
}
