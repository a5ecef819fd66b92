//! How a block breaks the language, as typed facts with a sentence each.

use super::motion::Place;
use std::fmt;

/// Faults kept; the reader reads on after them and counts the rest.
pub const FAULTS_KEPT: usize = 100;

/// One broken rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// The rule.
    pub rule: Rule,
    /// The line's text, cut to what fits a screen, for the excerpt.
    pub text: Box<str>,
}

/// The rules, each with what was found.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs, reason = "each variant's meaning is its sentence below")]
pub enum Rule {
    NotAProgram(&'static str),
    LineTooLong,
    CommentNotClosed,
    CommentNested,
    LineNumber,
    UnknownLetter(char),
    NoNumber(char),
    NumberTooLong(char),
    LetterTwice(char),
    UnknownG(f64),
    UnknownM(f64),
    TwoOfGroup { first: String, second: String, group: &'static str },
    TooManyM,
    TwoAxisUsers,
    NoAxisWord(&'static str),
    AxisWithG80,
    ArcNoEnd,
    ArcNoCentre,
    ArcMixed,
    ArcRadii { differ: f64, allowed: f64 },
    ArcFullByRadius,
    ArcRadiusShort { least: f64 },
    CycleNeeds(char),
    CycleRBelowZ,
    NotPositive(char),
    Negative(char),
    NotWhole(char),
    InverseTimeNeedsF,
    CycleInverseTime,
    SpindleMustTurn,
    G53NeedsStraight,
    BadSystem,
    ProbeTooNear,
    ProbeInverseTime,
    UnusedWord(char),
    Expression(&'static str),
    ParameterIndex,
    NotForController(String),
}

impl Rule {
    /// Whether the controller, not the language, refuses it.
    #[must_use]
    pub const fn is_of_controller(&self) -> bool {
        matches!(self, Self::NotForController(_))
    }

    /// What to do, where more can be said than "mend the line".
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotAProgram(_) => "write the toolpath out as a plain text program",
            Self::ArcRadii { .. } => "write the program out with more decimals, or mend the arc's centre",
            Self::ArcNoEnd | Self::ArcNoCentre | Self::ArcMixed => {
                "write the arc with its end and its centre (I, J) or radius (R)"
            }
            Self::NotForController(_) => "write the program out without it",
            Self::TwoOfGroup { .. } => "leave one of the two on this line",
            Self::NoNumber(_) | Self::NumberTooLong(_) => {
                "write the number with digits, one point and at most one sign"
            }
            _ => "mend this line, or write the program out again",
        }
    }
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAProgram(what) => write!(f, "this file is no program: {what}"),
            Self::LineTooLong => write!(f, "the line is longer than 256 characters"),
            Self::CommentNotClosed => write!(f, "a comment is not closed on its line"),
            Self::CommentNested => write!(f, "a comment inside a comment"),
            Self::LineNumber => write!(f, "a line number is N with one to five digits"),
            Self::UnknownLetter(c) => write!(f, "the letter {c} means nothing in a program"),
            Self::NoNumber(c) => write!(f, "no number after {c}"),
            Self::NumberTooLong(c) => write!(f, "the number after {c} has too many digits"),
            Self::LetterTwice(c) => write!(f, "{c} stands twice on the line"),
            Self::UnknownG(n) => write!(f, "G{} is unknown", chargehand_types::quantity::plain(*n)),
            Self::UnknownM(n) => write!(f, "M{} is unknown", chargehand_types::quantity::plain(*n)),
            Self::TwoOfGroup { first, second, group } => {
                write!(f, "two words of the {group} group on one line: {first} and {second}")
            }
            Self::TooManyM => write!(f, "more than four M words on one line"),
            Self::TwoAxisUsers => write!(f, "two words on one line both want the axis words"),
            Self::NoAxisWord(what) => write!(f, "{what} needs an axis word"),
            Self::AxisWithG80 => write!(f, "axis words with no motion in force (G80)"),
            Self::ArcNoEnd => write!(f, "the arc has no end word in its plane"),
            Self::ArcNoCentre => write!(f, "the arc has neither a centre nor a radius"),
            Self::ArcMixed => write!(f, "the arc has both a centre and a radius"),
            Self::ArcRadii { differ, allowed } => {
                write!(f, "the arc's start and end lie {differ:.4} mm apart in radius (allowed {allowed:.3} mm)")
            }
            Self::ArcFullByRadius => write!(f, "an arc by radius cannot end where it starts"),
            Self::ArcRadiusShort { least } => {
                write!(f, "the arc's radius is too small to reach its end (least {least:.4} mm)")
            }
            Self::CycleNeeds(c) => write!(f, "the cycle needs {c}"),
            Self::CycleRBelowZ => write!(f, "the cycle's R lies below its Z"),
            Self::NotPositive(c) => write!(f, "{c} must be more than 0"),
            Self::Negative(c) => write!(f, "{c} must not be negative"),
            Self::NotWhole(c) => write!(f, "{c} must be a whole number"),
            Self::InverseTimeNeedsF => write!(f, "with inverse time (G93) every cutting line needs its own F"),
            Self::CycleInverseTime => write!(f, "a cycle cannot run in inverse time (G93)"),
            Self::SpindleMustTurn => write!(f, "this cycle needs the spindle to turn already"),
            Self::G53NeedsStraight => write!(f, "G53 needs G0 or G1 in force"),
            Self::BadSystem => write!(f, "work systems are numbered 1 to 9"),
            Self::ProbeTooNear => write!(f, "a probe move must be at least 0.254 mm long"),
            Self::ProbeInverseTime => write!(f, "a probe move cannot run in inverse time (G93)"),
            Self::UnusedWord(c) => write!(f, "nothing on the line uses {c}"),
            Self::Expression(what) => write!(f, "{what}"),
            Self::ParameterIndex => write!(f, "parameters are numbered 1 to 5399"),
            Self::NotForController(what) => write!(f, "{what}"),
        }
    }
}

impl Fault {
    /// The line with a caret under the column.
    #[must_use]
    pub fn excerpt(&self) -> String {
        let column = self.place.column.saturating_sub(1) as usize;
        let pad: String = self.text.chars().take(column).map(|c| if c == '\t' { '\t' } else { ' ' }).collect();
        let number = self.place.line.to_string();
        let gutter = " ".repeat(number.len());
        format!("{number} | {}\n{gutter} | {pad}^", self.text)
    }
}
