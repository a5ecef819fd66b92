//! What cutting needs: a turning spindle, a feed, a bite each tooth can take.
//!
//! May live here: the rules on spindle, feed and chip load. May not: where the cut is.

use super::bench::{Bench, Spindle};
use super::cause::{Cause, against};
use crate::program::motion::{Modal, Move, MoveKind, Pace, Step, Turning};
use crate::program::way::Way;
use chargehand_types::card::{Bit, ChipLoadRange, Material};
use chargehand_types::finding::{Code, Finding, Unit};
use chargehand_types::quantity::{ChipLoad, Length, Rpm};
use std::collections::BTreeMap;

/// The range of chip load for a diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChipRange {
    /// Least and most.
    pub range: ChipLoadRange,
    /// The listed diameter it was taken from, where the bit's own lies outside the list.
    pub nearest: Option<Length>,
}

/// Between listed diameters interpolated, outside the list the nearest; none where nothing is listed.
#[must_use]
pub fn chip_range(material: &Material, diameter: Length) -> Option<ChipRange> {
    let list = &material.chip_load;
    let below = list.iter().rfind(|r| r.diameter <= diameter);
    let above = list.iter().find(|r| r.diameter >= diameter);
    match (below, above) {
        (Some(low), Some(high)) => Some(ChipRange { range: between(low, high, diameter), nearest: None }),
        (Some(only), None) | (None, Some(only)) => Some(ChipRange { range: *only, nearest: Some(only.diameter) }),
        (None, None) => None,
    }
}

fn between(low: &ChipLoadRange, high: &ChipLoadRange, diameter: Length) -> ChipLoadRange {
    let span = (high.diameter - low.diameter).mm();
    let share = if span > 0.0 { (diameter - low.diameter).mm() / span } else { 0.0 };
    let mix = |a: ChipLoad, b: ChipLoad| ChipLoad::of(a.value() + share * (b.value() - a.value()));
    ChipLoadRange { diameter, least: mix(low.least, high.least), most: mix(low.most, high.most) }
}

/// Chip load `fz = vf / (n z)` in mm a tooth; none where nothing turns.
#[must_use]
pub fn chip_load(feed_mm_min: f64, speed: Rpm, flutes: u32) -> Option<ChipLoad> {
    let teeth = speed.unit() * f64::from(flutes);
    if teeth > 0.0 { ChipLoad::new(feed_mm_min / teeth).ok() } else { None }
}

/// The feed that gives this chip load, in mm/min.
#[must_use]
pub fn feed_for(load: ChipLoad, speed: Rpm, flutes: u32) -> f64 {
    load.value() * speed.unit() * f64::from(flutes)
}

/// The bit that is in, with its key.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted<'a> {
    pub(super) key: &'a str,
    pub(super) bit: &'a Bit,
}

/// The rules' memory over one operation.
#[derive(Debug, Default)]
pub(super) struct Cutting {
    spindle_off: Cause,
    no_feed: Cause,
    untried: Cause,
    /// By bit key.
    loads: BTreeMap<String, Load>,
    largest: f64,
}

/// What one bit's teeth took.
#[derive(Debug)]
struct Load {
    range: ChipRange,
    flutes: u32,
    low: Cause,
    high: Cause,
    low_speed: Rpm,
    high_speed: Rpm,
    /// The most a tooth took.
    most: ChipLoad,
}

impl Cutting {
    /// Judges a feed move; `below` says that some of it lies below the face.
    pub(super) fn judge(&mut self, step: &Step, mv: &Move, way: &Way, below: bool, given: &Given<'_>) {
        if !matches!(mv.kind, MoveKind::Feed | MoveKind::Arc(_)) {
            return;
        }
        if mv.pace == Pace::Unset {
            self.no_feed.seen(step.place, Some(way.end()));
        }
        if !below {
            return;
        }
        if !turns(&step.modal, given.bench.spindle) {
            self.spindle_off.seen(step.place, Some(way.end()));
        }
        let Some(feed) = feed_of(mv, way) else { return };
        if given.bench.max_feed_tried.is_some_and(|most| feed > most.unit()) {
            self.untried.over(step.place, feed, Some(way.end()));
        }
        if given.is_level_cut(way) {
            self.teeth(step, feed, way, given);
        }
    }

