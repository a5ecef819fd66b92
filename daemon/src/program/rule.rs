//! The rules of the language and of controllers of this kind, their sentences and what to do about them.
//!
//! May live here: rules with their facts, and hints. May not: deciding that a rule is broken, places.

use super::code::{G, Group, M, MGroup};
use super::fault::LINE_LIMIT;
use super::number::Decimal;
use chargehand_types::quantity::Length;

/// What a fault means for the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// It breaks the language.
    Unreadable,
    /// It is written well, and can neither be sent nor adapted.
    NotForThisController,
}

/// What a file is that is no program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, thiserror::Error)]
#[allow(missing_docs, reason = "each is what its text says")]
pub enum NoProgram {
    #[error("nothing: there is no word in it")]
    Empty,
    #[error("a PDF document")]
    Pdf,
    #[error("a picture")]
    Picture,
    #[error("a packed archive")]
    Archive,
    #[error("an executable")]
    Executable,
    #[error("text in UTF-16")]
    Utf16,
    #[error("a page of markup, such as a drawing or a web page")]
    Markup,
    #[error("binary data")]
    Binary,
}

/// A rule of the language, broken. Sections are of NISTIR 6556.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentence above each says what its facts are")]
pub enum Rule {
    #[error("this is no program but {0}")]
    NoProgram(NoProgram),
    /// 3.3.1.
    #[error("the line is longer than {LINE_LIMIT} characters")]
    LineTooLong,
    #[error("'{0}' means nothing here")]
    Stray(char),
    #[error("there are zero bytes inside the program: part of it may be lost")]
    ZeroBytes,
    #[error("a number stands here without a letter before it")]
    NoLetter,
    /// Table 3.
    #[error("no word begins with {0}")]
    UnknownLetter(char),
    #[error("{0} has no number")]
    NoNumber(char),
    /// 3.3.2.1.
    #[error("'{0}' is no number")]
    MalformedNumber(Box<str>),
    #[error("the number is too large")]
    NumberTooLarge,
    /// 3.3.1.
    #[error("a line number is N with one to five digits at the start of the line")]
    LineNumber,
    /// 3.3.4.
    #[error("{0} stands twice on the line")]
    LetterTwice(char),
    #[error("there is no G{0}")]
    UnknownG(Decimal),
    #[error("there is no M{0}")]
    UnknownM(Decimal),
    /// Table 4.
    #[error("two {group} on the line: {first} and {second}")]
    SameGroup { group: Group, first: G, second: G },
    #[error("two {group} on the line: {first} and {second}")]
    SameMGroup { group: MGroup, first: M, second: M },
    /// 3.3.4: four at most.
    #[error("more than four M words on the line")]
    TooManyM,
    /// 3.3.4.
    #[error("the comment is not closed on its line")]
    CommentOpen,
    #[error("a comment stands inside a comment")]
    CommentNested,
    /// 3.3.1.
    #[error("a % stands alone only at the start and at the end of a program")]
    Percent,
    /// 3.3.2.2 to 3.3.2.4.
    #[error("'{0}' should stand here")]
    Expected(char),
    #[error("this is no function or operator")]
    UnknownFunction,
    #[error("brackets are nested too deeply")]
    TooDeep,
    #[error("there is no parameter #{0}: they run from 1 to 5399")]
    ParameterIndex(Decimal),
    #[error("parameter #{0} is the controller's own and is not set this way")]
    ParameterReserved(u16),
    #[error("parameter #{0} is known only at the machine")]
    ParameterUnknown(u16),
    #[error("division by zero")]
    DivisionByZero,
    #[error("{0} has no value here")]
    NoValue(&'static str),
    /// 3.5.
    #[error("{0} needs at least one of X, Y, Z")]
    NoAxis(G),
    #[error("{first} and {second} both want the axis words")]
    AxesWantedTwice { first: G, second: G },
    /// 3.5.14.
    #[error("there is an axis word, but no motion is in force after G80")]
    AxisAfterG80,
    /// 3.5.3.
    #[error("the arc has neither centre nor radius")]
    ArcNoCentre,
    #[error("the arc has no end: neither {0} nor {1} is given")]
    ArcNoEnd(char, char),
    #[error("the arc has both a radius and a centre")]
    ArcTwoForms,
    #[error("the arc starts {start} and ends {end} from its centre, {apart} apart (allowed {allowed})")]
    ArcRadii { start: Length, end: Length, apart: Length, allowed: Length },
    #[error("an arc by radius ends where it starts")]
    ArcByRadiusClosed,
    #[error("radius {radius} is too small to reach the end: it takes {least}")]
    ArcTooSmall { radius: Length, least: Length },
    #[error("the arc's radius is nothing")]
    ArcNoRadius,
    #[error("{0} needs a {1} word")]
    WordMissing(&'static str, char),
    #[error("nothing on the line uses {0}")]
    WordUnused(char),
    #[error("two words on the line want {0}")]
    WordWantedTwice(char),
    #[error("{0} may not be negative")]
    Negative(char),
    #[error("{0} must be a whole number")]
    NotWhole(char),
    #[error("{letter} must be from {least} to {most}")]
    OutOfRange { letter: char, least: u32, most: u32 },
    /// 3.5.16.
    #[error("the retract plane {r} lies below the bottom {z}")]
    CycleUpsideDown { r: Length, z: Length },
    #[error("Q must be above zero")]
    PeckNothing,
    #[error("L must be a whole number from 1")]
    RepeatNothing,
    #[error("the cycle would make more than {0} moves")]
    CycleTooLong(u32),
    #[error("{0} needs a turning spindle")]
    SpindleStill(G),
    /// 3.5.19.
    #[error("{0} cannot run in inverse time (G93)")]
    NotInInverseTime(G),
    #[error("in inverse time (G93) every cutting line needs its own F")]
    InverseTimeNoFeed,
    /// 3.5.12.
    #[error("G53 needs G0 or G1 in force")]
    MachineNotStraight,
    /// 3.5.9.
    #[error("the probe would move only {0}; it takes 0.254 mm or 0.01 in")]
    ProbeTooNear(Length),
    #[error("the way goes more than 10 km out")]
    TooFar,
    #[error(transparent)]
    Foreign(Foreign),
}

/// Written well, and still not for a controller of this kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "each is what its text says")]
pub enum Foreign {
    #[error("{0} shifts the path by the bit's radius, which is not done here")]
    CutterRadius(G),
    #[error("{0} moves a rotary axis, and this machine has none")]
    Rotary(char),
    #[error("subprograms and loops are not run here")]
    Flow,
    #[error("G87 needs a spindle that stops at a fixed angle")]
    BackBoring,
    #[error("G88 has a person raise the bit to a place nobody can foresee")]
    ManualRetract,
    #[error("the controller does not know {0}, and it cannot be written another way")]
    Word(Box<str>),
    #[error("the line takes {bytes} bytes and the controller reads {limit}")]
    LineTooLong { bytes: usize, limit: usize },
}

impl Rule {
    /// Whether the language is broken, or this controller cannot do it.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self {
            Self::Foreign(_) | Self::ParameterUnknown(_) => Kind::NotForThisController,
            _ => Kind::Unreadable,
        }
    }

