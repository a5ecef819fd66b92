//! Re-entry: going on with a program at one of its lines, with every mode as it was, by a way through air.
//!
//! The program is read from its first line, so that the state before the line is the reader's own, whatever stands
//! before it: arcs, cycles, G91, inches, expressions. Nothing of those lines is sent. May live here: what an entry is,
//! and whether it can be made. May not: how its lines are written.

use super::{Sender, SentLine};
use crate::program::motion::{Modal, Start};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Feed, Length, Point, Seconds};

/// Plunge feed where the program has not plunged before the line. Common practice, no source.
pub(super) const PLUNGE: Feed = Feed(300_000_000);

/// How the bit comes back to a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// The line of the program that is cut first, 1-based.
    pub line: u32,
    /// Where the bit stands now, in the work frame.
    pub from: Point,
    /// Work Z above everything that stands on the sheet: sideways travel is made there.
    pub travel_z: Length,
    /// Work Z a little above the sheet's face: from there down it goes at plunge feed.
    pub near_z: Length,
    /// What a controlled spindle takes to come up to speed.
    pub spin_up: Seconds,
}

/// The state that a re-entry builds, and the lines that build it.
#[derive(Debug, Clone, PartialEq)]
pub struct Entered {
    /// Where the line begins, in the work frame.
    pub at: Point,
    /// Every modal group before the line.
    pub modal: Modal,
    /// The lines before it.
    pub lines: Vec<SentLine>,
}

/// Why a program cannot be gone on with at a line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CannotEnter {
    /// It ends before.
    #[error("the program has nothing to cut at line {0} or after it")]
    NoSuchLine(u32),
    /// Something before the line is wrong.
    #[error("line {0} is wrong: the program cannot be read up to the wanted line")]
    Unreadable(u32),
    /// G10 stands before it: what the controller kept of that is not known.
    #[error("the program sets a work zero of its own before line {0}, and nobody knows whether the controller kept it")]
    OriginsSet(u32),
    /// A cycle whose words stand on a line before it.
    #[error("line {0} lies inside a drilling cycle that the controller keeps by itself; take the line that begins it")]
    InCycle(u32),
}

/// The entry to a line, worked out without sending anything.
///
/// # Errors
/// When the program cannot be entered there.
pub fn enter(
    bytes: &[u8],
    start: Start,
    understands: Understands,
    face_z: Length,
    entry: Entry,
) -> Result<Entered, CannotEnter> {
    let mut sender = Sender::entering(start, understands, face_z, entry);
    sender.push(bytes);
    sender.finish();
    let first = sender.next_line();
    match (sender.entered().cloned(), sender.cannot_enter()) {
        (Some(entered), None) if first.is_some() => Ok(entered),
        (_, Some(why)) => Err(why.clone()),
        _ => Err(CannotEnter::NoSuchLine(entry.line)),
    }
}
