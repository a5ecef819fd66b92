//! The job card (`*.card.toml`).

use super::fault::Fault;
use super::text::{Faults, Text};
use chargehand_types::card::{Card, FastenerPlace, Fit, HoldDown, Leaves, NamedPart, Operation, Sheet, Stores, ZZero};
use chargehand_types::id::CardName;
use chargehand_types::quantity::{Length, Spot};
use serde::Deserialize;
use toml::Spanned;

/// Operations a card may have.
pub const OPERATIONS_AT_MOST: usize = 16;
/// Places a card may give.
const PLACES_AT_MOST: usize = 1000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    card: RawCard,
    sheet: RawSheet,
    holddown: RawHoldDown,
    #[serde(default)]
    operation: Vec<RawOperation>,
    #[serde(default)]
    part: Vec<NamedPartRaw>,
    #[serde(default)]
    fit: Vec<FitRaw>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCard {
    name: Spanned<String>,
    title: Option<String>,
    parts: Spanned<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSheet {
    material: Spanned<String>,
    size: Spanned<[Length; 2]>,
    thickness: Spanned<Length>,
    z_zero: ZZero,
    #[serde(default)]
    corner: Spot,
    #[serde(default)]
    max_bed_bite: Length,
    #[serde(default)]
    z_shift_max: Length,
    face: Option<String>,
    grain: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawHoldDown {
    fastener: Spanned<String>,
    #[serde(default)]
    places: Vec<Spanned<RawPlace>>,
    #[serde(default = "margin")]
    margin: Length,
}

const fn margin() -> Length {
    Length::whole_mm(4)
}

#[derive(Deserialize)]
#[serde(untagged)]
enum RawPlace {
    Bare(Spot),
    With(RawPlaceWith),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPlaceWith {
    at: Spot,
    with: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawOperation {
    name: Spanned<String>,
    program: Spanned<String>,
    bit: Spanned<String>,
    #[serde(default)]
    after: Vec<Spanned<String>>,
    leaves: Option<Spanned<Leaves>>,
    skin: Option<Length>,
    #[serde(default)]
    unattended: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NamedPartRaw {
    name: String,
    at: Vec<Spot>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FitRaw {
    name: String,
    width: Length,
    mate: String,
    clearance: [Length; 2],
}

/// Reads a card against what the shop owns.
///
/// # Errors
/// Every fault: of form the first one, of sense all of them.
pub fn card(text: Text<'_>, stores: &Stores) -> Result<Card, Vec<Fault>> {
    let raw: Raw = text.read()?;
    let mut faults = Faults::of(text);
    head(&raw, &mut faults);
    sheet_and_holddown(&raw, stores, &mut faults);
    operations(&raw, stores, &mut faults);
    let card = build(raw);
    faults.or(card)
}

fn head(raw: &Raw, faults: &mut Faults<'_>) {
    let name = raw.card.name.as_ref();
    let fits =
        !name.is_empty() && name.len() <= 64 && name.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c));
    if !fits {
        faults.add(raw.card.name.span(), "name", "a card's name is 1 to 64 letters, digits, - _ or .");
    }
    if !(1..=500).contains(raw.card.parts.as_ref()) {
        faults.add(raw.card.parts.span(), "parts", "a sheet yields 1 to 500 parts");
    }
}

fn sheet_and_holddown(raw: &Raw, stores: &Stores, faults: &mut Faults<'_>) {
    let sheet = &raw.sheet;
    faults.unless_known(&sheet.material, "material", "material", stores.materials.keys().map(String::as_str));
    if sheet.size.as_ref().iter().any(|l| *l <= Length::ZERO) {
        faults.add(sheet.size.span(), "size", "a sheet is more than 0 mm long and wide");
    }
    if *sheet.thickness.as_ref() <= Length::ZERO {
        faults.add(sheet.thickness.span(), "thickness", "a sheet is more than 0 mm thick");
    }
    let known = || stores.fasteners.keys().map(String::as_str);
    faults.unless_known(&raw.holddown.fastener, "fastener", "fastener", known());
    if let Some(place) = raw.holddown.places.get(PLACES_AT_MOST) {
        faults.add(place.span(), "places", format!("more than {PLACES_AT_MOST} places"));
    }
    for place in raw.holddown.places.iter().take(PLACES_AT_MOST) {
        if let RawPlace::With(RawPlaceWith { with: Some(with), .. }) = place.as_ref()
            && !stores.fasteners.contains_key(with)
        {
            let fault = faults.add(place.span(), "with", format!("there is no fastener `{with}`"));
            fault.nearest = super::fault::nearest(with, known());
        }
    }
}

fn operations(raw: &Raw, stores: &Stores, faults: &mut Faults<'_>) {
    if raw.operation.is_empty() {
        faults.add(0..0, "operation", "a card needs at least one [[operation]]");
    }
    if let Some(one) = raw.operation.get(OPERATIONS_AT_MOST) {
        faults.add(one.name.span(), "operation", format!("more than {OPERATIONS_AT_MOST} operations"));
    }
    let names: Vec<&str> = raw.operation.iter().map(|o| o.name.as_ref().as_str()).collect();
    for (i, o) in raw.operation.iter().enumerate() {
        if names.iter().take(i).any(|n| n == o.name.as_ref()) {
            faults.add(o.name.span(), "name", format!("the operation `{}` stands twice on the card", o.name.as_ref()));
        }
        faults.unless_known(&o.bit, "bit", "bit", stores.bits.keys().map(String::as_str));
        for after in &o.after {
            faults.unless_known(after, "after", "operation", names.iter().copied());
        }
        if !stays_inside(o.program.as_ref()) {
            faults.add(o.program.span(), "program", "a program's path stays inside the card's folder");
        }
        if let Some(leaves) = o.leaves.as_ref().filter(|l| *l.as_ref() == Leaves::Skin && o.skin.is_none()) {
            faults.add(leaves.span(), "leaves", "a cut that leaves a skin needs its `skin`");
        }
    }
    if let Some(o) = raw.operation.iter().find(|o| waits_for_itself(raw, o.name.as_ref())) {
        faults.add(o.name.span(), "after", format!("`{}` waits for itself", o.name.as_ref()));
    }
}

/// A relative path without `..`.
fn stays_inside(path: &str) -> bool {
    !path.is_empty()
        && !path.starts_with('/')
        && !path.contains('\\')
        && path.split('/').all(|p| p != ".." && !p.is_empty())
}

fn waits_for_itself(raw: &Raw, name: &str) -> bool {
    let mut waiting: Vec<&str> = vec![name];
    for _ in 0..=OPERATIONS_AT_MOST {
        let next: Vec<&str> = raw
            .operation
            .iter()
            .filter(|o| waiting.contains(&o.name.as_ref().as_str()))
            .flat_map(|o| o.after.iter().map(|a| a.as_ref().as_str()))
            .collect();
        if next.contains(&name) {
            return true;
        }
        if next.is_empty() {
            return false;
        }
        waiting = next;
    }
    // deeper than there are operations: it goes round without passing here; another name will say so
    false
}

fn build(raw: Raw) -> Card {
    let name = raw.card.name.into_inner();
    Card {
        title: raw.card.title.unwrap_or_else(|| name.clone()),
        name: CardName(name),
        parts: raw.card.parts.into_inner(),
        sheet: Sheet {
            material: raw.sheet.material.into_inner(),
            size: raw.sheet.size.into_inner(),
            thickness: raw.sheet.thickness.into_inner(),
            z_zero: raw.sheet.z_zero,
            corner: raw.sheet.corner,
            max_bed_bite: raw.sheet.max_bed_bite,
            z_shift_max: raw.sheet.z_shift_max,
            face: raw.sheet.face,
            grain: raw.sheet.grain,
        },
        holddown: HoldDown {
            fastener: raw.holddown.fastener.into_inner(),
            places: raw.holddown.places.into_iter().map(|p| place(p.into_inner())).collect(),
            margin: raw.holddown.margin,
        },
        operations: raw.operation.into_iter().map(operation).collect(),
        named_parts: raw.part.into_iter().map(|p| NamedPart { name: p.name, at: p.at }).collect(),
        fits: raw
            .fit
            .into_iter()
            .map(|f| Fit { name: f.name, width: f.width, mate: f.mate, clearance: f.clearance })
            .collect(),
    }
}

fn place(raw: RawPlace) -> FastenerPlace {
    match raw {
        RawPlace::Bare(at) => FastenerPlace { at, with: None },
        RawPlace::With(p) => FastenerPlace { at: p.at, with: p.with },
    }
}

fn operation(o: RawOperation) -> Operation {
    Operation {
        name: o.name.into_inner(),
        program: o.program.into_inner(),
        bit: o.bit.into_inner(),
        after: o.after.into_iter().map(Spanned::into_inner).collect(),
        leaves: o.leaves.map(Spanned::into_inner),
        skin: o.skin,
        unattended: o.unattended,
    }
}
