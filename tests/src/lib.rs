//! What the whole-program tests stand on: a workshop in a folder of its own with the real daemon, a client that
//! speaks to its socket, and an operator who walks the lists as a person would.
//!
//! May live here: starting, asking, walking, comparing. May not: any rule of the shop; the daemon alone knows those.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::missing_panics_doc,
    clippy::disallowed_methods,
    reason = "a harness says what it misses by failing, and uses the real clock, files and sockets"
)]

pub mod at_line;
pub mod client;
pub mod days;
pub mod disk;
pub mod events;
pub mod explore;
pub mod faces;
pub mod http;
pub mod instance;
pub mod judge;
pub mod kills;
pub mod listeners;
pub mod load;
pub mod operator;
pub mod permits;
pub mod plan_verifier;
pub mod port;
pub mod power;
pub mod samples;
pub mod throw;
pub mod tls;
pub mod watch;
pub mod workshop;
