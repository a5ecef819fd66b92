//! Room `floor`: what happened in, the next stage of the sheet out, with what is allowed now, permits, and what to
//! write down.
//!
//! Its state is finite: no times, texts, ids or counters without an end. Timers are "due" flags. It knows nothing
//! of bytes. May live here: the one transition table, the start conditions, permits. May not: waiting, wording
//! (but for the sentences of a [`Refusal`]).
//!
//! The way round: [`step`] takes a [`State`] and a [`Happening`] and gives an [`Outcome`]; `app` keeps the new state
//! once the journal has it, then carries out the deeds in order. [`offers()`] asks the same table what would be
//! allowed, so a screen that is built from it cannot lie.

pub mod happening;
pub mod offers;
pub mod outcome;
pub mod permit;
pub mod refusal;
pub mod sheet;
pub mod state;

mod chain;
mod draft;
mod proofs;
mod table;

pub use happening::{Asked, BitAt, By, Happening, Reading, Tried};
pub use offers::{asks_run_down, decisions, offers};
pub use outcome::{Deed, Outcome};
pub use refusal::Refusal;
pub use sheet::{AtStage, Findings, OnMachine, OperationFacts, Ops, SheetFacts, Stopped, Watch};
pub use state::{Machine, Presence, Setup, State};
pub use table::step;

#[cfg(test)]
mod tests;
