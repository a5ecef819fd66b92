//! The sheet on the page: cuts, shading, tabs, pieces, fasteners.
//!
//! May live here: what is drawn inside the sheet's edges. May not: the rest of the page.

use super::Sheetful;
use super::page::Page;
use chargehand_types::holddown::PlacePlanned;
use chargehand_types::quantity::plain;

/// A chord runs no farther off its arc than this, mm on the sheet.
const OFF: f64 = 0.3;
/// Points nearer to the one before are left out, mm on the paper.
const FINE: f64 = 0.12;
/// Half of a tab's box, mm on the paper.
const TAB: f64 = 0.9;
/// Greys that stay apart on any printer.
const SHADE: &str = "#d9d9d9";
const CUT: &str = "#6e6e6e";

/// From work millimetres to paper.
#[derive(Clone, Copy)]
struct View {
    corner: [f64; 2],
    /// The sheet's lower left corner on the paper.
    foot: [f64; 2],
    scale: f64,
}

impl View {
    fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.foot[0] + (x - self.corner[0]) / self.scale, self.foot[1] - (y - self.corner[1]) / self.scale]
    }
}

/// One run of a bit below the face.
struct Run {
    half: f64,
    points: Vec<[f64; 2]>,
}

pub(super) fn draw(page: &mut Page, full: &Sheetful<'_>, scale: f64, foot: [f64; 2]) {
    let view = View { corner: full.job.corner, foot, scale };
    let size = full.job.size.map(|side| side / scale);
    let top = [foot[0], foot[1] - size[1]];
    page.rectangle(top, size, "white", 0.0);
    page.clipped(top, size);
    let reach = full.footing.reach().mm() + full.card.holddown.margin.mm();
    for run in runs(full, &view, full.footing.top()) {
        page.run(&run.points, 2.0 * (run.half + reach) / scale, SHADE);
    }
    for [low, high] in full.keep_out {
        let (a, b) = (view.at([low[0], high[1]]), view.at([high[0], low[1]]));
        page.hatched(a, [b[0] - a[0], b[1] - a[1]]);
    }
    for run in runs(full, &view, 0.0) {
        page.run(&run.points, 2.0 * run.half / scale, CUT);
    }
    page.unclipped();
    page.rectangle(top, size, "none", 0.5);
    for tab in full.map.iter().flat_map(|map| map.tabs()) {
        let at = view.at(tab.at);
        page.rectangle([at[0] - TAB, at[1] - TAB], [2.0 * TAB; 2], "white", 0.35);
    }
    parts(page, full, &view);
    for place in &full.answer.places {
        fastener(page, place, full, &view);
    }
    page.label([foot[0] + size[0] / 2.0, foot[1] + 4.0], 3.0, "front edge");
}

/// Names of the parts, and a star on what comes loose.
fn parts(page: &mut Page, full: &Sheetful<'_>, view: &View) {
    for part in &full.card.named_parts {
        for at in &part.at {
            page.label(view.at([at.x.mm(), at.y.mm()]), 3.0, &part.name);
        }
    }
    for (number, region) in loose_regions(full) {
        let at = view.at(region.inside);
        page.label([at[0], at[1] - 2.5], 3.6, &format!("* {number}"));
    }
}

fn fastener(page: &mut Page, place: &PlacePlanned, full: &Sheetful<'_>, view: &View) {
    let at = view.at([place.at.x.mm(), place.at.y.mm()]);
    let [radius, high] = full.footing.half().map(|half| (half / view.scale).max(1.3));
    let fill = if place.hit { "black" } else { "white" };
    if full.footing.rectangle([0.0; 2]).is_some() {
        page.rectangle([at[0] - radius, at[1] - high], [2.0 * radius, 2.0 * high], fill, 0.4);
    } else {
        page.circle(at, radius, fill, 0.4);
    }
    page.line([at[0] - radius, at[1]], [at[0] + radius, at[1]], 0.25);
    page.line([at[0], at[1] - high], [at[0], at[1] + high], 0.25);
    if place.hit {
        let far = radius + 1.5;
        page.line([at[0] - far, at[1] - far], [at[0] + far, at[1] + far], 0.6);
        page.line([at[0] - far, at[1] + far], [at[0] + far, at[1] - far], 0.6);
    }
    // towards the middle of the sheet there is always paper
    let right = place.at.x.mm() - view.corner[0] > full.job.size[0] / 2.0;
    let aside = if right { -(radius + 3.0) } else { radius + 3.0 };
    page.label([at[0] + aside, at[1] + 1.4], 4.0, &place.number.to_string());
}

/// Which pieces come loose, and when.
pub(super) fn loose(full: &Sheetful<'_>) -> Vec<String> {
    loose_regions(full)
        .filter_map(|(number, region)| {
            let stroke = full.job.strokes.get(region.loose? as usize)?;
            let operation = full.names.get(usize::from(stroke.operation))?;
            let line = stroke.place.line;
            Some(format!("{number} comes loose in {operation}, line {line} ({} mm2)", plain(region.area.round())))
        })
        .collect()
}

/// With a letter each, so that none is taken for a fastener; after Z no more are marked.
fn loose_regions<'a>(full: &Sheetful<'a>) -> impl Iterator<Item = (char, &'a crate::sheetmap::Region)> {
    let regions = full.map.map(|map| map.regions()).unwrap_or_default();
    ('A'..='Z').zip(regions.iter().filter(|region| region.loose.is_some()))
}

/// The bit's path lower than `above` over the face, in runs that hang together, thinned to what paper shows.
fn runs(full: &Sheetful<'_>, view: &View, above: f64) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut last: Option<([f64; 2], u16)> = None;
    for stroke in &full.job.strokes {
        let half = full.job.cutters.get(usize::from(stroke.cutter)).map_or(0.0, crate::sheetmap::Cutter::radius);
        stroke.way.below(full.job.face + above, |t0, t1| {
            let [x, y, _] = stroke.way.at(t0);
            let hangs_on = last.is_some_and(|([a, b], cutter)| {
                cutter == stroke.cutter && (a - x).abs() < 1.0e-6 && (b - y).abs() < 1.0e-6
            });
            if !hangs_on {
                runs.push(Run { half, points: Vec::new() });
            }
            let Some(run) = runs.last_mut() else { return };
            stroke.way.chords(t0, t1, OFF, |t| {
                let [x, y, _] = stroke.way.at(t);
                let point = view.at([x, y]);
                let near = |p: &[f64; 2]| (p[0] - point[0]).hypot(p[1] - point[1]) < FINE;
                if t >= t1 || !run.points.last().is_some_and(near) {
                    run.points.push(point);
                }
            });
            let [x, y, _] = stroke.way.at(t1);
            last = Some(([x, y], stroke.cutter));
        });
    }
    runs
}
