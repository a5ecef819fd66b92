//! Physical bits: each has its own number from its first use to scrap.

use crate::event::Actor;
use crate::id::{BitName, BitNumber, CommandId};
use crate::quantity::{Length, Metres};
use crate::stage::{Grade, Reason};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// What was measured of one physical bit; none where nobody did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BitFigures {
    /// Across its cutting edge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diameter: Option<Length>,
    /// How far it stands out of the collet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stick_out: Option<Length>,
    /// Compression only: the part of its tip that cuts upwards.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tip: Option<Length>,
    /// How much of it has edges.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cutting_length: Option<Length>,
}

impl BitFigures {
    /// The newer ones where they say something, these where they do not.
    #[must_use]
    pub fn with(self, newer: Self) -> Self {
        Self {
            diameter: newer.diameter.or(self.diameter),
            stick_out: newer.stick_out.or(self.stick_out),
            tip: newer.tip.or(self.tip),
            cutting_length: newer.cutting_length.or(self.cutting_length),
        }
    }
}

/// `POST /v1/bits`: a physical bit is taken into use and gets its number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BeginBit {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// Of which kind: a key of the bits.
    pub bit: BitName,
    /// As measured.
    #[serde(default)]
    pub figures: BitFigures,
    /// Way it had cut before it was numbered.
    #[serde(default)]
    pub used: Metres,
}

/// `POST /v1/bits/{number}/measures`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasureBit {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// As measured; what is left out stays as it was.
    pub figures: BitFigures,
    /// It was ground anew: its wear counts from here.
    #[serde(default)]
    pub reground: bool,
}

/// `POST /v1/bits/{number}/scrap`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScrapBit {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// Why: broken, dull, chipped.
    pub why: String,
}

/// The end of a physical bit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scrapped {
    /// When.
    pub at: DateTime<Utc>,
    /// Who said so.
    pub by: Option<Actor>,
    /// Why.
    pub why: String,
}

/// A physical bit as the shop knows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NumberedBit {
    /// Its own.
    pub number: BitNumber,
    /// Of which kind.
    pub bit: BitName,
    /// When it was numbered.
    pub began: DateTime<Utc>,
    /// By whom.
    pub by: Option<Actor>,
    /// As measured last.
    pub figures: BitFigures,
    /// Every diameter that was read, oldest first.
    pub diameters: Vec<(DateTime<Utc>, Length)>,
    /// Times it was ground anew.
    pub regrinds: u32,
    /// Way it has cut in all.
    pub cut: Metres,
    /// Way it has cut since it was new or ground anew.
    pub since_grind: Metres,
    /// When it was fitted or cut last.
    pub last: Option<DateTime<Utc>>,
    /// None while it is in use.
    pub scrapped: Option<Scrapped>,
}

/// `GET /v1/bits`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BitList {
    /// 1.
    pub schema: u32,
    /// By number.
    pub bits: Vec<NumberedBit>,
}

/// What came of one physical bit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhysicalRow {
    /// The bit.
    #[serde(flatten)]
    pub bit: NumberedBit,
    /// Way cut on the sheets shown, by material.
    pub by_material: Vec<(String, Metres)>,
    /// Its way on the sheets shown until it was near the end of its life, and what came of them.
    pub before: Stretch,
    /// And since.
    pub near_end: Stretch,
    /// From which way on it counts as near its end.
    pub near: Option<Metres>,
    /// How the two compare, and how sure one can be; none while there is nothing to compare.
    pub says: Option<String>,
}

/// Part of a bit's life.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Stretch {
    /// Sheets closed.
    pub sheets: u32,
    /// Of them not good.
    pub not_good: u32,
    /// Times one was stopped.
    pub stops: u32,
    /// Parts not good, by reason, the most first.
    pub reasons: Vec<(Reason, u32)>,
}

impl Stretch {
    /// Counts a closed sheet in.
    pub fn count(&mut self, grade: Grade, stops: u32) {
        self.sheets = self.sheets.saturating_add(1);
        self.not_good = self.not_good.saturating_add(u32::from(grade != Grade::Good));
        self.stops = self.stops.saturating_add(stops);
    }
}
