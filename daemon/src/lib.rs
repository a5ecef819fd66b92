//! Chargehand's daemon: rooms in the order the work flows. An arrow between rooms points up this list, never down.
//!
//! Down to `practice` every room is pure: no clock, no files, no sockets, no chance; ticks, bytes and the seed come
//! in as arguments.

pub mod shop;

pub mod program;

pub mod sending;

pub mod timing;

pub mod sheetmap;

pub mod holddown;

pub mod findings;

pub mod calendar;

pub mod learn;

pub mod dayplan;

pub mod floor;

pub mod link;
pub mod notices;

pub mod practice;

pub mod ledger;

pub mod people;

pub mod rank;

pub mod serial;

pub mod simulator;

pub mod api;

pub mod app;
