//! Room `serial`: the one thread that owns the port and drives a [`link::Link`](crate::link::Link).
//!
//! `serialport` opens and configures; a non-blocking poll loop with an eventfd moves the bytes, so that an urgent
//! byte never waits behind a blocked write. May live here: the port, the thread, the bell that wakes it. May not: any
//! rule of the conversation.

mod bell;
mod borrowed;
mod line;
mod listen;
mod owner;
mod pace;
mod port;
mod queue;
mod talker;
#[cfg(test)]
mod tests;

pub use bell::{Bell, timespec};
pub use line::Line;
pub use listen::listen;
pub use owner::Reports;
pub use port::{is_pseudo_terminal, owner_beside};
pub use talker::Talker;
