//! Which sheets are of a card, of a batch, or were cut with a bit, so that a question to the history need not look at
//! every sheet ever cut. It follows from the sheets and is never stored.
//!
//! May live here: that. May not: what is asked for beside it.

use super::sheet::SheetState;
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::{BatchId, BitName, CardName, SheetId};
use std::collections::{BTreeMap, BTreeSet};

/// Sheets by what they are of.
#[derive(Debug, Clone, Default)]
pub struct Lookup {
    cards: BTreeMap<CardName, BTreeSet<SheetId>>,
    batches: BTreeMap<BatchId, BTreeSet<SheetId>>,
    bits: BTreeMap<BitName, BTreeSet<SheetId>>,
    sheets: usize,
}

/// What follows from the sheets is alike where they are.
impl PartialEq for Lookup {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Lookup {
    /// Takes a sheet in, or what is new of one.
    pub(in crate::ledger) fn note(&mut self, sheet: &SheetState) {
        if self.cards.entry(sheet.card.clone()).or_default().insert(sheet.id.clone()) {
            self.sheets += 1;
            self.batches.entry(sheet.batch.clone()).or_default().insert(sheet.id.clone());
        }
        for (bit, _) in &sheet.bits {
            let known = self.bits.get(bit).is_some_and(|sheets| sheets.contains(&sheet.id));
            if !known {
                self.bits.entry(bit.clone()).or_default().insert(sheet.id.clone());
            }
        }
    }

    /// The fewest sheets among which all that are asked for must be; none where nothing narrows it, or where sheets were
    /// not taken in.
    pub(super) fn among(&self, asked: &HistoryQuery, of: usize) -> Option<Vec<&SheetId>> {
        if self.sheets != of {
            return None;
        }
        let card = asked.card.as_ref().map(|card| self.cards.get(card));
        let batch = asked.batch.as_ref().map(|batch| self.batches.get(batch));
        let bit = asked.bit.as_ref().map(|bit| self.bits.get(bit));
        let fewest = [card, batch, bit].into_iter().flatten().min_by_key(|sheets| sheets.map_or(0, BTreeSet::len))?;
        Some(fewest.into_iter().flatten().collect())
    }
}
