//! The sheet from above with what happened where.
//!
//! May live here: that drawing. May not: finding the places.

use super::svg::Svg;
use crate::words;
use chargehand_types::check::Drawing;
use chargehand_types::quantity::Spot;
use chargehand_types::report::{Mark, MarkOf};
use chargehand_types::stage::Reason;
use std::collections::BTreeMap;

/// Width of the drawing in its own units.
const WIDE: f64 = 720.0;
/// Points drawn at most, so that the page stays small.
const POINTS_MOST: usize = 6_000;
/// Size of a mark that stands for one thing.
const MARK: f64 = 7.0;

/// The sheet with its cuts and places with numbers; the long side lies across.
#[must_use]
pub fn numbered(drawing: &Drawing, places: &[Spot]) -> String {
    let (mut svg, place) = ground(drawing, "The sheet from above, with its cuts and the places of its fasteners");
    for (nth, at) in (1..).zip(places) {
        let here = place(at.x.mm(), at.y.mm());
        let (data, told) = (format!("data-fastener=\"{nth}\""), format!("fastener {nth}"));
        svg.dot(here, MARK + 2.0, "head", &data, &told);
        svg.words([here[0], here[1] + 4.0], "middle", "", &nth.to_string());
    }
    svg.done()
}

/// The sheet with its cuts, and where a place of it lies on the drawing.
fn ground(drawing: &Drawing, shows: &str) -> (Svg, impl Fn(f64, f64) -> [f64; 2] + use<>) {
    let [width, height] = drawing.size.map(|side| side.mm().max(1.0));
    let turned = height > width;
    let (long, short) = if turned { (height, width) } else { (width, height) };
    let scale = WIDE / long;
    let (left, low) = (drawing.corner.x.mm(), drawing.corner.y.mm());
    let place = move |x: f64, y: f64| {
        let (x, y) = (x - left, y - low);
        if turned { [y * scale, x * scale] } else { [x * scale, (height - y) * scale] }
    };
    let mut svg = Svg::new(WIDE, short * scale, shows);
    svg.bar([0.0, 0.0, WIDE, short * scale], "board", "", "the sheet");
    let points: usize = drawing.paths.iter().map(|path| path.points.len()).sum();
    let every = points.div_ceil(POINTS_MOST).max(1);
    for path in &drawing.paths {
        let last = path.points.len().saturating_sub(1);
        let kept = path.points.iter().enumerate().filter(|(nth, _)| nth % every == 0 || *nth == last);
        let style = if path.through { "stroke-width=\"2\"" } else { "stroke-width=\"1\" stroke-dasharray=\"3 2\"" };
        svg.run(kept.map(|(_, [x, y])| place(f64::from(*x), f64::from(*y))), "cut", style);
    }
    (svg, place)
}

/// The map; the long side lies across.
#[must_use]
pub fn map(drawing: &Drawing, marks: &[Mark]) -> String {
    let (mut svg, place) = ground(drawing, "The sheet from above, with the places where something happened");
    let mut at: BTreeMap<(Spot, MarkOf), u32> = BTreeMap::new();
    for mark in marks {
        *at.entry((mark.at, mark.of)).or_default() += 1;
    }
    // what happened at one place stands side by side
    let mut beside: BTreeMap<Spot, f64> = BTreeMap::new();
    for ((spot, of), count) in at {
        let shift = beside.entry(spot).or_default();
        let [x, y] = place(spot.x.mm(), spot.y.mm());
        let (here, told) = ([x + *shift, y], format!("{}: {count}", name(of)));
        *shift += 34.0;
        let data = format!("data-mark=\"{}\" data-count=\"{count}\"", name(of));
        match of {
            MarkOf::Stopped => svg.cross(here, MARK, &data, &told),
            MarkOf::Part(Some(Reason::TornFace)) => svg.triangle(here, MARK, "f", &data, &told),
            MarkOf::Part(_) => svg.dot(here, MARK, "b", &data, &told),
        }
        if count > 1 {
            svg.words([here[0] + MARK + 3.0, y + 4.0], "start", "", &count.to_string());
        }
    }
    svg.done()
}

fn name(of: MarkOf) -> &'static str {
    match of {
        MarkOf::Stopped => "stopped",
        MarkOf::Part(Some(reason)) => words::reason(reason),
        MarkOf::Part(None) => "no reason given",
    }
}
