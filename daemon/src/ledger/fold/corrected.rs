//! Corrections of a sheet's record: a later event says how an earlier one should read. The earlier one is never edited;
//! the fold goes on with what was corrected, and keeps what was said first, who corrected it, when and why.
//!
//! May live here: what each kind of correction changes. May not: whether somebody may correct.

use super::sheet::SheetState;
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;
use chargehand_types::record::{Corrected, Correction};
use chargehand_types::stage::{Grade, Reason};
use serde_json::Value;

impl SheetState {
    /// Folds in what an event says about the record at `seq`.
    pub(super) fn correct(&mut self, event: &Event, seq: Seq, data: &Value, why: &str) {
        let said = serde_json::from_value::<What>(data.clone()).ok();
        let what = said.and_then(|said| self.corrected(seq, said)).unwrap_or(Corrected::Other);
        if what == Corrected::Other {
            self.note(event.seq, &format!("Record {seq} corrected: {why}"));
        }
        self.corrections.push(Correction {
            record: seq,
            by_record: event.seq,
            what,
            by: event.actor.clone(),
            at: event.at,
            why: why.to_owned(),
        });
    }

    /// What changes; none where the record is not of this sheet, or of another kind.
    fn corrected(&mut self, seq: Seq, said: What) -> Option<Corrected> {
        match said {
            What::PartChecked { index, grade, reason, .. } => self.part_corrected(seq, index, (grade, reason)),
            What::SheetMeasured { thickness } if self.measured_in == Some(seq) => {
                let was = std::mem::replace(&mut self.thickness, thickness);
                Some(Corrected::Thickness { was, now: self.thickness.clone() })
            }
            What::SheetNoted { text } => {
                let at = self.notes.iter().position(|note| note.record == seq)?;
                let note = self.notes.get_mut(at)?;
                let was = std::mem::replace(&mut note.text, text.clone());
                let number = u32::try_from(at).unwrap_or(u32::MAX).saturating_add(1);
                Some(Corrected::Note { number, was, now: text })
            }
            What::SheetClosed { grade, .. } if self.closed_in == Some(seq) => {
                let was = self.grade.replace(grade)?;
                Some(Corrected::Outcome { was, now: grade })
            }
            _ => None,
        }
    }

    fn part_corrected(&mut self, seq: Seq, index: u32, now: (Grade, Option<Reason>)) -> Option<Corrected> {
        let part = self.parts.iter_mut().find(|part| part.record == seq && part.index == index)?;
        let was = (part.grade, part.reason);
        (part.grade, part.reason) = now;
        Some(Corrected::Part { index, name: part.name.clone(), was, now })
    }
}
