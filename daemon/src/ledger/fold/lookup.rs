//! Which sheets are of a card, of a batch, or were cut with a bit, which is on the machine and which wait, so that a
//! question need not look at every sheet ever cut: what is on the machine is asked with every event. It follows from the
//! sheets and is never stored.
//!
//! May live here: that. May not: what is asked for beside it.

use super::sheet::SheetState;
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::{BatchId, BitName, CardName, SheetId};
use chargehand_types::stage::Stage;
use std::collections::{BTreeMap, BTreeSet};

/// Sheets by what they are of.
#[derive(Debug, Clone, Default)]
pub struct Lookup {
    cards: BTreeMap<CardName, BTreeSet<SheetId>>,
    batches: BTreeMap<BatchId, BTreeSet<SheetId>>,
    bits: BTreeMap<BitName, BTreeSet<SheetId>>,
    on: BTreeSet<SheetId>,
    /// By their place among all sheets.
    waiting: BTreeMap<u64, SheetId>,
    sheets: usize,
}

/// What follows from the sheets is alike where they are.
impl PartialEq for Lookup {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Lookup {
    /// Takes in whether a sheet is on the machine, or waits to be.
    pub(super) fn stands(&mut self, sheet: &SheetState) {
        if !sheet.is_on_machine() {
            self.on.remove(&sheet.id);
        } else if !self.on.contains(&sheet.id) {
            self.on.insert(sheet.id.clone());
        }
        if sheet.stage != Stage::Queued || sheet.cancelled {
            self.waiting.remove(&sheet.place);
        } else {
            self.waiting.entry(sheet.place).or_insert_with(|| sheet.id.clone());
        }
    }

    /// The sheets that wait by their places, in order; none where sheets were not taken in.
    pub(super) fn waiting(&self, of: usize) -> Option<impl Iterator<Item = (&u64, &SheetId)>> {
        (self.sheets == of).then_some(self.waiting.iter())
    }

    /// The sheets on the machine, by id; none where sheets were not taken in.
    pub(super) fn on_machine(&self, of: usize) -> Option<&BTreeSet<SheetId>> {
        (self.sheets == of).then_some(&self.on)
    }

    /// Takes a sheet in, or what is new of one.
    pub(in crate::ledger) fn note(&mut self, sheet: &SheetState) {
        self.stands(sheet);
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
