//! The history summed up for the API: by revision with what was changed in each, and by bit.

use super::desk::FrontDesk;
use crate::api::desk::{Answer, Caller, Desk};
use crate::learn;
use crate::shop::card;
use chargehand_types::SCHEMA;
use chargehand_types::bits::NumberedBit;
use chargehand_types::history::{BitHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::id::{CardName, Revision};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Metres;
use std::collections::BTreeMap;

impl FrontDesk {
    /// What came of each revision; of one card with what was changed in it.
    ///
    /// # Errors
    /// When there is no such card.
    pub async fn revisions_so_far(&self, caller: Caller, asked: &HistoryQuery) -> Answer<RevisionHistory> {
        let only = asked.card.as_ref();
        if let Some(name) = only
            && !self.fold(|f| f.card(name).is_some())?
        {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no card `{name}` in the shop.")));
        }
        let mut rows = self.fold(|f| {
            let sheets = f.history(asked).sheets;
            let number = |name: &CardName, revision: &Revision| {
                let all = &f.card(name)?.revisions;
                all.iter().find(|r| r.revision == *revision).map(|r| r.number)
            };
            learn::revisions(&sheets, number)
        })?;
        if only.is_some() {
            for row in rows.iter_mut().filter(|r| r.number > 1) {
                // a revision that can no longer be read has no changes to show, and its sheets all the same
                let told = self.card_changes(caller.clone(), row.card.clone(), Some(row.number)).await;
                row.changes = told.map(|c| c.changes).unwrap_or_default();
            }
        }
        Ok(RevisionHistory { schema: SCHEMA, revisions: rows })
    }

    /// What came of each bit.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub fn bits_so_far(&self, asked: &HistoryQuery) -> Answer<BitHistory> {
        let (bits, physical) = self.fold(|f| {
            let sheets = f.history(asked).sheets;
            let mut known: BTreeMap<(CardName, Revision), Option<String>> = BTreeMap::new();
            let mut material = |sheet: &SheetRecord| {
                let key = (sheet.card.clone(), sheet.revision.clone());
                let read = || {
                    let text = &f.card(&sheet.card)?.revision(&sheet.revision)?.text;
                    card::read("card", text, &self.premises.stores).ok().map(|c| c.sheet.material)
                };
                known.entry(key).or_insert_with(read).clone()
            };
            let mut bits = learn::bits(&sheets, &mut material);
            bits.retain(|row| asked.bit.as_ref().is_none_or(|bit| row.bit == *bit));
            for row in &mut bits {
                row.cut_ever = f.bits().iter().find(|(b, _)| **b == row.bit).map_or(Metres::ZERO, |(_, way)| *way);
                row.life = self.premises.stores.bits.get(&row.bit.0).and_then(|b| b.life);
            }
            let wanted = |bit: &&NumberedBit| asked.bit.as_ref().is_none_or(|kind| bit.bit == *kind);
            let mut numbered = f.numbered_bits().filter(wanted).peekable();
            if numbered.peek().is_none() {
                return (bits, Vec::new());
            }
            // a life is told whole: where on it a sheet lies is known from all of them alone
            let all = f.history(&HistoryQuery { bit: asked.bit.clone(), ..HistoryQuery::default() }).sheets;
            let life = |bit: &NumberedBit| self.premises.stores.bits.get(&bit.bit.0).and_then(|b| b.life);
            let physical = learn::physical(numbered, &all, life, material);
            (bits, physical)
        })?;
        Ok(BitHistory { schema: SCHEMA, bits, physical })
    }
}
