//! Distances to the swept bit against the sample places of every card.
//!
//! The truths were computed apart from this program with a general-purpose geometry library (chords 0.0001 mm off the
//! arcs, told to 0.0002 mm). The card whose relief has 200,000 moves is not kept here; `CHARGEHAND_CASES` may name a folder
//! that has it.

use super::cases::{Known, Shop, folder, known, names, shop};
use chargehand_daemon::findings::{Case, sweep_of};
use chargehand_daemon::sheetmap::{Clearance, Job};
use chargehand_types::quantity::Length;
use serde_json::Value;
use std::collections::BTreeMap;

/// What the distances may be off by, beside what the truth says of itself.
const OFF_MM: f64 = 0.001;
/// The truth's own error of a distance, and of a circle's radius.
const TRUTH_MM: f64 = 0.0002;
const CIRCLE_MM: f64 = 0.01;

/// The moves of every program whose geometry is known: one that cannot be read, or has the wrong unit, is left out.
fn job(known: &Known, shop: &Shop) -> Job {
    let thickness = known.truth["given"]["measured_thickness"].as_f64().unwrap();
    let case = Case {
        card: &known.card,
        programs: &known.programs,
        stores: &shop.stores,
        bench: &shop.bench,
        thickness: Some(Length::from_mm(thickness).unwrap()),
        bit_used: &BTreeMap::new(),
        pool: &shop.pool,
        window: false,
    };
    let told = known.truth["operations"].as_array().unwrap();
    let known_shape = |name: &str| told.iter().any(|o| o["name"] == name && !o["extents_all"].is_null());
    sweep_of(&case, |operation| known_shape(&operation.name)).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// The farthest any sample is off, for one of the columns.
fn worst(points: &[Value], column: usize, clear: &Clearance) -> f64 {
    points.iter().map(|p| (clear.air([number(&p[0]), number(&p[1])]) - number(&p[column])).abs()).fold(0.0, f64::max)
}

/// How far the largest free circle's radius is off, at the place the truth gives.
fn circle_off(circle: &Value, known: &Known, clear: &Clearance) -> f64 {
    let at = [number(&circle["centre"][0]), number(&circle["centre"][1])];
    let sheet = &known.card.sheet;
    let low = [sheet.corner.x.mm(), sheet.corner.y.mm()];
    let mut radius = clear.air(at);
    for axis in [0, 1] {
        radius = radius.min(at[axis] - low[axis]).min(low[axis] + sheet.size[axis].mm() - at[axis]);
    }
    (radius - number(&circle["radius"])).abs()
}

#[test]
fn every_sample_place_is_as_far_as_known() {
    let folder = folder();
    let shop = shop(&folder);
    let mut seen = 0;
    for name in names(&folder) {
        let known = known(&folder, &name, &shop);
        let job = job(&known, &shop);
        let told = &known.truth["clearance"];
        let points = told["points"].as_array().unwrap();
        let mut off = Vec::new();
        for (column, what, above) in [(2, "flush", 0.0), (3, "clamp15", 15.0)] {
            let clear = Clearance::new(&job, above);
            let (samples, circle) = (worst(points, column, &clear), circle_off(&told["circle"][what], &known, &clear));
            assert!(samples <= OFF_MM + TRUTH_MM, "{name}: a {what} place is {samples} mm off");
            assert!(circle <= OFF_MM + CIRCLE_MM, "{name}: the {what} circle is {circle} mm off");
            off.push((samples, circle));
        }
        println!(
            "{name:22} {} places, off by flush {:.5} clamp {:.5}; circle {:.5} {:.5} mm",
            points.len(),
            off[0].0,
            off[1].0,
            off[0].1,
            off[1].1
        );
        seen += points.len();
    }
    assert!(seen >= 200 * 15, "{seen} places");
    if !folder.join("garden-relief").is_dir() {
        println!("garden-relief is not in {}: set CHARGEHAND_CASES to a folder that has it", folder.display());
    }
}
