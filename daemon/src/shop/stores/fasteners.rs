//! `fasteners.toml`: what the shop holds sheets down with.

use super::MOST_ENTRIES;
use crate::shop::check::{Check, Limits};
use crate::shop::fault::Fault;
use crate::shop::text::{Doc, Path, Row};
use chargehand_types::card::{Fastener, FastenerKind};
use chargehand_types::quantity::{Force, Length, Stress};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    #[serde(default)]
    fastener: BTreeMap<String, RawFastener>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFastener {
    title: String,
    kind: FastenerKind,
    diameter: Option<Length>,
    length: Option<Length>,
    penetration: Option<Length>,
    head_diameter: Option<Length>,
    #[serde(default)]
    head_height: Length,
    force: Option<Force>,
    footprint: Option<Row<Length, 2>>,
    thickness: Option<Length>,
    strength: Option<Stress>,
    pressure_kpa: Option<f64>,
}

const ACROSS: Limits = Limits::above(0.0, 500.0, "mm");
const LENGTH: Limits = Limits::above(0.0, 500.0, "mm");
const PENETRATION: Limits = Limits::from(0.0, 500.0, "mm");
const HEIGHT: Limits = Limits::from(0.0, 300.0, "mm");
const FORCE: Limits = Limits::above(0.0, 1.0e5, "N");
const STRENGTH: Limits = Limits::above(0.0, 100.0, "N/mm2");
/// Air presses with 101.325 kPa at sea level; no pump takes away more.
const PRESSURE: Limits = Limits::above(0.0, 101.325, "kPa");

/// Reads `fasteners.toml`.
///
/// # Errors
/// Every fault of form; without such, every value that no fastener can have, and keys its kind needs.
pub fn read(file: &str, text: &str) -> Result<BTreeMap<String, Fastener>, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawFile = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top().key("fastener");
    check.no_more_than(&top, raw.fastener.len(), MOST_ENTRIES);
    for (name, fastener) in &raw.fastener {
        let path = top.key(name);
        check.name(&path, name);
        sizes(&mut check, &path, fastener);
        needs(&mut check, &path, fastener);
    }
    check.done(raw.fastener.into_iter().map(|(name, raw)| (name, raw.into())).collect())
}

fn sizes(check: &mut Check<'_, '_>, path: &Path, raw: &RawFastener) {
    check.words(&path.key("title"), &raw.title);
    check.number_if(&path.key("diameter"), raw.diameter.map(Length::mm), ACROSS);
    check.number_if(&path.key("length"), raw.length.map(Length::mm), LENGTH);
    check.number_if(&path.key("penetration"), raw.penetration.map(Length::mm), PENETRATION);
    check.number_if(&path.key("head_diameter"), raw.head_diameter.map(Length::mm), ACROSS);
    check.number(&path.key("head_height"), raw.head_height.mm(), HEIGHT);
    check.number_if(&path.key("force"), raw.force.map(Force::value), FORCE);
    check.number_if(&path.key("thickness"), raw.thickness.map(Length::mm), HEIGHT);
    check.number_if(&path.key("strength"), raw.strength.map(Stress::value), STRENGTH);
    check.number_if(&path.key("pressure_kpa"), raw.pressure_kpa, PRESSURE);
    for (i, side) in raw.footprint.iter().flat_map(|Row(sides)| sides).enumerate() {
        check.number(&path.key("footprint").at(i), side.mm(), ACROSS);
    }
}

/// What a kind cannot do without: how much room it takes, and what its holding is reckoned from.
fn needs(check: &mut Check<'_, '_>, path: &Path, raw: &RawFastener) {
    let mut wanted: Vec<(&str, &str)> = Vec::new();
    match raw.kind {
        FastenerKind::Screw | FastenerKind::Nail | FastenerKind::Pin => {
            if raw.diameter.is_none() {
                wanted.push(("diameter", "the shank's, in mm"));
            }
            if raw.head_diameter.is_none() {
                wanted.push(("head_diameter", "in mm; for a pin its own diameter"));
            }
            if raw.length.is_none() && raw.penetration.is_none() {
                wanted.push(("length", "in mm, or `penetration` into the waste board instead"));
            }
        }
        FastenerKind::Clamp | FastenerKind::Wedge => {
            if raw.head_diameter.is_none() && raw.footprint.is_none() {
                wanted.push(("footprint", "[x, y] in mm, or `head_diameter` instead"));
            }
        }
        FastenerKind::Tape => {
            if raw.thickness.is_none() {
                wanted.push(("thickness", "in mm: it lifts the sheet"));
            }
            if raw.strength.is_none() {
                wanted.push(("strength", "in N/mm2"));
            }
        }
        FastenerKind::Vacuum => {
            if raw.pressure_kpa.is_none() {
                wanted.push(("pressure_kpa", "below the air's pressure, in kPa"));
            }
        }
    }
    for (key, why) in wanted {
        check.missing(path, key, why);
    }
}

impl From<RawFastener> for Fastener {
    fn from(raw: RawFastener) -> Self {
        Self {
            title: raw.title,
            kind: raw.kind,
            diameter: raw.diameter,
            length: raw.length,
            penetration: raw.penetration,
            head_diameter: raw.head_diameter,
            head_height: raw.head_height,
            force: raw.force,
            footprint: raw.footprint.map(|Row(sides)| sides),
            thickness: raw.thickness,
            strength: raw.strength,
            pressure_kpa: raw.pressure_kpa,
        }
    }
}
