//! Whole-program tests.

mod cases;
mod house;
mod shipped;
mod time_step;
mod whole_sheet;
