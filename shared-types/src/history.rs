//! The cut history, one record a sheet.

use crate::event::Actor;
use crate::id::{BatchId, BitName, CardName, Revision, SheetId};
use crate::now::GradedPart;
use crate::quantity::{Length, Metres, Seconds, Spot};
use crate::stage::{Grade, Stage};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// `GET /v1/history/sheets`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetHistory {
    /// 1.
    pub schema: u32,
    /// Oldest first.
    pub sheets: Vec<SheetRecord>,
}

/// Everything known of one sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetRecord {
    /// Its id.
    pub sheet: SheetId,
    /// Its batch.
    pub batch: BatchId,
    /// Its card.
    pub card: CardName,
    /// Its revision.
    pub revision: Revision,
    /// Where it is in its life.
    pub stage: Stage,
    /// When it was taken onto the machine.
    pub begun: Option<DateTime<Utc>>,
    /// When it was closed.
    pub closed: Option<DateTime<Utc>>,
    /// Everybody who signed or started something on it, in order of first appearance.
    pub operators: Vec<Actor>,
    /// Caliper readings.
    pub thickness: Vec<Length>,
    /// Fastener places as made.
    pub fasteners: Vec<Spot>,
    /// One an operation that was begun.
    pub operations: Vec<OperationRecord>,
    /// Way each bit cut on it.
    pub bits: Vec<(BitName, Metres)>,
    /// Times it was stopped, and why.
    pub stops: Vec<crate::event::StopRecord>,
    /// Its parts.
    pub parts: Vec<GradedPart>,
    /// How it came out as a whole.
    pub grade: Option<Grade>,
    /// What was written down.
    pub notes: Vec<String>,
}

/// One operation of a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OperationRecord {
    /// Its name.
    pub name: String,
    /// The bit that cut.
    pub bit: Option<BitName>,
    /// Seconds it should take.
    pub predicted: Seconds,
    /// Seconds in motion or dwell; none while unfinished.
    pub real: Option<Seconds>,
    /// Seconds held.
    pub held: Seconds,
    /// Way cut.
    pub cut: Metres,
}
