//! Whole-program tests.

mod cases;
