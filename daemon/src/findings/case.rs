//! What is to be judged, and whether everything it names is there.
//!
//! May live here: the case, its look-ups, the order of operations. May not: judging.

use super::bench::Bench;
use chargehand_types::card::{Bit, Card, Fastener, FastenerPlace, Material, Operation, Stores};
use chargehand_types::quantity::{Length, Metres};
use std::collections::{BTreeMap, BTreeSet};

/// A card with all it is judged by.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    /// The card.
    pub card: &'a Card,
    /// Program bytes by the path the card gives.
    pub programs: &'a BTreeMap<String, Vec<u8>>,
    /// Bits, materials, fasteners.
    pub stores: &'a Stores,
    /// The machine.
    pub bench: &'a Bench,
    /// The caliper reading; the card's own thickness when left out.
    pub thickness: Option<Length>,
    /// Way already cut by a bit, by its key.
    pub bit_used: &'a BTreeMap<String, Metres>,
}

/// Why a case cannot be judged: something it names is not there.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CannotJudge {
    /// The program's bytes were not handed in.
    #[error("operation {operation}: the program {program} is missing; put it beside the card")]
    NoProgram {
        /// Whose.
        operation: String,
        /// Its path on the card.
        program: String,
    },
    /// No such bit.
    #[error("operation {operation}: bits.toml has no bit {bit}")]
    UnknownBit {
        /// Whose.
        operation: String,
        /// Its key.
        bit: String,
    },
    /// No such material.
    #[error("materials.toml has no material {0}")]
    UnknownMaterial(String),
    /// No such fastener.
    #[error("fasteners.toml has no fastener {0}")]
    UnknownFastener(String),
    /// An operation waits for one that is not on the card.
    #[error("operation {operation} comes after {after}, which is not on the card")]
    UnknownAfter {
        /// Which waits.
        operation: String,
        /// For what.
        after: String,
    },
    /// Operations wait for one another.
    #[error("these operations wait for one another, so none can be first: {}", .0.join(", "))]
    Circle(Vec<String>),
}

impl<'a> Case<'a> {
    /// The thickness judged with.
    #[must_use]
    pub fn thickness(&self) -> Length {
        self.thickness.unwrap_or(self.card.sheet.thickness)
    }

    pub(super) fn material(&self) -> Result<&'a Material, CannotJudge> {
        let key = &self.card.sheet.material;
        self.stores.materials.get(key).ok_or_else(|| CannotJudge::UnknownMaterial(key.clone()))
    }

    pub(super) fn bit(&self, operation: &Operation) -> Result<&'a Bit, CannotJudge> {
        let unknown = || CannotJudge::UnknownBit {
            operation: operation.name.clone(),
            bit: operation.bit.clone(),
        };
        self.stores.bits.get(&operation.bit).ok_or_else(unknown)
    }

    pub(super) fn program(&self, operation: &Operation) -> Result<&'a [u8], CannotJudge> {
        let missing = || CannotJudge::NoProgram {
            operation: operation.name.clone(),
            program: operation.program.clone(),
        };
        self.programs.get(&operation.program).map(Vec::as_slice).ok_or_else(missing)
    }

    pub(super) fn fastener(&self, place: &FastenerPlace) -> Result<&'a Fastener, CannotJudge> {
        let key = place.with.as_ref().unwrap_or(&self.card.holddown.fastener);
        self.stores.fasteners.get(key).ok_or_else(|| CannotJudge::UnknownFastener(key.clone()))
    }

    /// The key and the bit a T number calls, if the shop has one.
    pub(super) fn called(&self, tool: u32) -> Option<(&'a str, &'a Bit)> {
        let found = self.stores.bits.iter().find(|(_, bit)| bit.tool == Some(tool));
        found.map(|(key, bit)| (key.as_str(), bit))
    }
}

/// Operations in the order they would be cut: the card's own, each after those it waits for.
///
/// # Errors
/// When one waits for an operation that is not there, or some wait for one another.
pub fn order(card: &Card) -> Result<Vec<&Operation>, CannotJudge> {
    let known: BTreeSet<&str> = card.operations.iter().map(|o| o.name.as_str()).collect();
    for operation in &card.operations {
        if let Some(after) = operation.after.iter().find(|a| !known.contains(a.as_str())) {
            return Err(CannotJudge::UnknownAfter {
                operation: operation.name.clone(),
                after: after.clone(),
            });
        }
    }
    let mut waiting: Vec<&Operation> = card.operations.iter().collect();
    let mut done: BTreeSet<&str> = BTreeSet::new();
    let mut ordered = Vec::with_capacity(waiting.len());
    while !waiting.is_empty() {
        let free = |o: &&Operation| o.after.iter().all(|a| done.contains(a.as_str()));
        let Some(next) = waiting.iter().position(free) else {
            return Err(CannotJudge::Circle(waiting.iter().map(|o| o.name.clone()).collect()));
        };
        let operation = waiting.remove(next);
        done.insert(&operation.name);
        ordered.push(operation);
    }
    Ok(ordered)
}
