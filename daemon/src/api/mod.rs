//! Room `api`: HTTP/1.1 and JSON on a Unix socket, problems as RFC 9457, events as a stream that can be taken up
//! again anywhere.
//!
//! The order of a start: [`Door::open`] takes the socket (and fails early, with a sentence), [`Token::make`] and
//! [`Token::write_beside`] give the terminal at the machine its right, [`serve()`] answers with what a [`Desk`] says.
//!
//! May live here: everything that is HTTP, the socket, the token. May not: any rule of the shop.

mod ask;
mod card_page;
pub mod desk;
pub mod door;
pub mod fault;
mod metrics;
mod openapi;
mod plain;
mod reply;
mod routes;
pub mod serve;
mod stream;
pub mod token;

pub use ask::{BODY_MOST, CARD_BODY_MOST, NAME_MOST};
pub use desk::{Answer, Caller, Desk, Live};
pub use door::Door;
pub use fault::ApiFault;
pub use serve::{Limits, serve};
pub use token::Token;

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
pub(crate) mod tests;
