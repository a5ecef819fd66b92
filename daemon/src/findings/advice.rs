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
use chargehand_types::card::{Bit, Leaves};
use chargehand_types::finding::{Code, Finding};
use chargehand_types::quantity::{Feed, Length, Rpm, plain};

/// A ramp of this many degrees is asked for (2 to 10 in wood: common practice, no source).
const RAMP: f64 = 3.0;
/// A gentler one is asked of nobody.
const LEAST_RAMP: f64 = 0.5;
/// A plan goes no deeper into the waste board than this, mm (0.1 to 0.5: common practice, no source).
const BITE: f64 = 0.3;
/// Pieces told by name in one sentence.
const SHOWN: usize = 6;
/// A feed is raised over what a good sheet was cut with by no more than this (common practice, no source).
const OVER_GOOD: f64 = 1.15;
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

/// How deep an operation goes, in words and in mm, as far as its card and its moves say: never deeper than it is meant.
fn depth_meant(case: &Case<'_>, read: &Read<'_>) -> Option<(String, f64)> {
    let sheet = &case.card.sheet;
    let thickness = case.thickness();
    let below = |depth: f64| (format!("to reach its depth of {} mm", plain(depth)), depth);
    let lowest = read.tally.below.along(2).map(|[lowest, _]| lowest)?;
    let reached = ((case.face_z().mm() - lowest) * 1000.0).round() / 1000.0;
    let through = || {
        let bite = sheet.max_bed_bite.mm().min(BITE);
        ("where it goes through".to_owned(), thickness.mm() + bite)
    };
    Some(match read.operation.leaves {
        Some(Leaves::Through | Leaves::Tabs) => through(),
        Some(Leaves::Skin) => {
            let skin = read.operation.skin.map_or(0.0, Length::mm);
            (format!("to leave its skin of {} mm", plain(skin)), thickness.mm() - skin)
        }
        Some(Leaves::Pocket) => below(reached),
        None if lowest <= sheet.bottom_z(sheet.thickness).mm() => through(),
        None => below(reached),
    })
}

/// One sentence of numbers for an operation that a finding asks it of.
pub(super) fn clean_cut(case: &Case<'_>, read: &Read<'_>, found: &[Finding], out: &mut Vec<String>) {
    let asks = |f: &Finding| {
        matches!(
            f.code,
            Code::ShallowFirstPass | Code::PassTooDeep | Code::PlungeEntry | Code::SteepRamp | Code::ChipLoadHigh
        )
    };
    if !read.is_whole() || !found.iter().any(asks) {
        return;
    }
    let Some((meant, total)) = depth_meant(case, read) else { return };
    let (name, key, bit) = (&read.operation.name, read.meant.key, read.meant.bit);
    let plan = match depth_plan(bit, total, deepest_pass(case, bit).mm()) {
        Ok(plan) => plan,
        Err(unfit) => return out.push(format!("{name}: {key} does not suit this cut {meant}: {unfit}")),
    };
    let degrees = case.bench.steep_ramp.value().clamp(LEAST_RAMP, RAMP);
    let mut told = format!(
        "{name}: {meant} with {key}, a starting point for a test cut: {}, entered by a ramp of {} degrees, {:.0} mm long",
        plan.told(),
        plain(degrees),
        ramp_run(plan.first, degrees)
    );
    match feed(case, key, bit, plan.deepest(), read.first_speed()) {
        Some((speed, Ok(feed))) => told.push_str(&format!(", fed {} mm/min at {speed}", plain(feed))),
        Some((speed, Err(TooSlow))) => told.push_str(&format!(
            "; at {speed} no feed both fills the chip and keeps to this depth, to the feeds this machine has proved itself at, and to 15 % over the fastest good sheet: turn slower, or cut shallower"
        )),
        None => {}
    }
    out.push(told);
}

/// A first pass, and how many more of what depth.
#[derive(Debug, Clone, Copy, PartialEq)]
struct DepthPlan {
    first: f64,
    rest: Option<(u32, f64)>,
}

impl DepthPlan {
    fn told(&self) -> String {
        let first = self.first;
        match self.rest {
            None => format!("one pass of {first:.1} mm"),
            Some((1, each)) => format!("a first pass of {first:.1} mm and one of {each:.1} mm"),
            Some((count, each)) => format!("a first pass of {first:.1} mm and {count} of {each:.1} mm"),
        }
    }

    fn deepest(&self) -> f64 {
        self.rest.map_or(self.first, |(_, each)| self.first.max(each))
    }
}

/// Even passes, none deeper than the bit takes; a compression bit buries its up-cutting tip at once.
///
/// # Errors
/// Why no plan suits the bit, in words.
fn depth_plan(bit: &Bit, total: f64, most: f64) -> Result<DepthPlan, String> {
    let (count, even) = passes(total, most).ok_or("there is nothing to cut, or nothing to cut it with")?;
    let tip = bit.tip().map(Length::mm);
    let first = match tip {
        Some(tip) if tip >= total => {
            return Err(format!(
                "all of {total:.1} mm lies within its up-cutting tip of {tip:.1} mm and the face tears; take a down-cut or a straight bit"
            ));
        }
        // the tip has to be buried, so that the down-cutting part meets the face
        Some(tip) if tip >= most => {
            return Err(format!(
                "its up-cutting tip of {tip:.1} mm is longer than the {most:.1} mm it takes at once; take a bit with a shorter tip"
            ));
        }
        Some(tip) => even.max((tip + PAST_TIP).min(most).min(total)),
        None => even,
    };
    if count == 1 || total - first < 1.0e-6 {
        return Ok(DepthPlan { first: total, rest: None });
    }
    Ok(DepthPlan { first, rest: passes(total - first, most) })
}

