//! How figures are said to people: times, ways, names of stages and acts. One place for screens and command line.
//!
//! May live here: short phrases. May not: whole answers, colours, anything that decides.

use chargehand_types::act::Axis;
use chargehand_types::quantity::{Metres, Seconds};
use chargehand_types::stage::{Decision, Grade, HeldBy, Reason, Role, Stage, StopCause};

/// A span as people plan by it: "40 s", "3 min 40 s", "31 min", "2 h 05 min".
#[must_use]
pub fn span(seconds: Seconds) -> String {
    let whole = seconds.value().max(0.0).round();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "finite, not negative, saturating")]
    let whole = whole as u64;
    let (hours, minutes, rest) = (whole / 3600, whole / 60 % 60, whole % 60);
    match (hours, minutes) {
        (0, 0) => format!("{rest} s"),
        (0, 1..=9) if rest > 0 => format!("{minutes} min {rest:02} s"),
        (0, _) => format!("{minutes} min"),
        (_, _) => format!("{hours} h {minutes:02} min"),
    }
}

/// A span as it is awaited: rounded, with "about" in front.
#[must_use]
pub fn about(seconds: Seconds) -> String {
    let value = seconds.value().max(0.0);
    let step = match value {
        v if v < 20.0 => 1.0,
        v if v < 100.0 => 10.0,
        v if v < 600.0 => 30.0,
        _ => 60.0,
    };
    format!("about {}", span(Seconds::of((value / step).round() * step)))
}

/// A way cut, to a tenth of a metre.
#[must_use]
pub fn way(metres: Metres) -> String {
    format!("{:.1} m", metres.value())
}

/// A counted noun: "1 sheet", "3 sheets".
#[must_use]
pub fn count(number: u64, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}

/// The first of a revision's 64 digits, enough to tell two apart.
#[must_use]
pub fn short(revision: &str) -> &str {
    revision.get(..10).unwrap_or(revision)
}

/// A sheet's stage in a sentence: "is …".
#[must_use]
pub const fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Queued => "waits",
        Stage::Securing => "being secured",
        Stage::Tooling => "bit and zero",
        Stage::Ready => "ready list",
        Stage::Cutting => "cutting",
        Stage::Held => "held",
        Stage::Stopped => "stopped",
        Stage::SetAside => "set aside",
        Stage::TakingOff => "being taken off",
        Stage::Checking => "parts checked",
        Stage::Closed => "closed",
    }
}

/// A grade.
#[must_use]
pub const fn grade(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "good",
        Grade::Rework => "rework",
        Grade::Scrap => "scrap",
    }
}

/// Why a part is not good.
#[must_use]
pub const fn reason(reason: Reason) -> &'static str {
    match reason {
        Reason::TornFace => "torn face",
        Reason::Fuzzy => "fuzzy edges",
        Reason::BurntEdge => "burnt edge",
        Reason::TabScar => "tab scar",
        Reason::CameLoose => "came loose",
        Reason::SlotTight => "slot too tight",
        Reason::SlotLoose => "slot too loose",
        Reason::Delaminated => "delaminated",
        Reason::WrongSize => "wrong size",
        Reason::Other => "something else",
    }
}

/// Every reason, in the order screens list them.
pub const REASONS: [Reason; 10] = [
    Reason::TornFace,
    Reason::Fuzzy,
    Reason::BurntEdge,
    Reason::TabScar,
    Reason::CameLoose,
    Reason::SlotTight,
    Reason::SlotLoose,
    Reason::Delaminated,
    Reason::WrongSize,
    Reason::Other,
];

/// Who held it.
#[must_use]
pub const fn held_by(by: HeldBy) -> &'static str {
    match by {
        HeldBy::Person => "held by a person",
        HeldBy::Lift => "held at the lift that was asked for",
        HeldBy::Prompt => "the program asks for a person",
        HeldBy::BitChange => "the program asks for another bit",
        HeldBy::Machine => "held by the machine's own button or door",
        HeldBy::Trouble => "held because something is wrong",
    }
}

/// Why a sheet stopped.
#[must_use]
pub const fn stop_cause(cause: StopCause) -> &'static str {
    match cause {
        StopCause::RefusedLine => "the controller refused a line",
        StopCause::Fault => "the controller reported a fault",
        StopCause::LinkLost => "the link to the controller was lost",
        StopCause::ControllerRestarted => "the controller restarted",
        StopCause::DaemonRestarted => "the daemon was restarted",
        StopCause::Person => "a person stopped it",
        StopCause::StoreFailed => "the journal could not be written",
    }
}

/// A decision about a stopped sheet.
#[must_use]
pub const fn decision(decision: Decision) -> &'static str {
    match decision {
        Decision::ReEnter => "go on at a line",
        Decision::Restart => "cut the operation again from its start",
        Decision::SetAside => "set the sheet aside",
        Decision::End => "end the sheet",
    }
}

/// A role.
#[must_use]
pub const fn role(role: Role) -> &'static str {
    match role {
        Role::Helper => "helper",
        Role::Owner => "owner",
    }
}

/// An axis in words with the letter beside.
#[must_use]
pub const fn axis(axis: Axis) -> &'static str {
    match axis {
        Axis::X => "left/right (X)",
        Axis::Y => "towards you/away (Y)",
        Axis::Z => "up/down (Z)",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_read_like_speech() {
        let said = |s| span(Seconds::of(s));
        assert_eq!(said(0.0), "0 s");
        assert_eq!(said(59.6), "1 min");
        assert_eq!(said(220.0), "3 min 40 s");
        assert_eq!(said(1860.0), "31 min");
        assert_eq!(said(7500.0), "2 h 05 min");
        assert_eq!(said(-5.0), "0 s");
    }

    #[test]
    fn waiting_is_rounded() {
        let said = |s| about(Seconds::of(s));
        assert_eq!(said(12.4), "about 12 s");
        assert_eq!(said(44.0), "about 40 s");
        assert_eq!(said(221.0), "about 3 min 30 s");
        assert_eq!(said(722.0), "about 12 min");
    }

    #[test]
    fn one_is_not_many() {
        assert_eq!(count(1, "sheet"), "1 sheet");
        assert_eq!(count(0, "sheet"), "0 sheets");
    }
}