    fn teeth(&mut self, step: &Step, feed: f64, way: &Way, given: &Given<'_>) {
        let Fitted { key, bit } = given.fitted;
        let Some(speed) = speed_of(&step.modal, given.bench.spindle) else { return };
        let Some(load) = chip_load(feed, speed, bit.flutes) else { return };
        self.largest = self.largest.max(load.value());
        if !self.loads.contains_key(key) {
            let Some(range) = chip_range(given.material, bit.diameter) else { return };
            self.loads.insert(key.to_owned(), Load::new(range, bit.flutes));
        }
        if let Some(of_bit) = self.loads.get_mut(key) {
            of_bit.judge(step, load, speed, way);
        }
    }

    /// The most a tooth took in a level cut, mm.
    pub(super) fn largest_load(&self) -> f64 {
        self.largest
    }

    /// The most a tooth of each bit took in level cuts, by the bit's key.
    pub(super) fn largest_loads(&self) -> impl Iterator<Item = (&str, ChipLoad)> {
        self.loads.iter().map(|(key, load)| (key.as_str(), load.most))
    }

    /// What was found.
    pub(super) fn findings(&self, operation: &str, bench: &Bench, out: &mut Vec<Finding>) {
        out.extend(self.spindle_off.finding(Code::SpindleOff, operation));
        out.extend(self.no_feed.finding(Code::NoFeed, operation));
        if let Some(most) = bench.max_feed_tried {
            let found = self.untried.finding(Code::FeedUntried, operation);
            out.extend(found.map(|f| against(f, most.unit(), Unit::MmPerMin)));
        }
        for (key, load) in &self.loads {
            load.findings(key, operation, out);
        }
    }

    /// Numbers for a test cut, where a bit was fed outside its range.
    pub(super) fn advice(&self, operation: &str, out: &mut Vec<String>) {
        for (key, load) in &self.loads {
            for (cause, speed) in [(&load.low, load.low_speed), (&load.high, load.high_speed)] {
                if cause.finding(Code::ChipLoadLow, operation).is_none() {
                    continue;
                }
                let [least, most] = [load.range.range.least, load.range.range.most];
                out.push(format!(
                    "{operation}: {key} at {speed} takes {least} to {most} when it is fed {:.0} to {:.0} mm/min",
                    feed_for(least, speed, load.flutes),
                    feed_for(most, speed, load.flutes),
                ));
            }
        }
    }
}

impl Load {
    fn new(range: ChipRange, flutes: u32) -> Self {
        let (low, high) = (Cause::default(), Cause::default());
        Self { range, flutes, low, high, low_speed: Rpm::ZERO, high_speed: Rpm::ZERO, most: ChipLoad::ZERO }
    }

    fn judge(&mut self, step: &Step, load: ChipLoad, speed: Rpm, way: &Way) {
        if load > self.most {
            self.most = load;
        }
        let (load, ChipLoadRange { least, most, .. }) = (load.value(), self.range.range);
        if load < least.value() * (1.0 - EQUAL) {
            self.low.under(step.place, load, Some(way.end()));
            self.low_speed = speed;
        } else if load > most.value() * (1.0 + EQUAL) {
            self.high.over(step.place, load, Some(way.end()));
            self.high_speed = speed;
        }
    }

    fn findings(&self, key: &str, operation: &str, out: &mut Vec<Finding>) {
        let range = self.range.range;
        for (cause, code, limit, speed) in [
            (&self.low, Code::ChipLoadLow, range.least, self.low_speed),
            (&self.high, Code::ChipLoadHigh, range.most, self.high_speed),
        ] {
            let Some(found) = cause.finding(code, operation) else { continue };
            let mut found = against(found, limit.value(), Unit::MmPerTooth);
            found.facts.bit = Some(key.to_owned());
            found.facts.range = Some([range.least.value(), range.most.value()]);
            found.facts.nearest_diameter = self.range.nearest.map(Length::mm);
            found.facts.rpm = Some(speed.unit());
            out.push(found);
        }
    }
}

/// A load this near its limit (as a share) is at the limit: feeds are written in whole numbers.
const EQUAL: f64 = 1.0e-6;

/// What the rules go by, for one move.
#[derive(Debug, Clone, Copy)]
pub(super) struct Given<'a> {
    pub(super) bench: &'a Bench,
    pub(super) material: &'a Material,
    pub(super) fitted: Fitted<'a>,
    /// Work Z of the sheet's face.
    pub(super) face: f64,
}

