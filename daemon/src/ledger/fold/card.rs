//! Cards with their revisions, batches, and what was tried and passed, as the events tell them.
//!
//! May live here: plain facts. May not: anything read out of a card's text; that is `shop`.

use super::sheet::SheetState;
use chargehand_types::event::{Actor, StoredProgram};
use chargehand_types::finding::Code;
use chargehand_types::id::{BatchId, BitName, CardName, Revision, SheetId};
use chargehand_types::quantity::{Length, Seconds};
use chargehand_types::queue::SetOrder;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// A card of the shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardState {
    /// Its name.
    pub name: CardName,
    /// Oldest first; the last is the one new batches take.
    pub revisions: Vec<RevisionState>,
}

/// One revision of a card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RevisionState {
    /// From 1.
    pub number: u32,
    /// Its hash.
    pub revision: Revision,
    /// The card's text as it was.
    pub text: String,
    /// Its programs, on the shelf.
    pub programs: Vec<StoredProgram>,
    /// When it was added.
    pub added: DateTime<Utc>,
    /// Findings the owner signed.
    pub signed: Vec<SignedFinding>,
    /// The owner's approval of its first article.
    #[serde(default)]
    pub approved: Option<Approved>,
}

/// The owner's approval of a first article.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Approved {
    /// The sheet that was looked at.
    pub sheet: Option<SheetId>,
    /// Who.
    pub by: Option<Actor>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A finding the owner signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SignedFinding {
    /// What kind.
    pub code: Code,
    /// What the signature covers.
    pub fingerprint: String,
    /// Who.
    pub by: Option<Actor>,
    /// When.
    pub at: DateTime<Utc>,
}

impl CardState {
    /// The newest revision.
    #[must_use]
    pub fn newest(&self) -> Option<&RevisionState> {
        self.revisions.last()
    }

    /// The revision of this number.
    #[must_use]
    pub fn numbered(&self, number: u32) -> Option<&RevisionState> {
        self.revisions.iter().find(|r| r.number == number)
    }

    /// The newest record of this revision.
    #[must_use]
    pub fn revision(&self, revision: &Revision) -> Option<&RevisionState> {
        self.revisions.iter().rev().find(|r| r.revision == *revision)
    }

    /// Takes a revision in. The same one added again after another becomes the newest again, under a new number,
    /// and keeps its signatures: they cover the revision, not the moment.
    pub(super) fn add(&mut self, revision: &Revision, text: &str, programs: &[StoredProgram], at: DateTime<Utc>) {
        let known = self.revision(revision);
        let signed = known.map_or_else(Vec::new, |r| r.signed.clone());
        let approved = known.and_then(|r| r.approved.clone());
        let number = self.newest().map_or(1, |r| r.number.saturating_add(1));
        self.revisions.push(RevisionState {
            number,
            revision: revision.clone(),
            text: text.to_owned(),
            programs: programs.to_vec(),
            added: at,
            signed,
            approved,
        });
    }
}

impl RevisionState {
    /// Keeps a signature; a second one of the same finding replaces the first.
    pub(super) fn sign(&mut self, signed: SignedFinding) {
        self.signed.retain(|s| s.fingerprint != signed.fingerprint);
        self.signed.push(signed);
    }
}

/// A batch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchState {
    /// Its id.
    pub id: BatchId,
    /// Its place among all batches, from 1.
    pub number: u32,
    /// Its card.
    pub card: CardName,
    /// Its revision.
    pub revision: Revision,
    /// Its sheets, in order.
    pub sheets: Vec<SheetId>,
    /// When they are due.
    pub due: Option<DateTime<Utc>>,
    /// How much that matters.
    pub weight: f64,
    /// Seconds each operation should take, in the card's order.
    pub predicted: Vec<Seconds>,
    /// The sets it was added for.
    #[serde(default)]
    pub order: Option<SetOrder>,
    /// The last closing touch in it was off, of this sheet and by so much.
    #[serde(default)]
    pub doubt: Option<(SheetId, Length)>,
    /// No longer wanted.
    pub cancelled: bool,
    /// When it was added.
    pub added: DateTime<Utc>,
}

impl BatchState {
    /// Seconds one sheet should take.
    #[must_use]
    pub fn sheet_seconds(&self) -> Seconds {
        self.predicted.iter().fold(Seconds::ZERO, |sum, s| sum + *s)
    }
}

/// What makes a first article: change any of it and the next sheet is a first sheet again.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct TriedKey {
    /// The card.
    pub card: CardName,
    /// The revision.
    pub revision: Revision,
    /// The bits that cut it, sorted.
    pub bits: Vec<BitName>,
}

impl TriedKey {
    /// Of a sheet that was cut.
    #[must_use]
    pub fn of(sheet: &SheetState) -> Self {
        let mut bits: Vec<_> = sheet.bits.iter().map(|(bit, _)| bit.clone()).collect();
        bits.sort();
        Self { card: sheet.card.clone(), revision: sheet.revision.clone(), bits }
    }
}
