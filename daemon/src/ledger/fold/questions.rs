//! Questions to the state.
//!
//! May live here: looking things up. May not: changing anything, wire types (that is `rows`).

use super::card::{Approved, BatchState, CardState, SignedFinding, TriedKey};
use super::sheet::SheetState;
use super::{FittedBit, Misfits, State};
use chargehand_types::call::Call;
use chargehand_types::id::{BatchId, BitName, CardName, CommandId, Revision, Seq, SheetId, StageVersion};
use chargehand_types::now::PersonHere;
use chargehand_types::quantity::{Length, Metres, Spot};
use chargehand_types::stage::{Grade, Stage};
use chrono::{DateTime, Utc};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

impl State {
    /// The last event folded in.
    #[must_use]
    pub const fn seq(&self) -> Seq {
        self.rest.seq
    }

    /// The newest stage version.
    #[must_use]
    pub const fn version(&self) -> StageVersion {
        self.rest.version
    }

    /// The small state of the floor as it wrote it last.
    #[must_use]
    pub const fn floor(&self) -> Option<&Value> {
        self.rest.floor.as_ref()
    }

    /// The wording of the cautions of stepping away that was signed last.
    #[must_use]
    pub const fn cautions(&self) -> Option<u32> {
        self.rest.cautions
    }

    /// Every card, by name.
    pub fn cards(&self) -> impl Iterator<Item = &CardState> {
        self.cards.values()
    }

    /// One card.
    #[must_use]
    pub fn card(&self, name: &CardName) -> Option<&CardState> {
        self.cards.get(name)
    }

    /// Every batch, oldest first.
    #[must_use]
    pub fn batches(&self) -> Vec<&BatchState> {
        let mut all: Vec<_> = self.batches.values().collect();
        all.sort_by_key(|b| b.number);
        all
    }

    /// One batch.
    #[must_use]
    pub fn batch(&self, id: &BatchId) -> Option<&BatchState> {
        self.batches.get(id)
    }

    /// One sheet.
    #[must_use]
    pub fn sheet(&self, id: &SheetId) -> Option<&SheetState> {
        self.sheets.get(id).map(Arc::as_ref)
    }

    /// Every sheet, those called off as well, by id.
    pub(super) fn all_sheets(&self) -> impl Iterator<Item = &SheetState> {
        self.sheets.values().map(Arc::as_ref)
    }

    /// Every sheet that was ever wanted and not called off, in the order they were added.
    #[must_use]
    pub fn sheets(&self) -> Vec<&SheetState> {
        let mut all: Vec<_> = self.all_sheets().filter(|s| !s.cancelled).collect();
        all.sort_by_key(|s| s.place);
        all
    }

    /// Sheets that wait for their turn, in order.
    #[must_use]
    pub fn waiting(&self) -> Vec<&SheetState> {
        match self.lookup.waiting(self.sheets.len()) {
            Some(of) => of.filter_map(|(place, id)| self.at_place(*place, id)).collect(),
            None => self.sheets().into_iter().filter(|s| s.stage == Stage::Queued).collect(),
        }
    }

    /// The sheet that would be taken next.
    #[must_use]
    pub fn next_sheet(&self) -> Option<&SheetState> {
        match self.lookup.waiting(self.sheets.len()) {
            Some(mut of) => of.find_map(|(place, id)| self.at_place(*place, id)),
            None => self.all_sheets().filter(|s| !s.cancelled && s.stage == Stage::Queued).min_by_key(|s| s.place),
        }
    }

    /// A sheet, if it has that place: one that was added again has another.
    fn at_place(&self, place: u64, id: &SheetId) -> Option<&SheetState> {
        self.sheet(id).filter(|sheet| sheet.place == place)
    }

    /// The sheet on the machine.
    #[must_use]
    pub fn on_machine(&self) -> Option<&SheetState> {
        match self.lookup.on_machine(self.sheets.len()) {
            Some(on) => on.first().and_then(|id| self.sheet(id)),
            None => self.all_sheets().find(|s| s.is_on_machine()),
        }
    }

    /// Who is signed in at the machine, in order of coming.
    #[must_use]
    pub fn people(&self) -> &[PersonHere] {
        &self.rest.people
    }

