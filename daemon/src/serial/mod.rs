//! Room `serial`: the one thread that owns the port and drives a [`link::Link`](crate::link::Link).
//!
//! `serialport` opens and configures; a non-blocking poll loop with an eventfd moves the bytes, so that an urgent
//! byte never waits behind a blocked write. May live here: the port, the thread, the bell that wakes it. May not: any
//! rule of the conversation.

mod borrowed;
mod port;
#[cfg(test)]
mod tests;
mod thread;

pub use port::is_pseudo_terminal;
pub use thread::Line;
