//! `bits.toml`: what the shop cuts with.

use super::{HIGHEST_TOOL, MOST_ENTRIES};
use crate::shop::check::{Check, Limits};
use crate::shop::fault::Fault;
use crate::shop::text::{Doc, Path};
use chargehand_types::bits::BitFigures;
use chargehand_types::card::{Bit, BitKind};
use chargehand_types::quantity::{Angle, Length, Metres};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    #[serde(default)]
    bit: BTreeMap<String, RawBit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBit {
    title: String,
    kind: BitKind,
    diameter: Length,
    flutes: u32,
    cutting_length: Length,
    upcut_length: Option<Length>,
    angle_deg: Option<Angle>,
    helix_deg: Option<Angle>,
    life_m: Option<Metres>,
    price: Option<f64>,
    tool: Option<u32>,
}

const DIAMETER: Limits = Limits::above(0.0, 100.0, "mm");
const CUTTING_LENGTH: Limits = Limits::above(0.0, 300.0, "mm");
const FLUTES: Limits = Limits::from(1.0, 12.0, "flutes");
const ANGLE: Limits = Limits::from(1.0, 179.0, "deg");
const HELIX: Limits = Limits::from(0.0, 60.0, "deg");
const LIFE: Limits = Limits::above(0.0, 1.0e6, "m");
const PRICE: Limits = Limits::from(0.0, 1.0e6, "");

/// Reads `bits.toml`.
///
/// # Errors
/// Every fault of form; without such, every value that no bit can have, and T numbers given to two bits.
pub fn read(file: &str, text: &str) -> Result<BTreeMap<String, Bit>, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawFile = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top().key("bit");
    check.no_more_than(&top, raw.bit.len(), MOST_ENTRIES);
    for (name, bit) in &raw.bit {
        judge(&mut check, &top.key(name), name, bit);
    }
    numbers_once(&mut check, &top, &raw.bit);
    check.done(raw.bit.into_iter().map(|(name, bit)| (name, bit.into())).collect())
}

fn judge(check: &mut Check<'_, '_>, path: &Path, name: &str, bit: &RawBit) {
    check.name(path, name);
    check.words(&path.key("title"), &bit.title);
    check.number(&path.key("diameter"), bit.diameter.mm(), DIAMETER);
    check.number(&path.key("flutes"), f64::from(bit.flutes), FLUTES);
    check.number(&path.key("cutting_length"), bit.cutting_length.mm(), CUTTING_LENGTH);
    check.number_if(&path.key("helix_deg"), bit.helix_deg.map(Angle::value), HELIX);
    check.number_if(&path.key("life_m"), bit.life_m.map(Metres::value), LIFE);
    check.number_if(&path.key("price"), bit.price, PRICE);
    check.number_if(&path.key("tool"), bit.tool.map(f64::from), Limits::from(0.0, f64::from(HIGHEST_TOOL), ""));
    tip(check, path, bit);
}

/// What only some kinds have.
fn tip(check: &mut Check<'_, '_>, path: &Path, bit: &RawBit) {
    match (bit.kind == BitKind::Compression, bit.upcut_length) {
        (true, None) => check.missing(path, "upcut_length", "a compression bit needs the length of its up-cutting tip"),
        (true, Some(tip)) => {
            let longest = Limits::above(0.0, bit.cutting_length.mm(), "mm");
            check.number(&path.key("upcut_length"), tip.mm(), longest);
        }
        (false, Some(_)) => check.idle(path, "upcut_length", "only with kind = \"compression\""),
        (false, None) => {}
    }
    match (bit.kind == BitKind::V, bit.angle_deg) {
        (true, None) => check.missing(path, "angle_deg", "a V bit needs the angle between its flanks"),
        (true, Some(angle)) => check.number(&path.key("angle_deg"), angle.value(), ANGLE),
        (false, Some(_)) => check.idle(path, "angle_deg", "only with kind = \"v\""),
        (false, None) => {}
    }
}

/// Two bits of one T number would make `wrong-bit` blind.
fn numbers_once(check: &mut Check<'_, '_>, top: &Path, bits: &BTreeMap<String, RawBit>) {
    let mut first: BTreeMap<u32, &str> = BTreeMap::new();
    for (name, bit) in bits {
        let Some(tool) = bit.tool else { continue };
        if let Some(other) = first.insert(tool, name) {
            let found = format!("T{tool} is the bit `{other}` already");
            check.tell(&top.key(name).key("tool"), found, "a number of its own for each bit");
        }
    }
}

impl From<RawBit> for Bit {
    fn from(raw: RawBit) -> Self {
        Self {
            title: raw.title,
            kind: raw.kind,
            diameter: raw.diameter,
            flutes: raw.flutes,
            cutting_length: raw.cutting_length,
            upcut_length: raw.upcut_length,
            angle: raw.angle_deg,
            helix: raw.helix_deg,
            life: raw.life_m,
            price: raw.price,
            tool: raw.tool,
            measured: BitFigures::default(),
        }
    }
}
