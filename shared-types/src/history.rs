//! The cut history, one record a sheet.

use crate::bits::PhysicalRow;
use crate::change::Change;
use crate::event::Actor;
use crate::id::{BatchId, BitName, BitNumber, CardName, Revision, SheetId};
use crate::now::GradedPart;
use crate::quantity::{Length, Metres, Seconds, Spot};
use crate::record::{Correction, Left, ReEntry};
use crate::stage::{Grade, Reason, Stage};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// Which sheets of the history are asked for: those to which all that is said applies.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct HistoryQuery {
    /// Something happened to them from then on.
    pub since: Option<DateTime<Utc>>,
    /// Of this card.
    pub card: Option<CardName>,
    /// Of this batch.
    pub batch: Option<BatchId>,
    /// This bit cut on them.
    pub bit: Option<BitName>,
    /// They came out so as a whole.
    pub grade: Option<Grade>,
    /// No more than the newest so many.
    pub newest: Option<u32>,
}

impl HistoryQuery {
    /// Everything from then on.
    #[must_use]
    pub fn since(since: Option<DateTime<Utc>>) -> Self {
        Self { since, ..Self::default() }
    }
}

/// `GET /v1/history/sheets`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetHistory {
    /// 1.
    pub schema: u32,
    /// Oldest first.
    pub sheets: Vec<SheetRecord>,
    /// Sheets that were asked for too, older than these, and left out: more than the newest so many.
    #[serde(default)]
    pub older: u32,
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
    /// The operation at hand at each of them, from 0 in the order of cutting.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stopped_in: Vec<u32>,
    /// Its parts.
    pub parts: Vec<GradedPart>,
    /// How it came out as a whole.
    pub grade: Option<Grade>,
    /// Closing touches, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub touched_again: Vec<TouchedAgain>,
    /// What was written down.
    pub notes: Vec<String>,
    /// Changes of feeds and rapids, in per cent, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overrides: Vec<[Option<u16>; 2]>,
    /// Machine time in each stage since it was first taken onto the machine.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spent: Vec<(Stage, Seconds)>,
    /// What was corrected in it, oldest first. Everything above is as it counts now.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Correction>,
    /// From which lot its material is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Operations that went on, or were cut again, after a stop.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub re_entries: Vec<ReEntry>,
    /// Tabs that held its parts; none before it is cut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tabs: Option<u32>,
    /// The largest rectangle that is left of it, while it is there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left: Option<Left>,
    /// What it cost; none before it is closed, and where the shop gives no rates.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Cost>,
    /// Joints measured on it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joints: Vec<JointRecord>,
}

/// A joint of a card, measured on a sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JointRecord {
    /// Its name on the card.
    pub name: String,
    /// Its width as drawn.
    pub drawn: Length,
    /// Its width as read back.
    pub measured: Length,
    /// How thick what goes in is; none where no thickness was read.
    pub mate: Option<Length>,
    /// Least and most play the card asks for.
    pub clearance: [Length; 2],
}

impl JointRecord {
    /// What is left between slot and mate; less than nothing where it does not go in.
    #[must_use]
    pub fn play(&self) -> Option<Length> {
        self.mate.map(|mate| self.measured - mate)
    }

    /// How far the play is from what the card asks for: below nothing too tight, above nothing too loose.
    #[must_use]
    pub fn off(&self) -> Option<Length> {
        let ([least, most], play) = (self.clearance, self.play()?);
        Some(if play < least {
            play - least
        } else if play > most {
            play - most
        } else {
            Length::ZERO
        })
    }
}

/// The Z zero touched once more after the cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TouchedAgain {
    /// The bit.
    pub bit: BitName,
    /// How much higher it touched; below zero, how much lower.
    pub off: Length,
    /// More than is trusted.
    pub suspect: bool,
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
    /// The physical bit, where the shop numbers them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<BitNumber>,
    /// Seconds the sheet stood at the machine before it: lists, bit changes, waiting for a person.
    #[serde(default)]
    pub waiting: Seconds,
    /// Seconds of that which are planned for hands; none where nobody reckons.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub waiting_predicted: Option<Seconds>,
}

/// A figure learnt from history.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Learnt {
    /// The middle of what was measured.
    pub value: f64,
    /// Where the true middle lies, 19 times of 20; none while there are too few rows for it.
    pub interval: Option<[f64; 2]>,
    /// How many rows it rests on.
    pub rows: u32,
}

/// `GET /v1/history/revisions`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RevisionHistory {
    /// 1.
    pub schema: u32,
    /// By card, oldest revision first.
    pub revisions: Vec<RevisionRow>,
}

