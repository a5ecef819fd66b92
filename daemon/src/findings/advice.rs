//! Numbers for a test cut, and what the pieces ask of whoever stands there.
//!
//! Everything here is a starting point for a test cut, given only where a finding asks for it.
//!
//! May live here: depth plans, ramps, feeds, sentences about pieces. May not: findings.

use super::bench::Spindle;
use super::case::Case;
use super::cutting::{chip_range, feed_for};
use super::loose::name_of;
use super::material::Ground;
use super::operation::Read;
use super::picture;
use super::trace::deepest_pass;
use chargehand_types::card::{Bit, BitKind};
use chargehand_types::finding::{Code, Finding};
use chargehand_types::quantity::{Feed, Length, Rpm};

/// A ramp of this many degrees is asked for (2 to 10 in wood: common practice, no source).
const RAMP: f64 = 3.0;
/// The first pass of a compression bit reaches so far past its up-cutting tip, mm (common practice, no source).
const PAST_TIP: f64 = 0.5;

/// The fewest even passes none of which is deeper than the bit takes: how many, and how deep each.
///
/// `n = ceil(total / most)`, `total / n` each (arithmetic).
fn passes(total: f64, most: f64) -> Option<(u32, f64)> {
    if total <= 0.0 || most <= 0.0 {
        return None;
    }
    let count = (total / most - 1.0e-9).ceil().clamp(1.0, 1000.0);
    Some((count as u32, total / count))
}

/// How far a ramp runs seen from above: `depth / tan(angle)` (trade-facts 3.5, geometry).
fn ramp_run(depth: f64, degrees: f64) -> f64 {
    depth / degrees.to_radians().tan()
}

/// What is left of a chip load at this depth: all up to one diameter, a quarter off at two, half off at three (a
/// tooling supplier's chart, valid at one diameter, secondary source), in between in proportion.
fn depth_share(depth: f64, diameter: f64) -> f64 {
    let ratio = if diameter > 0.0 { depth / diameter } else { 1.0 };
    (1.0 - 0.25 * (ratio - 1.0)).clamp(0.5, 1.0)
}

/// One sentence of numbers for an operation that a finding asks it of.
pub(super) fn clean_cut(case: &Case<'_>, read: &Read<'_>, found: &[Finding], out: &mut Vec<String>) {
    let asks = |f: &Finding| {
        matches!(
            f.code,
            Code::ShallowFirstPass | Code::PassTooDeep | Code::PlungeEntry | Code::SteepRamp | Code::ChipLoadHigh
        )
    };
    if !found.iter().any(asks) {
        return;
    }
    let bit = read.meant.bit;
    let sheet = &case.card.sheet;
    let total = (case.thickness() + Length(sheet.max_bed_bite.0.min(300_000))).mm();
    let Some((first, rest)) = depth_plan(bit, total, deepest_pass(case, bit).mm()) else { return };
    let plan = match rest {
        None => format!("one pass of {first:.1} mm"),
        Some((1, each)) => format!("a first pass of {first:.1} mm and one of {each:.1} mm"),
        Some((count, each)) => format!("a first pass of {first:.1} mm and {count} of {each:.1} mm"),
    };
    let mut told = format!(
        "{}: to go through with {}, a starting point for a test cut: {plan}, entered by a ramp of {RAMP:.0} degrees, {:.0} mm long",
        read.operation.name,
        read.meant.key,
        ramp_run(first, RAMP)
    );
    if let Some((feed, speed)) = feed(case, bit, first, read.first_speed()) {
        told.push_str(&format!(", fed {feed:.0} mm/min at {speed}"));
    }
    out.push(told);
}

/// The first pass, and how many more of what depth: a compression bit buries its up-cutting tip at once.
fn depth_plan(bit: &Bit, total: f64, most: f64) -> Option<(f64, Option<(u32, f64)>)> {
    let (count, even) = passes(total, most)?;
    let tip = bit.upcut_length.filter(|_| bit.kind == BitKind::Compression).map_or(0.0, |tip| tip.mm() + PAST_TIP);
    let first = even.max(tip.min(total));
    if count == 1 || total - first < 1.0e-6 {
        return Some((total, None));
    }
    Some((first, passes(total - first, most)))
}

/// The middle of the bit's chip-load range, less for a deep cut, and no faster than the machine has proved itself at.
fn feed(case: &Case<'_>, bit: &Bit, depth: f64, speed: Option<Rpm>) -> Option<(f64, Rpm)> {
    let speed = match (speed?, case.bench.spindle) {
        (asked, Spindle::Controlled { least, most }) => asked.min(most).max(least),
        (asked, Spindle::Manual) => asked,
    };
    let range = chip_range(case.material().ok()?, bit.diameter)?.range;
    let [least, most] = [range.least, range.most].map(|load| feed_for(load, speed, bit.flutes));
    let wished = (least + most) / 2.0 * depth_share(depth, bit.diameter.mm());
    let tried = case.bench.max_feed_tried.map_or(f64::INFINITY, Feed::unit);
    Some(((wished.max(least).min(tried) / 50.0).floor() * 50.0, speed))
}

