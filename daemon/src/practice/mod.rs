//! Room `practice`: the machine to practise on. Bytes and ticks in, bytes out; no port, no clock, no chance but the
//! seed's.
//!
//! It speaks the wire of the `acknowledged-window` profile with its own small word reader, so that the link is tried
//! against something that does not share its mistakes. May live here: that wire's words, a planner, faults by
//! script. May not: anything the real daemon decides with.

mod controller;
#[cfg(test)]
mod joined;
mod motion;
mod speed;
#[cfg(test)]
mod tests;
mod wire;
mod words;

pub use controller::{Controller, Fault, Setup};
