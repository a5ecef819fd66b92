//! Room `practice`: the machine to practise on. Bytes and ticks in, bytes out; no port, no clock, no chance but the
//! seed's.
//!
//! It speaks the wire of either profile that ships, with its own small word reader, so that the link is tried
//! against something that does not share its mistakes. May live here: that wire's words, a planner, faults by
//! script. May not: anything the real daemon decides with.
//!
//! The way round: [`Controller::take`] puts bytes on its line, [`Controller::advance`] lets time pass from one event
//! to the next, [`Controller::output`] gives what has left, [`Controller::next_wake`] says when to come again.

mod arc;
mod controller;
mod hands;
mod homing;
mod lines;
mod modes;
mod motion;
mod numbered;
mod orders;
mod path;
mod report;
mod setup;
mod speed;
#[cfg(test)]
mod tests;
mod trace;
mod wire;
mod words;

pub use controller::Controller;
pub use hands::Hand;
pub use setup::{Fault, Habits, Homing, IdleHold, OnOpen, Setup, Standing, Wire};
pub use trace::{Motion, Round, Tally};
