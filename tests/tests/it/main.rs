//! Whole-program tests.

mod cases;
mod holding;
mod house;
mod killed;
mod shipped;
mod time_step;
mod whole_sheet;
