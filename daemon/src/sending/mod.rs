//! Room `sending`: blocks in, the lines that are sent out. The motion is never altered; only its writing is.
//!
//! May live here: what a controller understands, adapting and shortening a block, the map back to source lines.
//! May not: flow control, checksums, anything that waits.

mod draft;
mod entering;
mod entry;
mod known;
mod mode_words;
mod sender;
mod standing;
#[cfg(test)]
mod tests;
mod unfolding;
mod writer;

pub use entry::{CannotEnter, Entered, Entry, enter};
pub use sender::{Lines, Sender, lines};

use crate::program::motion::{Doing, Step};
use crate::program::way::Way;

/// One line for the controller, without its line ending.
#[derive(Debug, Clone, PartialEq)]
pub struct SentLine {
    /// What is written. Empty for a line that only asks for a person.
    pub bytes: Box<[u8]>,
    /// The program's line it comes from, 1-based.
    pub source_line: u32,
    /// Its place among the lines that one source line became, from 0.
    pub part: u16,
    /// What it moves.
    pub passage: Passage,
    /// What the link must do after it.
    pub then: Then,
}

/// What a line moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Passage {
    /// Nothing.
    Still,
    /// Nothing, for so many seconds.
    Dwells(f64),
    /// The bit, along one curve.
    One(Way),
    /// The bit, by several motions: the controller unfolds a cycle, or goes home by a place between.
    Several,
}

impl Passage {
    /// Of the steps that a line stands for.
    fn of(steps: &[Step]) -> Self {
        let mut moves = steps.iter().filter_map(|step| match &step.doing {
            Doing::Move(made) => Some(made),
            _ => None,
        });
        let dwells = steps.iter().find_map(|step| match step.doing {
            Doing::Dwell { seconds } => Some(seconds),
            _ => None,
        });
        match (moves.next(), moves.next()) {
            (None, _) => dwells.map_or(Self::Still, Self::Dwells),
            (Some(made), None) => Self::One(Way::of(made)),
            (Some(_), Some(_)) => Self::Several,
        }
    }
}

/// What the link does once a line is done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Then {
    /// Goes on.
    Goes,
    /// The bit has just been lifted out of the material by a rapid: a hold at the next lift may take effect here.
    Lifted,
    /// Drains, and waits for a person (M0, M1).
    Asks {
        /// The program's own words.
        text: Option<Box<str>>,
    },
    /// Drains, and waits for another bit (M6).
    ChangesBit {
        /// The T number.
        tool: Option<u32>,
    },
}
