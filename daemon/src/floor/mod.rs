//! Room `floor`: what happened in, the next stage of the sheet out, with what is allowed now, permits, and what to
//! write down.
//!
//! Its state is finite: no times, texts, ids or counters without an end. Timers are "due" flags. It knows nothing
//! of bytes. May live here: the one transition table, the start conditions, permits. May not: waiting, wording.

pub mod permit;
