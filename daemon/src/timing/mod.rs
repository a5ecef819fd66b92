//! Room `timing`: what the program makes happen in, seconds out: for each move, to each line, and for the wire.
//!
//! May live here: what speed the axes allow, the look-ahead over the coming moves, seconds by line, the arithmetic of
//! the serial line. May not: anything that knows a sheet or a bit, people's time (a bit change or a prompt takes none
//! here), what was learned from earlier sheets.

mod clockwork;
mod delivery;
mod limits;
mod lines;
mod lookahead;
mod ramp;
mod wire;

pub use clockwork::{Clockwork, Timed};
pub use delivery::{Delivery, Way};
pub use limits::{ARC_CHORD, Arcs, Limits};
pub use lines::LineTimes;
pub use wire::wire_time;

#[cfg(test)]
mod tests;
