//! Whole-program tests.

mod cases;
mod house;
mod time_step;