    /// What to change.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        self.hint_of_text().or_else(|| self.hint_of_words()).unwrap_or_else(|| self.hint_of_motion())
    }

    fn hint_of_text(&self) -> Option<&'static str> {
        Some(match self {
            Self::NoProgram(NoProgram::Utf16) => "save it as plain text (ASCII or UTF-8)",
            Self::NoProgram(NoProgram::Empty) => "write the program out again",
            Self::NoProgram(_) => "name the program file itself, not the drawing or its export",
            Self::LineTooLong => "shorten the line, its comment first",
            Self::ZeroBytes => "copy the file again from where it was made",
            Self::Stray(_) | Self::NoLetter => "remove it, or write the word it belongs to",
            Self::UnknownLetter(_) => "remove the word, or choose another output form in the drawing program",
            Self::NoNumber(_) => "write the number, or remove the letter",
            Self::MalformedNumber(_) => {
                "write digits with at most one point, one sign before them and no exponent; put what is computed in brackets"
            }
            Self::NumberTooLarge => "write a smaller number",
            Self::LineNumber => "write N and up to five digits first, or leave it out",
            Self::CommentOpen => "close it with ) on the same line",
            Self::CommentNested => "use one pair of round brackets; square ones group what is computed",
            Self::Percent => "remove it",
            Self::Expected(_) | Self::UnknownFunction => "mend the expression; brackets are square",
            Self::TooDeep => "split it over several parameters",
            Self::ParameterIndex(_) => "use a parameter from 1 to 5399",
            Self::ParameterReserved(_) => "set origins by G10 L2 and shifts by G92",
            Self::ParameterUnknown(_) => "write the program out without it: the check must know every move",
            Self::DivisionByZero | Self::NoValue(_) => "mend the expression or the parameter it uses",
            _ => return None,
        })
    }

    fn hint_of_words(&self) -> Option<&'static str> {
        Some(match self {
            Self::LetterTwice(_) => "remove one of them, or split the line",
            Self::UnknownG(_) | Self::UnknownM(_) => {
                "remove the word, or choose another output form in the drawing program"
            }
            Self::SameGroup { .. } | Self::SameMGroup { .. } => "keep one of the two, or split the line",
            Self::TooManyM => "split the line",
            Self::NoAxis(_) => "add the axis word, or remove the G word",
            Self::AxesWantedTwice { .. } => "put the two on lines of their own",
            Self::AxisAfterG80 => "add G0 or G1",
            Self::WordMissing(..) => "add it",
            Self::WordUnused(_) => "remove it, or add the G word it belongs to",
            Self::WordWantedTwice(_) => "put the two on lines of their own",
            Self::Negative(_) | Self::NotWhole(_) | Self::OutOfRange { .. } => "mend the number",
            Self::Foreign(Foreign::CutterRadius(_)) => {
                "have the drawing program shift the path, and write it out again"
            }
            Self::Foreign(Foreign::Flow) => "write the program out in full, without subprograms",
            Self::Foreign(Foreign::Rotary(_)) => "write it out for three axes",
            Self::Foreign(Foreign::BackBoring | Foreign::ManualRetract) => "write the hole out as plain moves",
            Self::Foreign(Foreign::Word(_)) => "write the program out without it, or for a controller like this one",
            Self::Foreign(Foreign::LineTooLong { .. }) => "split the line",
            _ => return None,
        })
    }

    fn hint_of_motion(&self) -> &'static str {
        match self {
            Self::ArcNoCentre => "add I, J or K, or R",
            Self::ArcNoEnd(..) => "add the end, even where it is the start",
            Self::ArcTwoForms => "keep either R or the centre",
            Self::ArcRadii { .. } => {
                "check the end and the centre; if both are right, write the program with more decimals"
            }
            Self::ArcByRadiusClosed => "write a full circle with I, J or K",
            Self::ArcTooSmall { .. } | Self::ArcNoRadius => "check the end and the radius",
            Self::CycleUpsideDown { .. } => "put R above Z",
            Self::PeckNothing => "write how deep each peck goes",
            Self::RepeatNothing => "write 1 or more, or leave L out",
            Self::CycleTooLong(_) => "use a larger Q or a smaller L",
            Self::SpindleStill(_) => "start the spindle first",
            Self::NotInInverseTime(_) => "go back to G94 first",
            Self::InverseTimeNoFeed => "add F, or go back to G94",
            Self::MachineNotStraight => "add G0 or G1 to the line",
            Self::ProbeTooNear(_) => "start farther away",
            Self::TooFar => "check the numbers and the unit word",
            _ => "write the program out again, or mend this line",
        }
    }
}
