//! Room `link`: bytes from the controller, commands with a permit and ticks in; bytes for the controller, what it
//! told us and the next deadline out. No port, no thread, no clock.
//!
//! One change, then drain: after every [`wire::Input`] take all outputs before the next. Acknowledged means parsed,
//! not cut; what is told as done is what the planner can no longer hold, or what the reported place has passed.

mod asking;
mod conversation;
mod figures;
mod heard;
mod listening;
mod numbered;
mod obeying;
mod overheard;
mod path;
mod running;
mod sketch;
mod stretch;
mod talk;
mod touching;
#[cfg(test)]
mod unanswered;
pub mod wire;
mod writing;

pub use conversation::{Link, Settings};
pub use overheard::{Overheard, asks_for_report, overheard};
