//! A job card's text into [`Card`], held against what the shop owns.
//!
//! May live here: what makes a card sound by itself and beside bits, materials and fasteners. May not: the programs it
//! names, which are read and judged further down.

mod after;
mod raw;

pub use after::order;

use super::check::{Check, Limits};
use super::fault::Fault;
use super::text::{Doc, Path, Row};
use chargehand_types::card::{Card, FastenerKind, FastenerPlace, Fit, HoldDown, Leaves, NamedPart, Sheet, Stores};
use chargehand_types::id::CardName;
use chargehand_types::quantity::{Length, Spot};
use raw::{RawCard, RawFit, RawHoldDown, RawOperation, RawPart, RawSheet};

/// No card has more operations.
pub const MOST_OPERATIONS: usize = 100;
/// No sheet is held by more fasteners.
pub const MOST_PLACES: usize = 1000;
/// No sheet yields more parts.
pub const MOST_PARTS: u32 = 10_000;
/// No card measures more joints.
const MOST_FITS: usize = 100;

const SIDE: Limits = Limits::above(0.0, 10_000.0, "mm");
const THICKNESS: Limits = Limits::above(0.0, 300.0, "mm");
const CORNER: Limits = Limits::from(-10_000.0, 10_000.0, "mm");
const BITE: Limits = Limits::from(0.0, 20.0, "mm");
const SHIFT: Limits = Limits::from(0.0, 5.0, "mm");
const MARGIN: Limits = Limits::from(0.0, 100.0, "mm");
const PARTS: Limits = Limits::from(1.0, MOST_PARTS as f64, "parts");
const CLEARANCE: Limits = Limits::from(-5.0, 5.0, "mm");

/// Reads a card.
///
/// # Errors
/// Every fault of form; without such, everything in it that no sheet can be or that the shop does not own.
pub fn read(file: &str, text: &str, stores: &Stores) -> Result<Card, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawCard = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top();
    head(&mut check, &top.key("card"), &raw);
    let sheet = sheet(&mut check, &top.key("sheet"), raw.sheet, stores);
    let holddown = holddown(&mut check, &top.key("holddown"), raw.holddown, &sheet, stores);
    operations(&mut check, &top.key("operation"), &raw.operation, &sheet, stores);
    parts(&mut check, &top.key("part"), &raw.part, &sheet);
    fits(&mut check, &top.key("fit"), &raw.fit);
    let card = Card {
        title: raw.card.title.unwrap_or_else(|| raw.card.name.clone()),
        name: CardName(raw.card.name),
        parts: raw.card.parts,
        sheet,
        holddown,
        operations: raw.operation.into_iter().map(Into::into).collect(),
        named_parts: raw.part.into_iter().map(|p| NamedPart { name: p.name, at: spots(&p.at) }).collect(),
        fits: raw.fit.into_iter().map(fit).collect(),
    };
    check.done(card)
}

fn head(check: &mut Check<'_, '_>, path: &Path, raw: &RawCard) {
    check.name(&path.key("name"), &raw.card.name);
    if let Some(title) = &raw.card.title {
        check.words(&path.key("title"), title);
    }
    check.number(&path.key("parts"), f64::from(raw.card.parts), PARTS);
}

fn sheet(check: &mut Check<'_, '_>, path: &Path, raw: RawSheet, stores: &Stores) -> Sheet {
    check.one_of(&path.key("material"), "material", &raw.material, stores.materials.keys());
    for (i, side) in raw.size.0.iter().enumerate() {
        check.number(&path.key("size").at(i), side.mm(), SIDE);
    }
    for (i, at) in raw.corner.0.iter().enumerate() {
        check.number(&path.key("corner").at(i), at.mm(), CORNER);
    }
    check.number(&path.key("thickness"), raw.thickness.mm(), THICKNESS);
    check.number(&path.key("max_bed_bite"), raw.max_bed_bite.mm(), BITE);
    check.number(&path.key("z_shift_max"), raw.z_shift_max.mm(), SHIFT);
    for (key, words) in [("face", &raw.face), ("grain", &raw.grain)] {
        if let Some(words) = words {
            check.words(&path.key(key), words);
        }
    }
    Sheet {
        material: raw.material,
        size: raw.size.0,
        thickness: raw.thickness,
        z_zero: raw.z_zero,
        corner: spot(raw.corner),
        max_bed_bite: raw.max_bed_bite,
        z_shift_max: raw.z_shift_max,
        face: raw.face,
        grain: raw.grain,
    }
}

fn holddown(check: &mut Check<'_, '_>, path: &Path, raw: RawHoldDown, sheet: &Sheet, stores: &Stores) -> HoldDown {
    check.one_of(&path.key("fastener"), "fastener", &raw.fastener, stores.fasteners.keys());
    check.number(&path.key("margin"), raw.margin.mm(), MARGIN);
    let list = path.key("places");
    check.no_more_than(&list, raw.places.len(), MOST_PLACES);
    for (i, place) in raw.places.iter().enumerate() {
        let here = list.at(i);
        if let Some(with) = &place.with {
            check.one_of(&here.key("with"), "fastener", with, stores.fasteners.keys());
        }
        let name = place.with.as_ref().unwrap_or(&raw.fastener);
        let presses = stores.fasteners.get(name).is_some_and(|f| presses_from_outside(f.kind));
        if !presses {
            on_sheet(check, &here, "fastener", place.at, sheet);
        }
        let again = raw.places.iter().take(i).any(|other| other.at == place.at);
        if again {
            check.tell(&here, "a fastener stands at this place already", "each place once");
        }
    }
    let places = raw.places.into_iter().map(|p| FastenerPlace { at: spot(p.at), with: p.with }).collect();
    HoldDown { fastener: raw.fastener, places, margin: raw.margin }
}