impl Given<'_> {
    /// Whether the bit goes sideways through the sheet: plunges, pecks and steep ramps do not count.
    fn is_level_cut(&self, way: &Way) -> bool {
        let deep_enough = way.lowest() < self.face - self.bench.ignore_thinner.mm();
        let steepest = self.bench.steep_ramp.value().to_radians().tan();
        let flat = way.flat_length();
        deep_enough && flat > 0.0 && way.rise().abs() <= flat * steepest
    }
}

/// Whether the spindle turns, as far as the program decides it. M3 with S0, or with no S at all, turns nothing.
fn turns(modal: &Modal, spindle: Spindle) -> bool {
    match spindle {
        Spindle::Manual => true,
        Spindle::Controlled { .. } => modal.turning != Turning::Off && modal.speed.is_some_and(|s| s > Rpm::ZERO),
    }
}

/// The speed it turns at: what S says, within what the spindle can do; by hand, what S asks the person for.
fn speed_of(modal: &Modal, spindle: Spindle) -> Option<Rpm> {
    let asked = modal.speed.filter(|s| *s > Rpm::ZERO)?;
    match spindle {
        Spindle::Manual => Some(asked),
        Spindle::Controlled { .. } if modal.turning == Turning::Off => None,
        Spindle::Controlled { least, most } => Some(asked.min(most).max(least)),
    }
}

/// The feed along the path, in mm/min.
fn feed_of(mv: &Move, way: &Way) -> Option<f64> {
    match mv.pace {
        Pace::Feed(feed) => Some(feed.unit()),
        Pace::Within(seconds) if seconds > 0.0 => Some(way.length() / seconds * 60.0),
        Pace::Within(_) | Pace::Rapid | Pace::Unset => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::quantity::Stress;

    fn length(mm: f64) -> Length {
        Length::from_mm(mm).unwrap()
    }

    fn material() -> Material {
        let row = |d, least, most| ChipLoadRange {
            diameter: length(d),
            least: ChipLoad::of(least),
            most: ChipLoad::of(most),
        };
        Material {
            title: "plywood".into(),
            specific_gravity: 0.45,
            shear_strength: Stress::of(6.0),
            cutting_force: Stress::of(18.0),
            chip_load: vec![row(3.0, 0.05, 0.13), row(5.0, 0.07, 0.19), row(8.0, 0.14, 0.34)],
        }
    }

    #[test]
    fn ranges_are_interpolated_inside() {
        let found = chip_range(&material(), length(6.5)).unwrap();
        assert_eq!(found.nearest, None);
        assert!((found.range.least.value() - 0.105).abs() < 1.0e-12);
        assert!((found.range.most.value() - 0.265).abs() < 1.0e-12);
        let listed = chip_range(&material(), length(5.0)).unwrap();
        assert_eq!((listed.range.least.value(), listed.nearest), (0.07, None));
    }

    #[test]
    fn nearest_range_is_told_outside() {
        let thick = chip_range(&material(), length(12.7)).unwrap();
        assert_eq!(thick.nearest, Some(length(8.0)));
        assert_eq!(thick.range.most.value(), 0.34);
        let thin = chip_range(&material(), length(1.0)).unwrap();
        assert_eq!(thin.nearest, Some(length(3.0)));
        assert!(chip_range(&Material { chip_load: vec![], ..material() }, length(5.0)).is_none());
    }

    #[test]
    fn teeth_share_the_feed() {
        // trade-facts 3.1, chip_load_mm and feed_from_chip_load (standard handbook definition fz = vf / (n z))
        let rpm = |n| Rpm::from_unit(n).unwrap();
        for (vf, n, z, fz) in [(2400.0, 18000.0, 2, 0.066_667), (3600.0, 18000.0, 2, 0.1), (1200.0, 16000.0, 1, 0.075)]
        {
            assert!((chip_load(vf, rpm(n), z).unwrap().value() - fz).abs() < 1.0e-6);
        }
        assert!((feed_for(ChipLoad::of(0.1), rpm(18000.0), 2) - 3600.0).abs() < 1.0e-9);
        assert!((feed_for(ChipLoad::of(0.2), rpm(16000.0), 1) - 3200.0).abs() < 1.0e-9);
        assert_eq!(chip_load(1000.0, Rpm::ZERO, 2), None);
    }
}
