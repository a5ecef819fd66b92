//! Room `sheetmap`: the moves of a card, the bits that make them and the sheet in; what is left of the sheet out.
//!
//! May live here: the swept sheet, its pieces and tabs, distances to the nearest cut. May not: fasteners, findings,
//! reading programs.
//!
//! Inside this room lengths are `f64` in millimetres, in the work frame of the moves.

mod bite;
mod bridges;
mod clearance;
mod cutter;
mod grid;
mod job;
mod left;
mod map;
mod pieces;
mod runs;
mod shape;
mod sweep;
mod tabs;

pub(crate) use bite::bite;
pub use clearance::{Clearance, Nearest};
pub use cutter::Cutter;
pub use job::{Job, Stroke};
pub use map::{Least, SheetMap};
pub(crate) use pieces::Region;
pub use tabs::Tab;

#[cfg(test)]
pub(crate) use cutter::tests::bit as tests_bit;

#[cfg(test)]
mod tests;