/// Clamps and wedges may stand beside the sheet; what goes through it may not.
const fn presses_from_outside(kind: FastenerKind) -> bool {
    match kind {
        FastenerKind::Clamp | FastenerKind::Wedge | FastenerKind::Vacuum => true,
        FastenerKind::Screw | FastenerKind::Nail | FastenerKind::Pin | FastenerKind::Tape => false,
    }
}

fn on_sheet(check: &mut Check<'_, '_>, path: &Path, what: &str, at: Row<Length, 2>, sheet: &Sheet) {
    let Row([x, y]) = at;
    let [width, height] = sheet.size;
    if width <= Length::ZERO || height <= Length::ZERO {
        return; // told already; every place would follow from it
    }
    let (left, low) = (sheet.corner.x, sheet.corner.y);
    let (right, high) = (left + width, low + height);
    if x < left || x > right || y < low || y > high {
        check.tell(
            path,
            format!("the {what} at X {x}, Y {y} is not on the sheet"),
            format!("X {left} to {right}, Y {low} to {high}"),
        );
    }
}

fn operations(check: &mut Check<'_, '_>, path: &Path, raw: &[RawOperation], sheet: &Sheet, stores: &Stores) {
    if raw.is_empty() {
        check.tell(path, "the card has no operation", "at least one [[operation]]");
    }
    check.no_more_than(path, raw.len(), MOST_OPERATIONS);
    for (i, operation) in raw.iter().enumerate() {
        let here = path.at(i);
        check.name(&here.key("name"), &operation.name);
        check.one_of(&here.key("bit"), "bit", &operation.bit, stores.bits.keys());
        program(check, &here.key("program"), &operation.program);
        skin(check, &here, operation, sheet);
    }
    let names = raw.iter().enumerate().map(|(i, o)| (path.at(i).key("name"), o.name.as_str()));
    check.once("operation", names);
    after::judge(check, path, raw);
}

/// A program lies beside its card, or in a folder below.
fn program(check: &mut Check<'_, '_>, path: &Path, program: &str) {
    let climbs = program.split(['/', '\\']).any(|part| matches!(part, "" | "." | ".."));
    if climbs || program.chars().any(char::is_control) || program.len() > 255 {
        let found = format!("`{}` is no path of a program", program.escape_debug());
        check.tell(path, found, "a path from the card's own folder, without `..`");
    }
}

fn skin(check: &mut Check<'_, '_>, path: &Path, raw: &RawOperation, sheet: &Sheet) {
    match (raw.leaves == Some(Leaves::Skin), raw.skin) {
        (true, None) => check.missing(path, "skin", "the thickness left on purpose, in mm"),
        (true, Some(skin)) => {
            let thinner = Limits::above(0.0, sheet.thickness.mm(), "mm");
            check.number(&path.key("skin"), skin.mm(), thinner);
        }
        (false, Some(_)) => check.idle(path, "skin", "only with leaves = \"skin\""),
        (false, None) => {}
    }
}

fn parts(check: &mut Check<'_, '_>, path: &Path, raw: &[RawPart], sheet: &Sheet) {
    let points: usize = raw.iter().map(|p| p.at.len()).sum();
    check.no_more_than(path, points.max(raw.len()), MOST_PARTS as usize);
    for (i, part) in raw.iter().enumerate() {
        let here = path.at(i);
        check.words(&here.key("name"), &part.name);
        if part.at.is_empty() {
            check.tell(&here.key("at"), "the part has no place", "a point inside each piece, like [[150.0, 300.0]]");
        }
        for (n, at) in part.at.iter().enumerate() {
            on_sheet(check, &here.key("at").at(n), "part", *at, sheet);
        }
    }
    check.once("part", raw.iter().enumerate().map(|(i, p)| (path.at(i).key("name"), p.name.as_str())));
}

fn fits(check: &mut Check<'_, '_>, path: &Path, raw: &[RawFit]) {
    check.no_more_than(path, raw.len(), MOST_FITS);
    for (i, fit) in raw.iter().enumerate() {
        let here = path.at(i);
        check.words(&here.key("name"), &fit.name);
        check.words(&here.key("mate"), &fit.mate);
        check.number(&here.key("width"), fit.width.mm(), SIDE);
        let Row([least, most]) = fit.clearance;
        for (n, clearance) in [least, most].into_iter().enumerate() {
            check.number(&here.key("clearance").at(n), clearance.mm(), CLEARANCE);
        }
        if least > most {
            check.tell(&here.key("clearance"), format!("the least, {least}, is more than the most"), "[least, most]");
        }
    }
    check.once("fit", raw.iter().enumerate().map(|(i, f)| (path.at(i).key("name"), f.name.as_str())));
}

fn fit(raw: RawFit) -> Fit {
    Fit { name: raw.name, width: raw.width, mate: raw.mate, clearance: raw.clearance.0 }
}

const fn spot(Row([x, y]): Row<Length, 2>) -> Spot {
    Spot { x, y }
}

fn spots(rows: &[Row<Length, 2>]) -> Vec<Spot> {
    rows.iter().copied().map(spot).collect()
}

#[cfg(test)]
mod tests;
