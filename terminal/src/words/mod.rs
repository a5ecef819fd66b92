//! How things are said to people: the texts of the screens by language, times, ways, names of stages and grades.
//!
//! The screens say everything through `say!` and the message file of their language (`terminal/words`); the command
//! line speaks English. May live here: short phrases, and the way from a key to a sentence. May not: colours, anything
//! that decides.

mod daemon;
mod named;
mod table;
#[cfg(test)]
mod tests;

pub use named::{Noun, REASONS};
pub use table::{SHIPPED, Words, WrongWords, english, shipped};

/// Says a text of the message file in a language, its holes filled: `say!(words, "table.name", hole = value)`.
macro_rules! say {
    ($words:expr, $key:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $words.fill($key, &[$((stringify!($name), &$value as &dyn std::fmt::Display)),*])
    };
}
pub(crate) use say;

use chargehand_types::history::LostTo;
use chargehand_types::quantity::{Metres, Seconds};
use chargehand_types::stage::{Decision, Grade, Reason, Role, Stage, StopCause};

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

/// A span as it is awaited: rounded, for an "about" in front.
#[must_use]
pub fn rounded(seconds: Seconds) -> String {
    let value = seconds.value().max(0.0);
    let step = match value {
        v if v < 20.0 => 1.0,
        v if v < 100.0 => 10.0,
        v if v < 600.0 => 30.0,
        _ => 60.0,
    };
    span(Seconds::of((value / step).round() * step))
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
pub fn stage(stage: Stage) -> &'static str {
    english().stage(stage)
}

/// A grade.
#[must_use]
pub fn grade(grade: Grade) -> &'static str {
    english().grade(grade)
}

/// Why a part is not good.
#[must_use]
pub fn reason(reason: Reason) -> &'static str {
    english().reason(reason)
}

/// A role.
#[must_use]
pub fn role(role: Role) -> &'static str {
    english().role(role)
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

/// To what time was lost.
#[must_use]
pub fn lost_to(to: LostTo) -> &'static str {
    english().lost_to(to)
}

/// A decision about a stopped sheet.
#[must_use]
pub const fn decision(decision: Decision) -> &'static str {
    match decision {
        Decision::ReEnter => "go on at a line",
        Decision::Restart => "cut the operation again from its start",
        Decision::Next => "go on to what comes next",
        Decision::SetAside => "set the sheet aside",
        Decision::End => "end the sheet",
    }
}
