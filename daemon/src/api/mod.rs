//! Room `api`: HTTP/1.1 and JSON on a Unix socket, and over TCP with TLS where config asks for it; problems as RFC 9457, events as a stream that can be taken up
//! again anywhere.
//!
//! The order of a start: [`Door::open`] takes the socket (and fails early, with a sentence), [`Token::make`] and
//! [`Token::write_beside`] give the terminal at the machine its right, [`serve()`] answers with what a [`Desk`] says.
//!
//! May live here: everything that is HTTP, the socket, the token. May not: any rule of the shop.

mod ask;
pub mod books;
mod card_page;
pub mod certificate;
mod connection;
pub mod desk;
pub mod door;
pub mod fault;
mod front;
pub mod gate;
mod guard;
mod metrics;
pub mod network;
mod openapi;
mod origin;
mod patience;
mod plain;
mod reply;
mod rights;
mod routes;
pub mod serve;
mod stream;
pub mod token;
mod unrolled;
mod validity;

pub use ask::{BODY_MOST, CARD_BODY_MOST, NAME_MOST};
pub use certificate::{CertificateFault, Identity};
pub use desk::{Answer, Caller, Desk, Live};
pub use door::Door;
pub use fault::ApiFault;
pub use gate::{Gate, Guest, Turned};
pub use network::NetworkDoor;
pub use serve::{Doors, Limits, serve};
pub use token::Token;

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
pub(crate) mod tests;