/// What came of one revision of a card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RevisionRow {
    /// The card.
    pub card: CardName,
    /// Its number, from 1: the lowest, where the same revision was added more than once.
    pub number: u32,
    /// Its hash.
    pub revision: Revision,
    /// Sheets closed as good, rework, scrap.
    pub sheets: [u32; 3],
    /// Parts graded good, rework, scrap.
    pub parts: [u32; 3],
    /// Why parts of it were not good, and how many, the most first.
    #[serde(default)]
    pub reasons: Vec<(Reason, u32)>,
    /// Times a sheet of it was stopped.
    pub stops: u32,
    /// Metres that each bit cuts on one sheet of it, in the middle.
    #[serde(default)]
    pub wear: Vec<(BitName, Metres)>,
    /// Seconds in motion of a whole sheet.
    pub seconds: Option<Learnt>,
    /// Real over predicted time of its operations.
    pub time_factor: Option<Learnt>,
    /// Where the share of sheets that are not good lies, 19 times of 20.
    pub not_good: [f64; 2],
    /// How its sheets came out against those of the revision before, and how sure one can be.
    pub against_before: Option<String>,
    /// What was changed in it; only where one card is asked for.
    #[serde(default)]
    pub changes: Vec<Change>,
}

/// `GET /v1/history/bits`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BitHistory {
    /// 1.
    pub schema: u32,
    /// By name.
    pub bits: Vec<BitRow>,
    /// The physical ones, by number.
    #[serde(default)]
    pub physical: Vec<PhysicalRow>,
}

/// What came of one bit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BitRow {
    /// The bit.
    pub bit: BitName,
    /// Way cut in all the sheets shown.
    pub cut: Metres,
    /// The same by material.
    pub by_material: Vec<(String, Metres)>,
    /// Way it should last, where the shop says.
    pub life: Option<Metres>,
    /// Way cut since it was new, as far as is known; what life is held against.
    pub cut_ever: Metres,
    /// Sheets it cut on.
    pub sheets: u32,
    /// Of them closed, and not good.
    pub not_good: [u32; 2],
    /// Why parts of those sheets were not good, and how many, the most first.
    #[serde(default)]
    pub reasons: Vec<(Reason, u32)>,
    /// Times a sheet it cut on was stopped.
    pub stops: u32,
}

/// `GET /v1/history/effort`: what was spent on closed sheets, and what came of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EffortHistory {
    /// 1.
    pub schema: u32,
    /// Oldest first.
    pub batches: Vec<BatchSum>,
    /// By the day sheets were closed on.
    pub days: Vec<DaySum>,
    /// What the hand time of a cost is.
    pub hands_are: String,
}

/// What one batch took and gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchSum {
    /// Its id.
    pub batch: BatchId,
    /// Its card.
    pub card: CardName,
    /// Sheets closed as good, rework, scrap.
    pub sheets: [u32; 3],
    /// Parts graded good, rework, scrap.
    pub parts: [u32; 3],
    /// None where the shop gives no rates.
    pub cost: Option<Cost>,
    /// Of its time use.
    pub figures: Figures,
    /// Minutes that its sheets were not in motion, by reason, the most first.
    #[serde(default)]
    pub lost: Vec<(LostTo, f64)>,
}

/// What one day took and gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DaySum {
    /// In the shop's zone.
    pub date: chrono::NaiveDate,
    /// Sheets closed as good, rework, scrap.
    pub sheets: [u32; 3],
    /// Parts graded good, rework, scrap.
    pub parts: [u32; 3],
    /// Minutes in which somebody was to be there and cutting is allowed.
    pub planned_busy_min: f64,
    /// Minutes in motion or dwell.
    pub production_min: f64,
    /// Minutes held.
    pub held_min: f64,
    /// Times a sheet was stopped.
    pub stops: u32,
    /// Of its time use.
    pub figures: Figures,
    /// Minutes of the planned ones in which nothing moved, by reason, the most first.
    #[serde(default)]
    pub lost: Vec<(LostTo, f64)>,
}

/// To what time was lost in which nothing moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LostTo {
    /// A sheet was laid, measured and fastened.
    Securing,
    /// A bit was fitted and its zero touched.
    Tooling,
    /// The last list, and waiting for somebody to start it.
    Starting,
    /// It was held, by a person or for a prompt.
    Held,
    /// It was stopped, and somebody decided.
    Stopped,
    /// Parts were taken off and checked.
    TakingOff,
    /// No sheet was on the machine.
    NothingOn,
}

/// A cost in the shop's money.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cost {
    /// Of the machine.
    pub machine: f64,
    /// Of hands.
    pub hands: f64,
    /// Of sheets; none where the price of one is not known.
    pub material: Option<f64>,
    /// Of bits, by the way they cut over their life.
    pub bits: f64,
    /// All of it, material where it is known.
    pub total: f64,
    /// Of it, what went into parts that are not good.
    pub scrap: f64,
    /// Of a good part; none where there is none.
    pub each: Option<f64>,
}

/// Figures of time use (ISO 22400-2:2014); each none where it is divided by nothing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// Production time over planned busy time.
    pub availability: Option<f64>,
    /// Planned run time of what was produced over production time. Above 1 the plan was too long.
    pub effectiveness: Option<f64>,
    /// Good over produced.
    pub quality: Option<f64>,
    /// The product of the three.
    pub oee: Option<f64>,
}
