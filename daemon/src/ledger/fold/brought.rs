//! Sheets that were cut before Chargehand: closed from the first moment, and of a revision that nobody knows.
//!
//! May live here: a row as a sheet of the history. May not: reading rows.

use super::State;
use super::sheet::{NoteState, PartState, SheetState};
use chargehand_types::brought::BroughtSheet;
use chargehand_types::event::{Actor, Event};
use chargehand_types::history::OperationRecord;
use chargehand_types::id::SheetId;
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::{Grade, Role, Stage};
use chrono::TimeDelta;
use std::sync::Arc;

/// The revision of a sheet that was cut before its programs were kept.
pub const BEFORE: &str = "before";

impl State {
    /// Takes a row in; the same one again changes nothing.
    pub(super) fn bring(&mut self, event: &Event, id: &SheetId, row: &BroughtSheet) {
        if self.sheets.contains_key(id) {
            return;
        }
        self.rest.sheets_added = self.rest.sheets_added.saturating_add(1);
        let batch = row.batch.as_ref().map_or_else(|| BEFORE.to_owned(), |batch| format!("{BEFORE}-{batch}"));
        let (batch, card, revision) = (batch.into(), row.card.as_str().into(), BEFORE.into());
        let place = self.rest.sheets_added;
        let mut sheet = SheetState::queued(id, &batch, &card, &revision, 1, place, row.closed);
        sheet.stage = Stage::Closed;
        let took = row.real.unwrap_or(Seconds::ZERO);
        #[expect(clippy::cast_possible_truncation, reason = "seconds of one sheet")]
        let took = TimeDelta::seconds(took.value() as i64);
        sheet.begun = Some(row.closed - took);
        sheet.closed = Some(row.closed);
        sheet.grade = Some(row.grade);
        sheet.closed_in = Some(event.seq);
        sheet.lot.clone_from(&row.lot);
        sheet.thickness = row.thickness.into_iter().collect();
        let by = row.by.as_ref().map(|who| Actor { who: who.as_str().into(), role: Role::Helper });
        sheet.operators = by.into_iter().collect();
        sheet.notes = row.note.iter().map(|text| NoteState { record: event.seq, text: text.clone() }).collect();
        let bit = row.bit.as_ref().map(|bit| bit.as_str().into());
        let cut = row.cut.unwrap_or_default();
        if row.real.is_some() || row.cut.is_some() || bit.is_some() {
            sheet.bits = bit.iter().cloned().map(|bit| (bit, cut)).collect();
            sheet.operations = vec![OperationRecord {
                name: "all of it".to_owned(),
                bit,
                predicted: row.predicted.unwrap_or_default(),
                real: row.real,
                held: Seconds::ZERO,
                cut,
                number: None,
                waiting: Seconds::ZERO,
                waiting_predicted: None,
            }];
        }
        let grades = [Grade::Good, Grade::Rework, Grade::Scrap].into_iter().zip(row.parts);
        let grades = grades.flat_map(|(grade, count)| (0..count).map(move |_| grade));
        let part = |(index, grade): (u32, Grade)| PartState {
            index,
            name: format!("part {}", index.saturating_add(1)),
            grade,
            reason: row.reason.filter(|_| grade != Grade::Good),
            note: None,
            record: event.seq,
        };
        sheet.parts = (0..).zip(grades).map(part).collect();
        self.lookup.note(&sheet);
        self.sheets.insert(id.clone(), Arc::new(sheet));
    }
}