/// What the pieces ask for: whether all may run straight through, what nobody named, what a name points at in vain.
pub(super) fn pieces(ground: &Ground<'_>, findings: &[Finding], out: &mut Vec<String>) {
    let loose: Vec<&Finding> = findings.iter().filter(|f| f.code == Code::PartLoose).collect();
    if loose.is_empty() && !ground.map.regions().is_empty() {
        out.push("run straight through: nothing comes loose before the last cut beside it".to_owned());
    }
    for f in loose {
        let (operation, line) = (f.operation.clone().unwrap_or_default(), f.line.unwrap_or_default());
        let [x, y, _] = f.place.unwrap_or_default();
        let on = f.facts.goes_on.clone().unwrap_or_default();
        let piece = f.facts.piece.clone().unwrap_or_else(|| "a piece".to_owned());
        out.push(format!(
            "do not run straight through: {piece} is loose after {operation} line {line} and is cut beside again at {on}; cut that first, leave tabs, or put a fastener at X {x:.0} Y {y:.0}"
        ));
    }
    let parts = &ground.case.card.named_parts;
    if parts.is_empty() {
        return;
    }
    let nameless = (0..ground.map.regions().len()).filter(|piece| name_of(ground, *piece).is_none());
    for piece in nameless {
        if let Some(region) = ground.map.regions().get(piece) {
            let ([x, y], letter) = (region.inside, picture::name(piece));
            out.push(format!("nobody named piece {letter}, {:.0} mm2 at X {x:.0} Y {y:.0}", region.area));
        }
    }
    for part in parts {
        for at in part.at.iter().filter(|at| ground.map.piece_at([at.x.mm(), at.y.mm()]).is_none()) {
            out.push(format!("the part `{}` at X {} Y {} lies in no piece", part.name, at.x.mm(), at.y.mm()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheetmap::tests_bit as bit;

    #[test]
    fn passes_are_even_and_few() {
        // trade-facts 3.7, check `passes`: t=18, waste=0.3, ap_max=6.35 -> 3 of 6.1; t=12, waste=0.5, ap_max=3 -> 5 of 2.5
        let (count, each) = passes(18.3, 6.35).unwrap();
        assert!(count == 3 && (each - 6.1).abs() < 1.0e-9);
        let (count, each) = passes(12.5, 3.0).unwrap();
        assert!(count == 5 && (each - 2.5).abs() < 1.0e-9);
        assert_eq!(passes(0.0, 3.0), None);
        assert_eq!(passes(5.0, 0.0), None);
    }

    #[test]
    fn ramps_run_as_far_as_their_angle() {
        // trade-facts 3.5, check `straight_ramp`: dz=6 at 3 degrees runs 114.49 mm, dz=9 at 10 degrees 51.042 mm
        assert!((ramp_run(6.0, 3.0) - 114.49).abs() < 0.01);
        assert!((ramp_run(9.0, 10.0) - 51.042).abs() < 0.001);
    }

    #[test]
    fn deep_cuts_take_less_a_tooth() {
        // trade-facts 3.6, chart T1: valid at 1 D, 25 % off at 2 D, 50 % off at 3 D
        for (depth, share) in [(3.0, 1.0), (6.0, 1.0), (12.0, 0.75), (18.0, 0.5), (30.0, 0.5)] {
            assert!((depth_share(depth, 6.0) - share).abs() < 1.0e-12);
        }
    }

    #[test]
    fn a_compression_bit_buries_its_tip_first() {
        let mut compression = bit(BitKind::Compression, 6.35);
        compression.upcut_length = Some(Length::whole_mm(8));
        let (first, rest) = depth_plan(&compression, 18.3, 6.35).unwrap();
        assert!((first - 8.5).abs() < 1.0e-9);
        assert_eq!(rest.map(|(count, each)| (count, (each * 100.0).round())), Some((2, 490.0)));
        let (first, rest) = depth_plan(&bit(BitKind::UpCut, 6.35), 18.3, 6.35).unwrap();
        assert!((first - 6.1).abs() < 1.0e-9 && rest.unwrap().0 == 2);
        assert_eq!(depth_plan(&bit(BitKind::UpCut, 6.35), 5.0, 6.35), Some((5.0, None)));
    }
}
