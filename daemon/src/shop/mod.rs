//! Room `shop`: the text of what a shop owns in (cards, bits, materials, fasteners, machine, profiles, checklists),
//! checked values out, or every fault with its place.
//!
//! May live here: formats and their checks. May not: files (text comes in as an argument), programs, formulas.

pub mod card;
pub mod checklist;
pub mod config;
pub mod fault;
pub mod profile;
pub mod stores;
#[cfg(test)]
mod tests;
pub mod text;
pub mod understands;
