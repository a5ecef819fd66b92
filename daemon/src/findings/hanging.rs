//! Whether tabs hold what they should.
//!
//! May live here: `weak-tabs`. May not: fasteners.

use super::cause::{against, bare};
use super::loose::name_of;
use super::material::Ground;
use crate::sheetmap::{Region, Tab};
use chargehand_types::finding::{Code, Finding, Unit};

/// What is wrong with the tabs of one piece: figure, limit, unit, in words.
type Weak = (f64, f64, Unit, &'static str);

/// One finding for each piece whose tabs are too weak, told at the first of its tabs.
pub(super) fn findings(ground: &Ground<'_>, number: u16, operation: &str, out: &mut Vec<Finding>) {
    for (piece, region) in ground.map.regions().iter().enumerate() {
        let mut tabs: Vec<&Tab> = region.tabs.iter().filter_map(|tab| ground.map.tabs().get(*tab)).collect();
        tabs.sort_by_key(|tab| tab.stroke);
        let strokes: Vec<_> = tabs.iter().filter_map(|tab| ground.job.strokes.get(tab.stroke as usize)).collect();
        let (Some(first), Some(last)) = (strokes.first(), strokes.last()) else { continue };
        // a piece held at last by the tabs of one operation is told there
        if last.operation != number || region.loose.is_some() || region.anchored {
            continue;
        }
        let Some((measured, limit, unit, words)) = weak(ground, region, &tabs, number) else { continue };
        let mut found = against(bare(Code::WeakTabs, operation), limit, unit);
        let from = if first.operation == number { first.place.line } else { last.place.line };
        found.line = Some(from);
        found.lines = Some([from, last.place.line]);
        found.count = u32::try_from(tabs.len()).unwrap_or(u32::MAX);
        found.measured = Some(measured);
        found.place = Some([region.centroid[0], region.centroid[1], ground.job.bottom()]);
        found.facts.piece = name_of(ground, piece);
        found.facts.rule = Some(words.to_owned());
        out.push(found);
    }
}

/// Geometry first, then force: shear of all tab sections against the force of one tooth at its deepest cut.
///
/// Shear strength along the grain times section (trade-facts 4.5), and specific cutting force times chip section
/// (chip load times depth of the pass, trade-facts 3.8): an estimate for a screen, not a design value.
fn weak(ground: &Ground<'_>, region: &Region, tabs: &[&Tab], number: u16) -> Option<Weak> {
    let limits = &ground.case.bench.limits_set;
    let strength = ground.case.material().map_or(0.0, |m| m.shear_strength.value());
    let holds = strength * tabs.iter().map(|tab| tab.section).sum::<f64>();
    let needs = limits.tab_safety * ground.forces.get(usize::from(number)).copied().unwrap_or(0.0);
    if holds < needs {
        return Some((round(holds), round(needs), Unit::N, "force"));
    }
    let least = &limits.tab_least;
    let lowest = tabs.iter().map(|tab| tab.height).fold(f64::INFINITY, f64::min);
    if lowest < least.height.mm() - EQUAL {
        return Some((round(lowest), least.height.mm(), Unit::Mm, "height"));
    }
    // a ramped tab is as wide as its section over its height
    let narrowest = tabs.iter().map(|tab| tab.section / tab.height.max(EQUAL)).fold(f64::INFINITY, f64::min);
    if narrowest < least.width.mm() - EQUAL {
        return Some((round(narrowest), least.width.mm(), Unit::Mm, "width"));
    }
    let count = tabs.len() as f64;
    if count < f64::from(least.number) {
        return Some((count, f64::from(least.number), Unit::Tabs, "number"));
    }
    let gap = widest_gap(region.centroid, tabs);
    (gap > least.gap.mm()).then(|| (round(gap), least.gap.mm(), Unit::Mm, "gap"))
}

/// Lengths nearer than this are equal, mm.
const EQUAL: f64 = 1.0e-3;

fn round(figure: f64) -> f64 {
    (figure * 1000.0).round() / 1000.0
}

/// The widest straight way from a tab to the next, going round the piece.
fn widest_gap(centre: [f64; 2], tabs: &[&Tab]) -> f64 {
    let mut round: Vec<[f64; 2]> = tabs.iter().map(|tab| tab.at).collect();
    round.sort_by(|a, b| {
        let angle = |p: &[f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]);
        angle(a).total_cmp(&angle(b))
    });
    let next = round.iter().cycle().skip(1);
    round.iter().zip(next).map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1])).fold(0.0, f64::max)
}
