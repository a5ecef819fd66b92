//! Whole-program tests.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

mod cases;
mod time_step;
