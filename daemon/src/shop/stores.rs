//! `bits.toml`, `materials.toml` and `fasteners.toml` into the values of [`chargehand_types::card`].
//!
//! May live here: the form of the three files and what a sound bit, material or fastener is. May not: cards.

mod bits;
mod fasteners;
mod materials;

pub use bits::read as bits;
pub use fasteners::read as fasteners;
pub use materials::read as materials;

/// No shop has more of one kind of thing.
const MOST_ENTRIES: usize = 1000;
/// The T words of RS-274 programs go no further here (NISTIR 6556 3.7.3 only asks for a number that is not negative).
const HIGHEST_TOOL: u32 = 99_999;

#[cfg(test)]
mod tests;
