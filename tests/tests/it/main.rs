//! Whole-program tests.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and uses the real clock, files and sockets"
)]

mod bad_input;
mod cases;
mod day;
mod holding;
mod house;
mod killed;
mod plans;
mod shipped;
mod time_step;
mod whole_sheet;
