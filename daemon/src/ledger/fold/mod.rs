//! The state of the shop as the fold of its events: pure, the same from the same events, and it never acts.
//!
//! May live here: one arm an event kind, the parts of the state, questions to it. May not: clocks, files, anything
//! that decides whether something is allowed (that is `floor`), anything that needs a card's text read (`shop`).

pub mod answered;
pub mod bits;
pub mod brought;
pub mod card;
mod corrected;
pub mod day;
mod lookup;
mod questions;
pub mod rows;
pub mod sheet;
pub mod upkeep;

use answered::Answered;
use card::{Approved, BatchState, CardState, RevisionState, SignedFinding, TriedKey};
use chargehand_types::bits::NumberedBit;
use chargehand_types::call::Call;
use chargehand_types::event::{Actor, Event, What};
use chargehand_types::id::{BatchId, BitName, BitNumber, CardName, Revision, Seq, SheetId, StageVersion};
use chargehand_types::now::PersonHere;
use chargehand_types::quantity::{Length, Metres, Spot};
use chargehand_types::stage::{Grade, Stage};
use chrono::{DateTime, Utc};
use day::DayState;
use lookup::Lookup;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sheet::SheetState;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use upkeep::UpkeepState;

/// The version of the fold: raise it whenever the same events would fold to something else or are kept in another
/// form, so that an index of an older build is rebuilt.
pub const FOLD_VERSION: u32 = 10;

/// Everything the shop knows, folded from its events.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct State {
    pub(in crate::ledger) cards: BTreeMap<CardName, CardState>,
    pub(in crate::ledger) batches: BTreeMap<BatchId, BatchState>,
    /// Shared with whoever has another fold of the same events, until one of them has more.
    pub(in crate::ledger) sheets: BTreeMap<SheetId, Arc<SheetState>>,
    pub(in crate::ledger) numbered: BTreeMap<BitNumber, NumberedBit>,
    #[serde(skip)]
    pub(in crate::ledger) lookup: Lookup,
    pub(in crate::ledger) answered: Answered,
    pub(in crate::ledger) rest: Rest,
}

/// What is small and stands alone.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(in crate::ledger) struct Rest {
    pub seq: Seq,
    pub version: StageVersion,
    pub floor: Option<Value>,
    pub people: Vec<PersonHere>,
    pub calls: BTreeMap<u64, Call>,
    pub calls_raised: u64,
    pub batches_added: u32,
    pub sheets_added: u64,
    pub bits: BTreeMap<BitName, Metres>,
    pub fitted: Option<FittedBit>,
    /// Diameters as read back last.
    #[serde(default)]
    pub measured: BTreeMap<BitName, Length>,
    pub holes: Vec<Hole>,
    #[serde(default)]
    pub stock: BTreeMap<String, (u32, DateTime<Utc>)>,
    pub tried: BTreeSet<TriedKey>,
    pub starts: u64,
    #[serde(default)]
    pub day: DayState,
    #[serde(default)]
    pub upkeep: UpkeepState,
    /// The wording of the cautions of stepping away that was signed last.
    #[serde(default)]
    pub cautions: Option<u32>,
    pub misfits: Misfits,
}

/// The bit a person last read back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittedBit {
    /// Its key.
    pub bit: BitName,
    /// As read back.
    pub diameter: Option<Length>,
    /// Which physical one, where the shop numbers them.
    #[serde(default)]
    pub number: Option<BitNumber>,
}

/// A hole in the waste board.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hole {
    /// The sheet that was fastened through it.
    pub sheet: SheetId,
    /// Where, in machine coordinates.
    pub at: Spot,
}

/// Events that name something the journal never told of. There are none unless the program has a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Misfits {
    /// How many.
    pub count: u64,
    /// The first one.
    pub first: Option<Seq>,
}

/// An event that names something unknown.
struct Misfit;

impl State {
    /// Folds one event in. Events come in their order, each once.
    pub fn apply(&mut self, event: &Event) {
        self.rest.seq = event.seq;
        if let Some(command) = &event.command_id {
            self.answered.remember(command, event.seq);
        }
        if self.fold(event).is_err() {
            self.rest.misfits.count = self.rest.misfits.count.saturating_add(1);
            self.rest.misfits.first.get_or_insert(event.seq);
        }
    }

    fn fold(&mut self, event: &Event) -> Result<(), Misfit> {
        let bit = if self.fold_bit(event) { Ok(()) } else { Err(Misfit) };
        let folded = self.fold_shop(event).and(bit).and(self.hand_to_sheet(event));
        if matches!(event.what, What::RecordCorrected { .. }) {
            self.review_tried(event.sheet.as_ref());
        }
        folded
    }