/// No feed lies between the least that fills a chip and the most that is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct TooSlow;

/// The speed the spindle can turn at for what the program asks, and the middle of the feeds that suit it.
fn feed(case: &Case<'_>, key: &str, bit: &Bit, depth: f64, asked: Option<Rpm>) -> Option<(Rpm, Result<f64, TooSlow>)> {
    let asked = asked?;
    let speed = match (case.bench.spindle, case.bench.dial) {
        (Spindle::Controlled { least, most }, _) | (Spindle::Manual, Some([least, most])) => asked.min(most).max(least),
        (Spindle::Manual, None) => asked,
    };
    let range = chip_range(case.material().ok()?, bit.diameter)?.range;
    let [least, most] = [range.least, range.most].map(|load| feed_for(load, speed, bit.flutes));
    let tried = case.bench.max_feed_tried.map_or(f64::INFINITY, Feed::unit);
    let good = case.bench.good_feeds.get(key).map_or(f64::INFINITY, |feed| feed.unit() * OVER_GOOD);
    Some((speed, middle(least, (most * depth_share(depth, bit.diameter.mm())).min(tried).min(good))))
}

/// The middle of a range of feeds in whole tens, where one of them lies inside.
fn middle(least: f64, most: f64) -> Result<f64, TooSlow> {
    if least > most {
        return Err(TooSlow);
    }
    let tens = ((least + most) / 20.0).floor() * 10.0;
    Ok(if tens >= least { tens } else { (least + most) / 2.0 })
}

/// What the pieces ask for: whether all may run straight through, what nobody named, what a name points at in vain.
pub(super) fn pieces(ground: &Ground<'_>, findings: &[Finding], out: &mut Vec<String>) {
    let loose: Vec<&Finding> = findings.iter().filter(|f| f.code == Code::PartLoose).collect();
    let held = !findings.iter().any(|f| f.code == Code::WeakTabs);
    if loose.is_empty() && held && is_known(findings) && !ground.map.regions().is_empty() {
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
    out.extend(nameless(ground));
    for part in parts {
        for at in part.at.iter().filter(|at| ground.map.piece_at([at.x.mm(), at.y.mm()]).is_none()) {
            let (name, x, y) = (&part.name, plain(at.x.mm()), plain(at.y.mm()));
            out.push(format!("the part `{name}` at X {x} Y {y} lies in no piece"));
        }
    }
}

/// Whether every program's moves are in the map.
pub(super) fn is_known(findings: &[Finding]) -> bool {
    !findings.iter().any(|f| matches!(f.code, Code::Unreadable | Code::SuspectUnits))
}

/// One sentence for all pieces that nobody named, the largest first.
fn nameless(ground: &Ground<'_>) -> Option<String> {
    let all = ground.map.regions().iter().enumerate().filter(|(piece, _)| name_of(ground, *piece).is_none());
    let told: Vec<String> = all
        .map(|(piece, region)| {
            let [x, y] = region.inside;
            format!("{} of {:.0} mm2 at X {x:.0} Y {y:.0}", picture::name(piece), region.area)
        })
        .collect();
    let shown = told.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    let more = told.len().saturating_sub(SHOWN);
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    (!told.is_empty()).then(|| format!("nobody named these pieces: {shown}{more}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheetmap::tests_bit as bit;
    use chargehand_types::card::BitKind;

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
        let with = |tip: i64| Bit { upcut_length: Some(Length::whole_mm(tip)), ..bit(BitKind::Compression, 6.35) };
        let plan = depth_plan(&with(8), 18.3, 12.7).unwrap();
        assert!((plan.first - 9.15).abs() < 1.0e-9 && plan.rest == Some((1, 18.3 - 9.15)), "{plan:?}");
        let plan = depth_plan(&with(11), 18.3, 12.7).unwrap();
        assert!((plan.first - 11.5).abs() < 1.0e-9 && plan.rest == Some((1, 18.3 - 11.5)), "{plan:?}");
        // no deeper than it takes, even to get past its tip
        assert!((depth_plan(&with(12), 18.3, 12.2).unwrap().first - 12.2).abs() < 1.0e-9);
        assert!(depth_plan(&with(8), 18.3, 6.35).unwrap_err().contains("shorter tip"));
        assert!(depth_plan(&with(8), 6.0, 12.7).unwrap_err().contains("face tears"));
    }

    #[test]
    fn other_bits_split_evenly() {
        let plan = depth_plan(&bit(BitKind::UpCut, 6.35), 18.3, 6.35).unwrap();
        assert!((plan.first - 6.1).abs() < 1.0e-9 && plan.rest.unwrap().0 == 2);
        assert_eq!(plan.told(), "a first pass of 6.1 mm and 2 of 6.1 mm");
        let once = depth_plan(&bit(BitKind::UpCut, 6.35), 5.0, 6.35).unwrap();
        assert_eq!(once, DepthPlan { first: 5.0, rest: None });
    }

    #[test]
    fn a_feed_never_leaves_its_range() {
        assert_eq!(middle(3600.0, 9000.0), Ok(6300.0));
        // no whole ten inside: the middle itself
        assert_eq!(middle(3241.0, 3247.0), Ok(3244.0));
        assert_eq!(middle(3240.0, 3240.0), Ok(3240.0));
        assert_eq!(middle(3240.0, 3000.0), Err(TooSlow));
    }
}
