//! Room `timing`: moves and a machine's limits in, seconds for each line out.
//!
//! The model: acceleration-limited look-ahead over straight pieces, arcs in chords 0.002 mm off. Along a piece speed
//! and acceleration are what the axes allow in its direction. At a joint `v^2 = a d s / (1 - s)` with
//! `s = sin(theta / 2)`, theta between the reversed incoming and the outgoing direction, `d` the corner deviation and
//! `a` what the axes allow along the change of direction: the speed on the circle that misses the corner by `d`
//! (derived; no limit straight on, a full stop at a reversal). It comes to rest at M3, M4, M5, M6, M0, G4, an S word,
//! and at every joint under G61.
//!
//! May live here: durations. May not: people's time (M0 and M6 take none here), the sheet.

mod clockwork;
mod line_times;
pub mod profile;
#[cfg(test)]
mod tests;

pub use clockwork::{Clockwork, Timed};
pub use line_times::LineTimes;

use chargehand_types::quantity::{Acceleration, Feed, Length, Seconds};

/// What the axes of a machine can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Fastest on X, Y, Z.
    pub max_rate: [Feed; 3],
    /// Hardest on X, Y, Z.
    pub acceleration: [Acceleration; 3],
    /// How far a rounded corner may miss its vertex.
    pub corner_deviation: Length,
}

/// Bits of one byte on the wire: start, eight data, stop (8N1).
pub const BITS_A_BYTE: f64 = 10.0;

/// What the line needs at least for so many bytes.
#[must_use]
pub fn wire_seconds(bytes: u64, baud: u32) -> Seconds {
    Seconds::of(bytes as f64 * BITS_A_BYTE / f64::from(baud.max(1)))
}
