//! Tests of the room as a whole: a scripted shift on a disk that crashes on demand, and on a real folder.
//!
//! May live here: the script, the crashing disk, the promises of the journal and the store. May not: product code.

mod backed_up;
mod crash;
mod disk;
mod folding;
mod killed;
mod old;
mod rescued;
mod sealing;
mod shift;
mod store;
mod torn;
