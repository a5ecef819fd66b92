//! From which lot a sheet is, and what is left of sheets that are cut.
//!
//! May live here: those records and their list, and the cost and planned hand time of a record. May not: the search for a
//! rest, which is `findings`'s.

use super::corrections::words;
use super::desk::FrontDesk;
use super::effort::spent;
use super::planning::wares::Cards;
use super::premises::Premises;
use crate::api::Answer;
use crate::api::desk::Caller;
use crate::ledger::State as Fold;
use chargehand_types::SCHEMA;
use chargehand_types::card::{Card, Stores};
use chargehand_types::event::What;
use chargehand_types::history::SheetRecord;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Seconds, plain};
use chargehand_types::queue::Done;
use chargehand_types::record::{Left, LeftGone, LeftList, LeftRow, NameLot};
use chargehand_types::stage::Stage;
use std::cmp::Reverse;

/// A rest is of the thickness a card asks for if it differs by no more than sheets of one label do.
const ONE_THICKNESS: f64 = 1.1;
/// Rests that are offered for a card at most.
const OFFERED: usize = 3;

fn no_sheet(id: &SheetId) -> Problem {
    Problem::new(ProblemKind::NotFound, format!("There is no sheet {id}."))
}

fn done(said: String, id: SheetId) -> Done {
    Done { schema: SCHEMA, said, id: Some(id.0), revision: None, findings: Vec::new(), changes: None }
}

impl FrontDesk {
    /// Writes down from which lot a sheet is.
    ///
    /// # Errors
    /// When there is no such sheet.
    pub(super) async fn lot_named(&self, caller: Caller, id: SheetId, request: NameLot) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let lot = words(&request.lot, "Say which lot, as the supplier marks it.")?;
        self.fold(|f| f.sheet(&id).map(|_| ()))?.ok_or_else(|| no_sheet(&id))?;
        let said = format!("{id} is of lot {lot}.");
        let draft = self.draft(&request.command_id, What::SheetLot { lot }).on(id.clone()).by(by);
        self.record(draft, request.command_id, done(said, id)).await
    }

    /// Rests that are there, the largest first.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn rests(&self) -> Answer<LeftList> {
        let left = self.fold(|f| rows(f, &self.premises.stores))?;
        Ok(LeftList { schema: SCHEMA, left })
    }

    /// A rest is there no more.
    ///
    /// # Errors
    /// When nothing is left of that sheet.
    pub(super) async fn rest_gone(&self, caller: Caller, id: SheetId, request: LeftGone) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let why = words(&request.why, "Say what became of it: used for something, thrown away.")?;
        let there = self.fold(|f| f.sheet(&id).map(|s| s.left.is_some() && s.left_gone.is_none()))?;
        if !there.ok_or_else(|| no_sheet(&id))? {
            return Err(Problem::new(ProblemKind::NotFound, format!("Nothing is left of {id}.")));
        }
        let said = format!("What was left of {id} is there no more.");
        let draft = self.draft(&request.command_id, What::LeftGone { why }).on(id.clone()).by(by);
        self.record(draft, request.command_id, done(said, id)).await
    }

    /// Adds to records what prices and plans say: cost, and the hand time that was planned.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn complete(&self, records: &mut [SheetRecord]) -> Answer<()> {
        self.fold(|f| complete(f, &self.premises, records))
    }
}

/// Adds to records what prices and plans say.
pub(super) fn complete(fold: &Fold, premises: &Premises, records: &mut [SheetRecord]) {
    let (config, stores) = (&premises.config, &premises.stores);
    let mut cards = Cards::new(fold, stores);
    let times = config.hours.hand_times;
    let minutes = |m: u32| Seconds::of(f64::from(m) * 60.0);
    for record in records {
        let mut bit: Option<&BitName> = None;
        for (nth, operation) in record.operations.iter_mut().enumerate() {
            let load = if nth == 0 { minutes(times.load.0) } else { Seconds::ZERO };
            let change = operation.bit.is_some() && operation.bit.as_ref() != bit;
            let change = if change { minutes(times.bit_change.0) } else { Seconds::ZERO };
            operation.waiting_predicted = Some(load + change);
            bit = operation.bit.as_ref();
        }
        if record.stage == Stage::Closed && record.begun.is_some() {
            record.cost = spent(stores, config, &mut cards, &[&*record]);
        }
    }
}

/// Every rest that is there, the largest first.
fn rows(fold: &Fold, stores: &Stores) -> Vec<LeftRow> {
    let mut cards = Cards::new(fold, stores);
    let mut rows: Vec<LeftRow> = Vec::new();
    for sheet in fold.sheets() {
        let (Some(left), None) = (sheet.left, &sheet.left_gone) else { continue };
        let Some(card) = cards.of(&sheet.card, &sheet.revision) else { continue };
        rows.push(LeftRow {
            sheet: sheet.id.clone(),
            material: card.sheet.material.clone(),
            thickness: sheet.thickness.iter().max().copied().unwrap_or(card.sheet.thickness),
            lot: sheet.lot.clone(),
            left,
            closed: sheet.closed,
        });
    }
    rows.sort_by_key(|row| Reverse(i128::from(row.left.size[0].0) * i128::from(row.left.size[1].0)));
    rows
}

/// Rests from which sheets of a card could be cut, as a sentence; the smallest that will do first. Nothing where there
/// is none.
#[must_use]
pub fn offered(fold: &Fold, stores: &Stores, card: &Card) -> Option<String> {
    let fits = |row: &LeftRow| {
        row.material == card.sheet.material
            && (row.thickness - card.sheet.thickness).mm().abs() <= ONE_THICKNESS
            && is_within(card.sheet.size, row.left.size, card.sheet.grain.is_none())
    };
    let told: Vec<String> = rows(fold, stores)
        .iter()
        .rev()
        .filter(|row| fits(row))
        .take(OFFERED)
        .map(|row| format!("{} of {}", size(&row.left), row.sheet))
        .collect();
    (!told.is_empty()).then(|| format!("A rest would do for one of them: {}.", told.join(", or ")))
}

/// Whether a sheet lies within a rest; turned too, where its grain does not matter.
fn is_within(sheet: [Length; 2], rest: [Length; 2], may_turn: bool) -> bool {
    let within = |[x, y]: [Length; 2]| x <= rest[0] && y <= rest[1];
    within(sheet) || (may_turn && within([sheet[1], sheet[0]]))
}

fn size(left: &Left) -> String {
    let [x, y] = left.size.map(|side| plain(side.mm()));
    format!("{x} x {y} mm")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_with_grain_is_not_turned() {
        let [sheet, rest] = [[300, 500], [510, 320]].map(|s| s.map(Length::whole_mm));
        assert!(!is_within(sheet, rest, false) && is_within(sheet, rest, true));
        assert!(is_within(sheet, [sheet[0], sheet[1]], false));
    }
}
