//! Room `people`: who may do what. PINs and the waits after wrong ones, tokens for other machines, whether somebody
//! sits at the machine or is signed in from elsewhere, how many requests are taken, and what was refused.
//!
//! Pure: the moment, chance and what the system tells of a process come in as arguments. May live here: the book of
//! people and tokens as a value, every comparison of a secret. May not: a file, a socket, any rule of the floor.

mod book;
mod pin;
mod rate;
mod refusals;
mod remote;
#[cfg(test)]
mod tests;
mod token;
mod tries;

pub use book::{Book, BookFault, Looked};
pub use pin::{KeptPin, Pin, PinFault, SALT_BYTES};
pub use rate::{Addresses, Allowance, Bucket};
pub use refusals::{KEPT as REFUSALS_KEPT, Refusals};
pub use remote::{Process, remote};
pub use token::{Holder, TOKEN_BYTES, TOKENS_AT_MOST, Token};
pub use tries::{FREE, wait_after};
