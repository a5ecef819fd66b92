//! What is to be judged, and whether everything it names is there.
//!
//! May live here: the case and its look-ups. May not: judging.

use super::bench::Bench;
use crate::shop::card::order;
use chargehand_types::card::{Bit, Card, Fastener, FastenerKind, FastenerPlace, Material, Operation, Stores, ZZero};
use chargehand_types::quantity::{Length, Metres};
use std::collections::BTreeMap;

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
    /// Who shares the work of the sheet map; their number never changes the answer.
    pub pool: &'a rayon::ThreadPool,
    /// Whether the working window is asked for too: many checks more.
    pub window: bool,
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
}

impl<'a> Case<'a> {
    /// The thickness judged with.
    #[must_use]
    pub fn thickness(&self) -> Length {
        self.thickness.unwrap_or(self.card.sheet.thickness)
    }

    /// Work Z of the sheet's upper face, with the zero where it is, and on its tape.
    pub(super) fn face_z(&self) -> Length {
        let lifted = match self.card.sheet.z_zero {
            ZZero::Top => Length::ZERO,
            ZZero::Bed => self.on_tape(),
        };
        self.card.sheet.face_z(self.thickness()) + lifted - self.bench.z_shift
    }

    /// How far tape under it lifts the sheet off the waste board: the thickest of the card's.
    pub(super) fn on_tape(&self) -> Length {
        let given = &self.card.holddown;
        let usual = given.places.is_empty().then_some(&given.fastener);
        let keys = given.places.iter().map(|place| place.with.as_ref().unwrap_or(&given.fastener)).chain(usual);
        let tapes = keys.filter_map(|key| self.stores.fasteners.get(key)).filter(|f| f.kind == FastenerKind::Tape);
        tapes.filter_map(|tape| tape.thickness).max().unwrap_or_default()
    }

    /// Its operations in the order they are cut.
    pub(super) fn in_order(&self) -> Vec<&'a Operation> {
        order(self.card).into_iter().filter_map(|at| self.card.operations.get(at)).collect()
    }

    pub(super) fn material(&self) -> Result<&'a Material, CannotJudge> {
        let key = &self.card.sheet.material;
        self.stores.materials.get(key).ok_or_else(|| CannotJudge::UnknownMaterial(key.clone()))
    }

    pub(super) fn bit(&self, operation: &Operation) -> Result<&'a Bit, CannotJudge> {
        let unknown = || CannotJudge::UnknownBit { operation: operation.name.clone(), bit: operation.bit.clone() };
        self.stores.bits.get(&operation.bit).ok_or_else(unknown)
    }

    pub(super) fn program(&self, operation: &Operation) -> Result<&'a [u8], CannotJudge> {
        let missing =
            || CannotJudge::NoProgram { operation: operation.name.clone(), program: operation.program.clone() };
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
