//! Tests of the room on a real socket, with a desk of their own.
//!
//! May live here: the tests' desk, a plain HTTP client, the promises of the API. May not: product code.

mod acts;
mod client;
pub(crate) mod desk;
mod faults;
mod plain;
mod slow;
mod socket;
mod streams;
