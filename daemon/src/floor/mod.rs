//! Room `floor`: what happened in, the next stage of the sheet out, with what is allowed now, permits, and what to
//! write down.
//!
//! Its state is finite: no times, texts, ids or counters without an end. Timers are "due" flags. It knows nothing
//! of bytes. May live here: the one transition table, the start conditions, permits. May not: waiting, wording
//! (but for the sentences of refusals).

mod acts;
pub mod happening;
mod machine;
mod offers;
pub mod permit;
mod proofs;
pub mod refusal;
pub mod state;
mod table;
#[cfg(test)]
mod tests;

pub use offers::offers;
pub use table::step;