    /// Open calls, oldest first.
    pub fn calls(&self) -> impl Iterator<Item = &Call> {
        self.rest.calls.values()
    }

    /// The number of the next call.
    #[must_use]
    pub const fn next_call(&self) -> u64 {
        self.rest.calls_raised.saturating_add(1)
    }

    /// The id of the next batch.
    #[must_use]
    pub fn next_batch(&self) -> BatchId {
        BatchId(format!("B{}", self.rest.batches_added.saturating_add(1)))
    }

    /// Way a bit has cut here.
    #[must_use]
    pub fn bit_used(&self, bit: &BitName) -> Metres {
        self.rest.bits.get(bit).copied().unwrap_or_default()
    }

    /// Way every bit has cut here.
    #[must_use]
    pub const fn bits(&self) -> &BTreeMap<BitName, Metres> {
        &self.rest.bits
    }

    /// The bit a person last read back.
    #[must_use]
    pub const fn fitted(&self) -> Option<&FittedBit> {
        self.rest.fitted.as_ref()
    }

    /// The diameter of each bit as it was read back last.
    #[must_use]
    pub const fn measured_bits(&self) -> &BTreeMap<BitName, Length> {
        &self.rest.measured
    }

    /// Sheets of a kind of stock as last counted, and when that was.
    #[must_use]
    pub fn stock_counted(&self, stock: &str) -> Option<(u32, DateTime<Utc>)> {
        self.rest.stock.get(stock).copied()
    }

    /// Holes in the waste board, in machine coordinates, beside those of one sheet: it is fastened anew through its own.
    #[must_use]
    pub fn holes(&self, beside: Option<&SheetId>) -> Vec<Spot> {
        self.rest.holes.iter().filter(|hole| Some(&hole.sheet) != beside).map(|hole| hole.at).collect()
    }

    /// Findings signed for this revision of a card.
    #[must_use]
    pub fn signed(&self, card: &CardName, revision: &Revision) -> &[SignedFinding] {
        self.cards
            .get(card)
            .and_then(|c| c.revisions.iter().rev().find(|r| r.revision == *revision))
            .map_or(&[], |r| r.signed.as_slice())
    }

    /// Whether a sheet of this revision was closed good, with whatever bits.
    #[must_use]
    pub fn is_tried(&self, card: &CardName, revision: &Revision) -> bool {
        self.rest.tried.iter().any(|t| t.card == *card && t.revision == *revision)
    }

    /// The owner's approval of a revision's first article.
    #[must_use]
    pub fn approved(&self, card: &CardName, revision: &Revision) -> Option<&Approved> {
        self.cards.get(card)?.revision(revision)?.approved.as_ref()
    }

    /// The sheet of a revision that came out good first, while its approval is awaited.
    #[must_use]
    pub fn to_approve(&self, card: &CardName, revision: &Revision) -> Option<&SheetState> {
        if self.approved(card, revision).is_some() {
            return None;
        }
        let of_it = |s: &&SheetState| s.card == *card && s.revision == *revision && s.grade == Some(Grade::Good);
        self.all_sheets().filter(of_it).min_by_key(|s| s.closed)
    }

    /// What was tried and passed.
    #[must_use]
    pub const fn tried(&self) -> &BTreeSet<TriedKey> {
        &self.rest.tried
    }

    /// The first event a command caused, while it is among the last [`super::answered::KEPT`] commands.
    #[must_use]
    pub fn answered(&self, command: &CommandId) -> Option<Seq> {
        self.answered.first(command)
    }

    /// The lists of the day.
    #[must_use]
    pub const fn day(&self) -> &super::day::DayState {
        &self.rest.day
    }

    /// How far the machine has run, and what of its upkeep was done when.
    #[must_use]
    pub const fn upkeep(&self) -> &super::upkeep::UpkeepState {
        &self.rest.upkeep
    }

    /// How often the daemon was started on this store.
    #[must_use]
    pub const fn starts(&self) -> u64 {
        self.rest.starts
    }

    /// Events that named something unknown; for the doctor.
    #[must_use]
    pub const fn misfits(&self) -> Misfits {
        self.rest.misfits
    }
}
