//! `[[product]]`, `[[stock]]` and `[[upkeep]]`: what is sold, what is sawn and what is kept up.

use super::MOST_ENTRIES;
use crate::shop::check::{self, Check};
use crate::shop::config::raw::{RawPanel, RawProduct, RawRates, RawUpkeep};
use crate::shop::config::wares::{Panel, Product, Upkeep};
use crate::shop::text::{Path, Row};
use chargehand_types::quantity::Length;

const EACH: check::Limits = check::Limits::from(1.0, 1000.0, "parts");
const DAYS: check::Limits = check::Limits::from(0.0, 365.0, "days");
const SIDE: check::Limits = check::Limits::above(0.0, 10_000.0, "mm");
const THICKNESS: check::Limits = check::Limits::above(0.0, 200.0, "mm");
const KERF: check::Limits = check::Limits::from(0.0, 20.0, "mm");
const PIECES: check::Limits = check::Limits::from(1.0, 50.0, "sheets");
const HOURS: check::Limits = check::Limits::above(0.0, 100_000.0, "hours");
const METRES: check::Limits = check::Limits::above(0.0, 1.0e7, "m");
const EVERY: check::Limits = check::Limits::above(0.0, 3650.0, "days");
const PRICE: check::Limits = check::Limits::from(0.0, 1.0e6, "");

pub(super) fn products(check: &mut Check<'_, '_>, all: &Path, raw: Vec<RawProduct>) -> Vec<Product> {
    check.no_more_than(all, raw.len(), MOST_ENTRIES);
    for (i, product) in raw.iter().enumerate() {
        let here = all.at(i);
        check.words(&here.key("name"), &product.name);
        if product.parts.is_empty() {
            check.tell(
                &here.key("parts"),
                "it is made of nothing",
                "named parts and how many: { side = 2, shelf = 3 }",
            );
        }
        check.no_more_than(&here.key("parts"), product.parts.len(), MOST_ENTRIES);
        for (part, each) in &product.parts {
            check.words(&here.key("parts").key(part), part);
            check.number(&here.key("parts").key(part), f64::from(*each), EACH);
        }
        check.number(&here.key("finishing_days"), f64::from(product.finishing_days), DAYS);
    }
    check.once("product", raw.iter().enumerate().map(|(i, p)| (all.at(i).key("name"), p.name.as_str())));
    let product = |p: RawProduct| Product { name: p.name, parts: p.parts, finishing_days: p.finishing_days };
    raw.into_iter().map(product).collect()
}

/// With neither told there is no cost; one of them alone leaves the other at nothing.
pub(super) fn rates(check: &mut Check<'_, '_>, path: &Path, raw: RawRates) -> Option<[f64; 2]> {
    check.number_if(&path.key("machine_hour"), raw.machine_hour, PRICE);
    check.number_if(&path.key("hand_hour"), raw.hand_hour, PRICE);
    let told = raw.machine_hour.is_some() || raw.hand_hour.is_some();
    told.then(|| [raw.machine_hour.unwrap_or(0.0), raw.hand_hour.unwrap_or(0.0)])
}

pub(super) fn panels(check: &mut Check<'_, '_>, all: &Path, raw: Vec<RawPanel>) -> Vec<Panel> {
    check.no_more_than(all, raw.len(), MOST_ENTRIES);
    for (i, panel) in raw.iter().enumerate() {
        let here = all.at(i);
        check.name(&here.key("name"), &panel.name);
        let Row(size) = &panel.size;
        size.iter().enumerate().for_each(|(n, side)| check.number(&here.key("size").at(n), side.mm(), SIDE));
        check.number(&here.key("thickness"), panel.thickness.mm(), THICKNESS);
        check.number(&here.key("kerf"), panel.kerf.mm(), KERF);
        let Row(pieces) = &panel.pieces;
        pieces.iter().enumerate().for_each(|(n, p)| check.number(&here.key("pieces").at(n), f64::from(*p), PIECES));
        check.number(&here.key("price"), panel.price, PRICE);
    }
    check.once("stock", raw.iter().enumerate().map(|(i, p)| (all.at(i).key("name"), p.name.as_str())));
    let panel = |p: RawPanel| {
        let (Row(size), Row(pieces)) = (p.size, p.pieces);
        Panel { name: p.name, material: p.material, thickness: p.thickness, size, kerf: p.kerf, pieces, price: p.price }
    };
    raw.into_iter().map(panel).collect()
}

/// Each is due after something: hours, metres or days.
pub(super) fn upkeep(check: &mut Check<'_, '_>, all: &Path, raw: Vec<RawUpkeep>) -> Vec<Upkeep> {
    check.no_more_than(all, raw.len(), MOST_ENTRIES);
    for (i, upkeep) in raw.iter().enumerate() {
        let here = all.at(i);
        check.name(&here.key("name"), &upkeep.name);
        check.words(&here.key("what"), &upkeep.what);
        check.number_if(&here.key("every_hours"), upkeep.every_hours, HOURS);
        check.number_if(&here.key("every_metres"), upkeep.every_metres, METRES);
        check.number_if(&here.key("every_days"), upkeep.every_days, EVERY);
        if upkeep.every_hours.or(upkeep.every_metres).or(upkeep.every_days).is_none() {
            check.missing(&here, "every_hours", "after how much it is due: every_hours, every_metres or every_days");
        }
    }
    check.once("upkeep", raw.iter().enumerate().map(|(i, u)| (all.at(i).key("name"), u.name.as_str())));
    let upkeep = |u: RawUpkeep| Upkeep {
        name: u.name,
        what: u.what,
        every_hours: u.every_hours,
        every_metres: u.every_metres,
        every_days: u.every_days,
        with_board: u.with_board,
    };
    raw.into_iter().map(upkeep).collect()
}

/// A saw's usual kerf.
pub(in crate::shop::config) fn usual_kerf() -> Length {
    Length(3_200_000)
}
