//! Sheets that were cut before Chargehand, brought in from a table.

use crate::id::CommandId;
use crate::quantity::{Length, Metres, Seconds};
use crate::stage::{Grade, Reason};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a column of the table may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Column {
    /// When the sheet was finished.
    Date,
    /// Of which card.
    Card,
    /// Of which batch.
    Batch,
    /// Who cut it.
    By,
    /// How thick it was, mm.
    Thickness,
    /// With which bit.
    Bit,
    /// Minutes it was reckoned to take.
    Predicted,
    /// Minutes it took in motion.
    Minutes,
    /// Metres cut.
    Metres,
    /// Good parts.
    Good,
    /// Parts to rework.
    Rework,
    /// Scrap parts.
    Scrap,
    /// How it came out as a whole; from its parts when left out.
    Grade,
    /// Why parts of it were not good.
    Reason,
    /// From which lot it was.
    Lot,
    /// In anybody's words.
    Note,
}

impl Column {
    /// Every one, in the order they are told in.
    pub const ALL: [Self; 16] = [
        Self::Date,
        Self::Card,
        Self::Batch,
        Self::By,
        Self::Thickness,
        Self::Bit,
        Self::Predicted,
        Self::Minutes,
        Self::Metres,
        Self::Good,
        Self::Rework,
        Self::Scrap,
        Self::Grade,
        Self::Reason,
        Self::Lot,
        Self::Note,
    ];

    /// As it is written in a heading.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Date => "date",
            Self::Card => "card",
            Self::Batch => "batch",
            Self::By => "by",
            Self::Thickness => "thickness",
            Self::Bit => "bit",
            Self::Predicted => "predicted",
            Self::Minutes => "minutes",
            Self::Metres => "metres",
            Self::Good => "good",
            Self::Rework => "rework",
            Self::Scrap => "scrap",
            Self::Grade => "grade",
            Self::Reason => "reason",
            Self::Lot => "lot",
            Self::Note => "note",
        }
    }
}

/// One row of the table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BroughtRow {
    /// Its number in the file, from 1, the heading counted.
    pub number: u32,
    /// How many rows before it say the very same: two sheets may be alike.
    #[serde(default)]
    pub alike: u32,
    /// What its cells say, where they say something.
    pub cells: BTreeMap<Column, String>,
}

/// `POST /v1/history/brought`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BringIn {
    /// Made by the client.
    pub command_id: CommandId,
    /// The rows; ones that are here already change nothing.
    pub rows: Vec<BroughtRow>,
    /// Only say what would be taken in.
    #[serde(default)]
    pub only_look: bool,
}

/// What became of the rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BroughtIn {
    /// 1.
    pub schema: u32,
    /// Rows that are sheets of the history now.
    pub taken: u32,
    /// Rows that were here already.
    pub known: u32,
    /// Rows refused, by number, and why.
    pub refused: Vec<(u32, String)>,
}

/// A sheet that was cut before Chargehand, as it goes into the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BroughtSheet {
    /// Its card's name; the shop need not have it.
    pub card: String,
    /// Its batch.
    pub batch: Option<String>,
    /// When it was finished.
    pub closed: DateTime<Utc>,
    /// Who cut it.
    pub by: Option<String>,
    /// How thick it was.
    pub thickness: Option<Length>,
    /// With which bit.
    pub bit: Option<String>,
    /// Seconds it was reckoned to take.
    pub predicted: Option<Seconds>,
    /// Seconds in motion.
    pub real: Option<Seconds>,
    /// Way cut.
    pub cut: Option<Metres>,
    /// Parts good, to rework, scrap.
    pub parts: [u32; 3],
    /// How it came out.
    pub grade: Grade,
    /// Why parts of it were not good.
    pub reason: Option<Reason>,
    /// From which lot it was.
    pub lot: Option<String>,
    /// In anybody's words.
    pub note: Option<String>,
}
