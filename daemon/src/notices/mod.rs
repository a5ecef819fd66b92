//! Room `notices`: tells people and other programs outside the shop what happens in it. A call goes out as a signed
//! request or a letter by the shop's rules; states go to a message broker and to readers of machine states.
//!
//! Nothing here is ever waited for by the machine: everything is read from the desk and the event stream, as any other
//! client of the API does, and a receiver that is dead costs a task of its own.
//!
//! May live here: wires to the outside, their forms, who is told when. May not: any decision about a sheet.

mod adapter;
mod broker;
mod envelope;
mod letter;
mod mail;
mod monitor;
mod rules;
mod secret;
mod signing;
mod standing;
mod telling;
mod unheard;
mod way;
mod web;
mod wire;

pub use adapter::serve as serve_adapter;
pub use broker::{BrokerKeys, publish as publish_to_broker};
pub use secret::Secret;
pub use standing::{Standing, keep as keep_standing};
pub use telling::{Patience, Teller, tell_calls};
pub use unheard::Unheard;
pub use way::{Receiver, WayFault, receivers};
pub use wire::Trust;

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests;
