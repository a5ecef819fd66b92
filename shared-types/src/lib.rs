//! What the daemon and the terminal say to each other: quantities with units, cards, findings, stages, events,
//! requests and answers.
//!
//! Nothing here does I/O, reads a clock or decides anything. Only types of this crate cross the wire.

pub mod act;
pub mod backup;
pub mod bits;
pub mod brought;
pub mod calendar;
pub mod call;
pub mod card;
pub mod change;
pub mod check;
pub mod checklist;
pub mod draft;
pub mod event;
pub mod finding;
pub mod history;
pub mod holddown;
pub mod id;
pub mod label;
pub mod notice;
pub mod now;
pub mod people;
pub mod plan;
pub mod problem;
pub mod quantity;
pub mod queue;
pub mod record;
pub mod report;
pub mod secret;
pub mod stage;
pub mod upkeep;

/// The version of every JSON document on stdout and of every answer: `"schema": 1`.
pub const SCHEMA: u32 = 1;
