//! Whole-program tests.

mod cases;
mod shipped;
