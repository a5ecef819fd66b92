//! Cards, batches and sheets as lists show them.

use crate::change::CardChanges;
use crate::finding::Finding;
use crate::id::{BatchId, BitName, CardName, CommandId, Revision, SheetId};
use crate::quantity::{Length, Seconds};
use crate::stage::{Grade, Stage};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// `POST /v1/cards`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AddCard {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// The card and its programs.
    pub files: crate::check::CardFiles,
}

/// A card of the shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardRow {
    /// Its name.
    pub name: CardName,
    /// For people.
    pub title: String,
    /// The newest revision.
    pub revision: Revision,
    /// Its number, from 1.
    pub number: u32,
    /// When it was added.
    pub added: DateTime<Utc>,
    /// Findings that stop it, need a signature, or only tell.
    pub findings: [u32; 3],
    /// Seconds all its operations should take.
    pub seconds: Seconds,
    /// Parts a good sheet yields.
    pub parts: u32,
}

/// `GET /v1/cards`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardList {
    /// 1.
    pub schema: u32,
    /// By name.
    pub cards: Vec<CardRow>,
}

/// `GET /v1/cards/{name}`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardShown {
    /// 1.
    pub schema: u32,
    /// As in the list.
    pub row: CardRow,
    /// Number and revision of each, oldest first.
    pub revisions: Vec<(u32, Revision)>,
    /// The card's text.
    pub text: String,
    /// What the check found.
    pub findings: Vec<Finding>,
}

/// `POST /v1/batches`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AddBatch {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// Of this card; its newest revision is taken.
    pub card: CardName,
    /// How many.
    pub sheets: u32,
    /// When they are due.
    #[serde(default)]
    pub due: Option<DateTime<Utc>>,
    /// How much that matters; 1 when left out.
    #[serde(default)]
    pub weight: Option<f64>,
}

/// `POST /v1/sets`: whole sets of a product are wanted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AddSets {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// A product of the shop's config.
    pub product: String,
    /// How many sets.
    pub sets: u32,
    /// When they are to be finished.
    #[serde(default)]
    pub due: Option<DateTime<Utc>>,
    /// How much that matters; 1 when left out.
    #[serde(default)]
    pub weight: Option<f64>,
}

/// The sets that a batch was added for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetOrder {
    /// The first batch added for them; all batches of one order name the same.
    pub first: BatchId,
    /// A product of the shop's config.
    pub product: String,
    /// How many sets.
    pub sets: u32,
}

/// `POST /v1/stock`: sheets were counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CountStock {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// A name of the shop's stock.
    pub stock: String,
    /// Sheets there, sawn and not yet begun.
    pub sheets: u32,
}

/// A batch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchRow {
    /// Its id.
    pub id: BatchId,
    /// Its card.
    pub card: CardName,
    /// Its revision.
    pub revision: Revision,
    /// Sheets in all.
    pub sheets: u32,
    /// Sheets closed.
    pub closed: u32,
    /// When it is due.
    pub due: Option<DateTime<Utc>>,
    /// How much that matters.
    pub weight: f64,
    /// No longer wanted.
    pub cancelled: bool,
}

/// `GET /v1/batches`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchList {
    /// 1.
    pub schema: u32,
    /// Oldest first.
    pub batches: Vec<BatchRow>,
}

/// `POST /v1/batches/{id}/cancel`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CancelBatch {
    /// Made by the client.
    pub command_id: CommandId,
}

/// A sheet, as `sheet list` shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetRow {
    /// Its id.
    pub id: SheetId,
    /// Its batch.
    pub batch: BatchId,
    /// Its card.
    pub card: CardName,
    /// Where it is in its life.
    pub stage: Stage,
    /// The operation at hand.
    pub operation: Option<String>,
    /// When it is due.
    pub due: Option<DateTime<Utc>>,
    /// How it came out, once closed.
    pub grade: Option<Grade>,
    /// Seconds its operations should take.
    pub predicted: Seconds,
}

/// `GET /v1/sheets`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetList {
    /// 1.
    pub schema: u32,
    /// In the order they would be cut; closed ones last.
    pub sheets: Vec<SheetRow>,
}

/// `POST /v1/sheets/{id}/fits`: a joint was measured on a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasureFit {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// A joint of the sheet's card.
    pub fit: String,
    /// The slot as cut, mm.
    pub slot: Length,
    /// The thickness of what goes in, mm.
    pub mate: Length,
    /// The bit that cut it; not asked where only one cut on the sheet.
    #[serde(default)]
    pub bit: Option<BitName>,
}

/// What a command that added or changed something answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Done {
    /// 1.
    pub schema: u32,
    /// What was done, as a sentence.
    pub said: String,
    /// The id of what was added, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// The revision of what was added, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<Revision>,
    /// What the check found, where something was checked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<Finding>,
    /// What changed, where a card was there before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changes: Option<Box<CardChanges>>,
}

/// `GET /v1/doctor`: is everything in place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Doctor {
    /// 1.
    pub schema: u32,
    /// One a thing looked at.
    pub looks: Vec<Look>,
}

/// One thing looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Look {
    /// What.
    pub what: String,
    /// In order, worth a word, or wrong.
    pub verdict: Verdict,
    /// What was found and, if it is wrong, what to do.
    pub text: String,
}

/// How a look came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// In order.
    Fine,
    /// Worth a word.
    Word,
    /// Wrong.
    Wrong,
}
