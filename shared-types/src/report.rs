//! Everything that a page about one batch shows.

use crate::bits::PhysicalRow;
use crate::check::Drawing;
use crate::history::{BatchSum, BitRow, Learnt, SheetRecord};
use crate::id::SheetId;
use crate::quantity::{Seconds, Spot};
use crate::queue::BatchRow;
use crate::stage::{Reason, Stage};
use serde::{Deserialize, Serialize};

/// `GET /v1/batches/{id}/report`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchReport {
    /// 1.
    pub schema: u32,
    /// The batch.
    pub batch: BatchRow,
    /// Its card's title.
    pub title: String,
    /// Its sheets that were begun, oldest first.
    pub sheets: Vec<SheetRecord>,
    /// What its closed sheets took and gave; none while none is closed.
    pub sum: Option<BatchSum>,
    /// Why parts were not good: how many to rework and how many scrap, the most first.
    pub reasons: Vec<(Option<Reason>, [u32; 2])>,
    /// Machine time its sheets spent in each stage, the longest first.
    pub spent: Vec<(Stage, Seconds)>,
    /// Real over predicted time of its operations.
    pub time_factor: Option<Learnt>,
    /// The bits that cut it.
    pub bits: Vec<BitRow>,
    /// The physical ones among them, by number, each told over its whole life; none where the shop keeps no numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub physical: Vec<PhysicalRow>,
    /// Its sheet from above; none where its card can no longer be read.
    pub drawing: Option<Drawing>,
    /// Where something happened on the sheets.
    pub marks: Vec<Mark>,
}

/// Something that happened at a place of a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Which sheet.
    pub sheet: SheetId,
    /// About where, in work coordinates.
    pub at: Spot,
    /// What.
    pub of: MarkOf,
}

/// What happened there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkOf {
    /// The cut was stopped.
    Stopped,
    /// A part came out not good, for this reason.
    Part(Option<Reason>),
}
