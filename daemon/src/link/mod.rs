//! Room `link`: bytes from the controller, commands with a permit and ticks in; bytes for the controller, what it
//! told us and the next deadline out. No port, no thread, no clock.
//!
//! One change, then drain: after every [`wire::Input`] take all outputs before the next.

pub mod wire;
