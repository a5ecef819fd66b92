//! What is added to a sheet's record beside its cut: corrections, the material's lot, going on after a stop, what is left.

use crate::event::Actor;
use crate::id::{CommandId, Seq, SheetId};
use crate::quantity::{Length, Spot};
use crate::stage::{Grade, Reason};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// `POST /v1/sheets/{id}/corrections`: something in a sheet's record was wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CorrectSheet {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// What it should have said.
    pub fix: Fix,
    /// Why.
    pub why: String,
}

/// What a record should have said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Fix {
    /// How a part came out.
    Part {
        /// Its index on the card, from 0.
        index: u32,
        /// How it came out.
        grade: Grade,
        /// Why it is not good.
        #[serde(default)]
        reason: Option<Reason>,
    },
    /// What the caliper read.
    Thickness {
        /// One a reading.
        readings: Vec<Length>,
    },
    /// What was written down.
    Note {
        /// Its number on the sheet, from 1.
        number: u32,
        /// How it should read.
        text: String,
    },
}

/// One correction: a record that points at an earlier one, which is never edited.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// The record that was wrong.
    pub record: Seq,
    /// The record that says so.
    pub by_record: Seq,
    /// What was said and what holds now.
    pub what: Corrected,
    /// Who says so.
    pub by: Option<Actor>,
    /// When.
    pub at: DateTime<Utc>,
    /// Why.
    pub why: String,
}

/// What was said, and what holds now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "kebab-case")]
pub enum Corrected {
    /// How a part came out.
    Part {
        /// Its index on the card, from 0.
        index: u32,
        /// Its name.
        name: String,
        /// As it was graded first.
        was: (Grade, Option<Reason>),
        /// As it counts now.
        now: (Grade, Option<Reason>),
    },
    /// What the caliper read.
    Thickness {
        /// As read first.
        was: Vec<Length>,
        /// As it counts now.
        now: Vec<Length>,
    },
    /// What was written down.
    Note {
        /// Its number on the sheet, from 1.
        number: u32,
        /// As it was written.
        was: String,
        /// As it reads now.
        now: String,
    },
    /// How the sheet came out as a whole: it follows from its parts.
    Outcome {
        /// As it was closed.
        was: Grade,
        /// As it counts now.
        now: Grade,
    },
    /// Of a record that is no part of a sheet's history; only the reason is kept.
    Other,
}

/// An operation that went on at a line after a stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReEntry {
    /// Its place in the order of cutting, from 0.
    pub operation: u32,
    /// At which line of its program; none where it was cut again from its start.
    pub line: Option<u32>,
    /// Who decided it.
    pub by: Option<Actor>,
    /// When.
    pub at: DateTime<Utc>,
}

/// The largest rectangle of a sheet that no cut and no part touches.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Left {
    /// Its corner with the least X and Y, in work coordinates.
    pub at: Spot,
    /// Along X and Y.
    pub size: [Length; 2],
}

/// `POST /v1/sheets/{id}/lot`: from which lot its material is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NameLot {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// As the supplier marks it.
    pub lot: String,
}

/// A rest that is there to be used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftRow {
    /// The sheet it is of; its label names the rest too.
    pub sheet: SheetId,
    /// A key of the materials.
    pub material: String,
    /// As read, or else as on the card.
    pub thickness: Length,
    /// From which lot, where that was said.
    pub lot: Option<String>,
    /// How large it is, and where on the sheet.
    pub left: Left,
    /// When its sheet was closed.
    pub closed: Option<DateTime<Utc>>,
}

/// `GET /v1/stock/left`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftList {
    /// 1.
    pub schema: u32,
    /// The largest first.
    pub left: Vec<LeftRow>,
}

/// `POST /v1/stock/left/{id}/gone`: a rest was used up or thrown away.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftGone {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// What became of it.
    pub why: String,
}