    /// What an event changes beside the sheet it names.
    fn fold_shop(&mut self, event: &Event) -> Result<(), Misfit> {
        let on = self.on_machine().map(|s| s.stage);
        self.rest.day.apply(event, on);
        self.rest.upkeep.apply(event);
        match &event.what {
            What::DaemonStarted { .. } => {
                self.rest.starts = self.rest.starts.saturating_add(1);
                // machine time begins anew
                let timed = self.sheets.values_mut().filter(|s| s.has_tick());
                timed.for_each(|sheet| Arc::make_mut(sheet).forget_tick());
            }
            What::CardAdded { .. } => self.add_card(event),
            What::BatchAdded { .. } => self.add_batch(event),
            What::BatchCancelled { batch } => self.cancel_batch(batch)?,
            What::StockCounted { stock, sheets } => {
                self.rest.stock.insert(stock.clone(), (*sheets, event.at));
            }
            What::FindingSigned { .. } => self.sign_finding(event)?,
            What::SheetBrought { sheet, row } => self.bring(event, sheet, row),
            What::ArticleApproved { card, revision } => {
                let approved = Approved { sheet: event.sheet.clone(), by: event.actor.clone(), at: event.at };
                self.revision_mut(card, revision)?.approved = Some(approved);
            }
            What::BitFitted { bit, diameter, number } => {
                self.rest.fitted = Some(FittedBit { bit: bit.clone(), diameter: *diameter, number: *number });
                if let Some(diameter) = diameter {
                    self.rest.measured.insert(bit.clone(), *diameter);
                }
            }
            What::PersonCame { who, role } => {
                self.rest.people.retain(|p| p.who != *who);
                self.rest.people.push(PersonHere { who: who.clone(), role: *role });
            }
            What::PersonLeft { who } => self.rest.people.retain(|p| p.who != *who),
            What::CallRaised { number, reason, text } => {
                self.rest.calls_raised = self.rest.calls_raised.max(*number);
                let call = Call { number: *number, reason: *reason, text: text.clone() };
                self.rest.calls.insert(*number, call);
            }
            What::CallAnswered { number } => {
                self.rest.calls.remove(number);
            }
            What::SheetStage { version, floor, .. } => {
                self.rest.version = *version;
                self.rest.floor = Some(floor.clone());
            }
            What::OperationFinished { bit, cut, .. } => {
                *self.rest.bits.entry(bit.clone()).or_default() += *cut;
            }
            What::SheetClosed { grade, .. } => self.note_tried(event.sheet.as_ref(), *grade)?,
            What::SheetFastened { holes, .. } => self.bore(event.sheet.as_ref(), holes)?,
            What::BoardRenewed => self.rest.holes.clear(),
            What::TouchedAgain { off, suspect, .. } => self.note_doubt(event.sheet.as_ref(), *off, *suspect)?,
            What::CautionsSigned { version } => self.rest.cautions = Some(*version),
            What::StepAnswered { .. }
            | What::JointMeasured { .. }
            | What::DayBegun { .. }
            | What::DaySigned { .. }
            | What::DayPassedOver { .. }
            | What::PeopleChanged { .. }
            | What::SheetSigned { .. }
            | What::SheetMeasured { .. }
            | What::ZeroSet { .. }
            | What::OperationStarted { .. }
            | What::PartChecked { .. }
            | What::SheetDecided { .. }
            | What::SheetNoted { .. }
            | What::BitBegan { .. }
            | What::BitMeasured { .. }
            | What::BitScrapped { .. }
            | What::SheetLot { .. }
            | What::SheetRemains { .. }
            | What::LeftGone { .. }
            | What::UpkeepDone { .. }
            | What::Overridden { .. }
            | What::StillThereAsked { .. }
            | What::StillThereAnswered
            | What::LinkUp { .. }
            | What::LinkDown { .. }
            | What::MachineHomed
            | What::PositionLost { .. }
            | What::ZeroConfirmed
            | What::RecordCorrected { .. } => {}
        }
        Ok(())
    }

    /// Hands the event to the sheet it names; nothing to do when it names none.
    fn hand_to_sheet(&mut self, event: &Event) -> Result<(), Misfit> {
        match &event.sheet {
            None => Ok(()),
            Some(id) => {
                let sheet = Arc::make_mut(self.sheets.get_mut(id).ok_or(Misfit)?);
                sheet.apply(event);
                self.lookup.stands(sheet);
                if matches!(event.what, What::OperationFinished { .. }) {
                    self.lookup.note(sheet);
                }
                Ok(())
            }
        }
    }

