//! Room `shop`: the text of what a shop writes down, turned into checked values, or into every fault with its place.
//!
//! May live here: the form of each file and the rules its values must keep. May not: opening files, clocks, and any
//! judgement of a program against a card.

pub mod card;
mod check;
pub mod checklist;
pub mod config;
pub mod fault;
pub mod nearest;
pub mod profile;
pub mod shelf;
pub mod stores;
pub mod text;
pub mod understands;

pub use check::{form_of_a_name, is_name};
