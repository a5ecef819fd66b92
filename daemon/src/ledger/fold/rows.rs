//! The state as lists and records of the API show it.
//!
//! May live here: copying facts into the types that cross the wire. May not: facts of a card's text; the caller adds
//! those (title, findings, operation names).

use super::State;
use super::card::BatchState;
use super::sheet::{PartState, SheetState};
use chargehand_types::SCHEMA;
use chargehand_types::history::{HistoryQuery, SheetHistory, SheetRecord};
use chargehand_types::now::GradedPart;
use chargehand_types::queue::{BatchList, BatchRow, SheetList, SheetRow};
use chargehand_types::stage::Stage;

impl State {
    /// A batch as lists show it.
    #[must_use]
    pub fn batch_row(&self, batch: &BatchState) -> BatchRow {
        let sheets = batch.sheets.iter().filter_map(|id| self.sheets.get(id));
        let closed = sheets.filter(|s| s.stage == Stage::Closed).count();
        BatchRow {
            id: batch.id.clone(),
            card: batch.card.clone(),
            revision: batch.revision.clone(),
            sheets: count(batch.sheets.len()),
            closed: count(closed),
            due: batch.due,
            weight: batch.weight,
            cancelled: batch.cancelled,
        }
    }

    /// Every batch, oldest first.
    #[must_use]
    pub fn batch_list(&self) -> BatchList {
        let batches = self.batches().into_iter().map(|b| self.batch_row(b)).collect();
        BatchList { schema: SCHEMA, batches }
    }

    /// A sheet as lists show it, with the name of its operation at hand as the card has it.
    #[must_use]
    pub fn sheet_row(&self, sheet: &SheetState, operation: Option<String>) -> SheetRow {
        let batch = self.batches.get(&sheet.batch);
        SheetRow {
            id: sheet.id.clone(),
            batch: sheet.batch.clone(),
            card: sheet.card.clone(),
            stage: sheet.stage,
            operation,
            due: batch.and_then(|b| b.due),
            grade: sheet.grade,
            predicted: batch.map(BatchState::sheet_seconds).unwrap_or_default(),
        }
    }

    /// Every sheet in the order they would be cut: the one on the machine, those that wait, those set aside, and
    /// last the closed ones. `operation` names a sheet's operation at hand.
    pub fn sheet_list(&self, operation: impl Fn(&SheetState) -> Option<String>) -> SheetList {
        let mut sheets: Vec<_> = self.all_sheets().filter(|s| !s.cancelled).collect();
        sheets.sort_unstable_by_key(|s| (turn(s), s.place));
        let rows = sheets.into_iter().map(|s| self.sheet_row(s, operation(s))).collect();
        SheetList { schema: SCHEMA, sheets: rows }
    }

    /// Every sheet that was ever begun, in no order that tells anything.
    pub fn begun(&self) -> impl Iterator<Item = &SheetState> {
        self.all_sheets().filter(|s| s.begun.is_some())
    }

    /// Everything known of the sheets that were begun and are asked for, oldest first.
    #[must_use]
    pub fn history(&self, asked: &HistoryQuery) -> SheetHistory {
        let (sheets, older) = self.asked_for(asked);
        SheetHistory { schema: SCHEMA, sheets: sheets.into_iter().map(SheetState::record).collect(), older }
    }

    /// The sheets that were begun and are asked for, oldest first, and how many older ones are left out.
    #[must_use]
    pub fn asked_for(&self, asked: &HistoryQuery) -> (Vec<&SheetState>, u32) {
        let wanted = |s: &&SheetState| s.begun.is_some() && s.is_asked_for(asked);
        let mut sheets: Vec<_> = match self.lookup.among(asked, self.sheets.len()) {
            Some(some) => some.into_iter().filter_map(|id| self.sheet(id)).filter(wanted).collect(),
            None => self.all_sheets().filter(wanted).collect(),
        };
        sheets.sort_by_key(|s| (s.begun, s.place));
        let most = asked.newest.map_or(usize::MAX, |n| usize::try_from(n).unwrap_or(usize::MAX));
        let older = sheets.len().saturating_sub(most);
        (sheets.split_off(older), count(older))
    }
}

impl SheetState {
    /// Whether all that is said in a question applies to it; how many are wanted is not looked at.
    fn is_asked_for(&self, asked: &HistoryQuery) -> bool {
        asked.since.is_none_or(|since| self.last >= since)
            && asked.card.as_ref().is_none_or(|card| self.card == *card)
            && asked.batch.as_ref().is_none_or(|batch| self.batch == *batch)
            && asked.bit.as_ref().is_none_or(|bit| self.bits.iter().any(|(b, _)| b == bit))
            && asked.grade.is_none_or(|grade| self.grade == Some(grade))
    }

    /// Everything known of it.
    #[must_use]
    pub fn record(&self) -> SheetRecord {
        SheetRecord {
            sheet: self.id.clone(),
            batch: self.batch.clone(),
            card: self.card.clone(),
            revision: self.revision.clone(),
            stage: self.stage,
            begun: self.begun,
            closed: self.closed,
            operators: self.operators.clone(),
            thickness: self.thickness.clone(),
            fasteners: self.fasteners.clone(),
            operations: self.operations.clone(),
            bits: self.bits.clone(),
            stops: self.stops.clone(),
            stopped_in: self.stopped_in.clone(),
            parts: self.parts.iter().map(PartState::graded).collect(),
            grade: self.grade,
            notes: self.notes.iter().map(|note| note.text.clone()).chain(self.part_notes()).collect(),
            touched_again: self.touched_again.clone(),
            overrides: self.overrides.clone(),
            spent: self.spent.clone(),
            corrections: self.corrections.clone(),
            lot: self.lot.clone(),
            re_entries: self.re_entries.clone(),
            tabs: self.tabs,
            left: self.left.filter(|_| self.left_gone.is_none()),
            cost: None,
            joints: self.joints.clone(),
        }
    }

    fn part_notes(&self) -> impl Iterator<Item = String> {
        self.parts.iter().filter_map(|p| {
            p.note.as_ref().map(|note| {
                let number = p.index.saturating_add(1);
                format!("Part {number} ({}): {note}", p.name)
            })
        })
    }
}

impl PartState {
    /// As screens and records show it.
    #[must_use]
    pub fn graded(&self) -> GradedPart {
        GradedPart { index: self.index, name: self.name.clone(), grade: self.grade, reason: self.reason }
    }
}

/// Whose turn is earlier.
const fn turn(sheet: &SheetState) -> u8 {
    match sheet.stage {
        Stage::Queued => 1,
        Stage::SetAside => 2,
        Stage::Closed => 3,
        Stage::Securing
        | Stage::Tooling
        | Stage::Ready
        | Stage::Cutting
        | Stage::Held
        | Stage::Stopped
        | Stage::TakingOff
        | Stage::Checking => 0,
    }
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}