    /// Notes holes of a sheet; one that is there already is one hole.
    fn bore(&mut self, sheet: Option<&SheetId>, holes: &[Spot]) -> Result<(), Misfit> {
        let sheet = sheet.ok_or(Misfit)?;
        for at in holes {
            let hole = Hole { sheet: sheet.clone(), at: *at };
            if !self.rest.holes.contains(&hole) {
                self.rest.holes.push(hole);
            }
        }
        Ok(())
    }

    fn add_card(&mut self, event: &Event) {
        if let What::CardAdded { name, revision, text, programs } = &event.what {
            let card = self
                .cards
                .entry(name.clone())
                .or_insert_with(|| CardState { name: name.clone(), revisions: Vec::new() });
            card.add(revision, text, programs, event.at);
        }
    }

    fn add_batch(&mut self, event: &Event) {
        if let What::BatchAdded { batch, card, revision, sheets, due, weight, predicted, order } = &event.what {
            self.rest.batches_added = self.rest.batches_added.saturating_add(1);
            for (number, id) in (1u32..).zip(sheets) {
                self.rest.sheets_added = self.rest.sheets_added.saturating_add(1);
                let place = self.rest.sheets_added;
                let sheet = SheetState::queued(id, batch, card, revision, number, place, event.at);
                self.lookup.note(&sheet);
                self.sheets.insert(id.clone(), Arc::new(sheet));
            }
            let state = BatchState {
                id: batch.clone(),
                number: self.rest.batches_added,
                card: card.clone(),
                revision: revision.clone(),
                sheets: sheets.clone(),
                due: *due,
                weight: *weight,
                predicted: predicted.clone(),
                order: order.clone(),
                doubt: None,
                cancelled: false,
                added: event.at,
            };
            self.batches.insert(batch.clone(), state);
        }
    }

    fn cancel_batch(&mut self, batch: &BatchId) -> Result<(), Misfit> {
        let batch = self.batches.get_mut(batch).ok_or(Misfit)?;
        batch.cancelled = true;
        for id in &batch.sheets {
            if let Some(sheet) = self.sheets.get_mut(id)
                && sheet.stage == Stage::Queued
            {
                Arc::make_mut(sheet).cancelled = true;
                self.lookup.stands(sheet);
            }
        }
        Ok(())
    }

    fn note_tried(&mut self, sheet: Option<&SheetId>, grade: Grade) -> Result<(), Misfit> {
        let sheet = sheet.and_then(|id| self.sheets.get(id)).ok_or(Misfit)?;
        if grade == Grade::Good {
            self.rest.tried.insert(TriedKey::of(sheet));
        }
        Ok(())
    }

    /// After a correction a sheet may count as tried that did not, or the other way round.
    fn review_tried(&mut self, sheet: Option<&SheetId>) {
        let Some(sheet) = sheet.and_then(|id| self.sheets.get(id)).filter(|s| s.stage == Stage::Closed) else { return };
        let key = TriedKey::of(sheet);
        let of_it = |s: &&SheetState| s.card == key.card && s.revision == key.revision && s.grade == Some(Grade::Good);
        if self.all_sheets().filter(of_it).any(|s| TriedKey::of(s) == key) {
            self.rest.tried.insert(key);
        } else {
            self.rest.tried.remove(&key);
        }
    }

    /// A batch is doubted from a closing touch that was off to the next one that was not.
    fn note_doubt(&mut self, sheet: Option<&SheetId>, off: Length, suspect: bool) -> Result<(), Misfit> {
        let sheet = sheet.and_then(|id| self.sheets.get(id)).ok_or(Misfit)?;
        let batch = self.batches.get_mut(&sheet.batch).ok_or(Misfit)?;
        batch.doubt = suspect.then(|| (sheet.id.clone(), off));
        Ok(())
    }

    fn sign_finding(&mut self, event: &Event) -> Result<(), Misfit> {
        if let What::FindingSigned { card, revision, code, fingerprint } = &event.what {
            let signed =
                SignedFinding { code: *code, fingerprint: fingerprint.clone(), by: event.actor.clone(), at: event.at };
            self.revision_mut(card, revision)?.sign(signed);
        }
        Ok(())
    }

    fn revision_mut(&mut self, card: &CardName, revision: &Revision) -> Result<&mut RevisionState, Misfit> {
        let card = self.cards.get_mut(card).ok_or(Misfit)?;
        card.revisions.iter_mut().rev().find(|r| r.revision == *revision).ok_or(Misfit)
    }
}

/// Whether an actor is already in a list; adds it if not.
fn note_actor(list: &mut Vec<Actor>, actor: Option<&Actor>) {
    if let Some(actor) = actor
        && !list.contains(actor)
    {
        list.push(actor.clone());
    }
}
