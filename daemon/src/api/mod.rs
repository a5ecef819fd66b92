//! Room `api`.

pub mod desk;

pub use desk::{Answer, Caller, Desk, Live};
