//! The form of a card's text.

use crate::shop::text::Row;
use chargehand_types::card::{Leaves, Operation, ZZero};
use chargehand_types::quantity::Length;
use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer};
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};
use std::fmt;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCard {
    pub card: RawHead,
    pub sheet: RawSheet,
    pub holddown: RawHoldDown,
    #[serde(default)]
    pub operation: Vec<RawOperation>,
    #[serde(default)]
    pub part: Vec<RawPart>,
    #[serde(default)]
    pub fit: Vec<RawFit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawHead {
    pub name: String,
    pub title: Option<String>,
    pub parts: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawSheet {
    pub material: String,
    pub size: Row<Length, 2>,
    pub thickness: Length,
    pub z_zero: ZZero,
    #[serde(default = "origin")]
    pub corner: Row<Length, 2>,
    #[serde(default = "usual_bite")]
    pub max_bed_bite: Length,
    #[serde(default)]
    pub z_shift_max: Length,
    pub face: Option<String>,
    pub grain: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawHoldDown {
    pub fastener: String,
    #[serde(default)]
    pub places: Vec<RawPlace>,
    #[serde(default = "usual_margin")]
    pub margin: Length,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawOperation {
    pub name: String,
    pub program: String,
    pub bit: String,
    #[serde(default)]
    pub after: Vec<String>,
    pub leaves: Option<Leaves>,
    pub skin: Option<Length>,
    #[serde(default)]
    pub unattended: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPart {
    pub name: String,
    pub at: Vec<Row<Length, 2>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFit {
    pub name: String,
    pub width: Length,
    pub mate: String,
    pub clearance: Row<Length, 2>,
}

/// `[x, y]`, or `{ at = [x, y], with = "…" }`.
pub(super) struct RawPlace {
    pub at: Row<Length, 2>,
    pub with: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LongPlace {
    at: Row<Length, 2>,
    with: Option<String>,
}

impl<'de> Deserialize<'de> for RawPlace {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = RawPlace;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("[x, y] or { at = [x, y], with = \"a fastener\" }")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<RawPlace, A::Error> {
                let at = Row::deserialize(SeqAccessDeserializer::new(list))?;
                Ok(RawPlace { at, with: None })
            }

            fn visit_map<A: MapAccess<'de>>(self, table: A) -> Result<RawPlace, A::Error> {
                let long = LongPlace::deserialize(MapAccessDeserializer::new(table))?;
                Ok(RawPlace { at: long.at, with: long.with })
            }
        }
        d.deserialize_any(Either)
    }
}

impl From<RawOperation> for Operation {
    fn from(raw: RawOperation) -> Self {
        Self {
            name: raw.name,
            program: raw.program,
            bit: raw.bit,
            after: raw.after,
            leaves: raw.leaves,
            skin: raw.skin,
            unattended: raw.unattended,
        }
    }
}

const fn origin() -> Row<Length, 2> {
    Row([Length::ZERO; 2])
}

/// Half a millimetre: enough to go through a sheet of uneven thickness. Common practice, no source.
const fn usual_bite() -> Length {
    Length(500_000)
}

/// Common practice, no source.
const fn usual_margin() -> Length {
    Length::whole_mm(4)
}
