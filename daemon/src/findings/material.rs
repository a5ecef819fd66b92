//! What the moves do to the wood: the sheet map asked stroke by stroke.
//!
//! May live here: entries, passes, rapids, where the bit is left. May not: pieces and tabs (see `loose`, `hanging`).

use super::case::Case;
use super::cause::{Cause, against, bare};
use super::cutting::Fitted;
use super::operation::Read;
use super::trace::{Trace, deepest_pass};
use super::{hanging, loose, through};
use crate::program::way::Way;
use crate::sheetmap::{Job, Least, SheetMap, Stroke};
use chargehand_types::card::{FastenerKind, FastenerPlace};
use chargehand_types::check::PieceReport;
use chargehand_types::finding::{Code, Finding, Severity, Unit};
use chargehand_types::quantity::Spot;
use std::collections::BTreeMap;

/// A move that goes sideways by less is straight up or down, mm.
const UPRIGHT: f64 = 0.01;
/// A move whose ends differ less in height is level, mm.
const LEVEL: f64 = 1.0e-4;
/// A bit this near the sheet's edge leaves room for hands, mm (common practice, no source).
const HAND: f64 = 50.0;
/// A cut narrower than this share of the bit is a skim along an edge, not a pass (common practice, no source).
const SKIM: f64 = 0.1;

/// A card's sheet map, and what it says.
#[derive(Debug)]
pub(super) struct Ground<'a> {
    pub(super) case: &'a Case<'a>,
    pub(super) map: SheetMap,
    pub(super) job: &'a Job,
    trace: &'a Trace<'a>,
    /// Names of the operations in the order of cutting.
    pub(super) order: Vec<&'a str>,
    /// By operation: N per tooth at its deepest, most loaded cut.
    pub(super) forces: Vec<f64>,
    /// By operation and bit.
    rules: BTreeMap<(u16, u16), Rules>,
}

/// The rules' memory over one operation with one bit.
#[derive(Debug, Default)]
struct Rules {
    rapid: Cause,
    plunge: Cause,
    ramp: Cause,
    shallow: Cause,
    deep: Cause,
    deepest: f64,
}

impl<'a> Ground<'a> {
    /// Sweeps the card's moves over its sheet and judges each stroke.
    pub(super) fn of(case: &'a Case<'a>, trace: &'a Trace<'a>, reads: &[Read<'a>]) -> Self {
        let limits = &case.bench.limits_set;
        let least = Least { depth: limits.ignore_thinner, piece: limits.small_piece };
        // a piece that is cut free lets the air in
        let airy = |place: &&FastenerPlace| case.fastener(place).is_ok_and(|f| f.kind == FastenerKind::Vacuum);
        let anchors: Vec<Spot> = case.card.holddown.places.iter().filter(|p| !airy(p)).map(|place| place.at).collect();
        let map = SheetMap::of(&trace.job, least, &anchors, case.pool);
        let order = reads.iter().map(|read| read.operation.name.as_str()).collect();
        let mut ground = Self { case, map, job: &trace.job, trace, order, forces: Vec::new(), rules: BTreeMap::new() };
        for (number, stroke) in trace.job.strokes.iter().enumerate() {
            ground.judge(number, stroke);
        }
        let specific = case.material().map_or(0.0, |m| m.cutting_force.value());
        let force = |(read, number): (&Read<'a>, u16)| specific * read.largest_load() * ground.deepest(number);
        ground.forces = reads.iter().zip(0..).map(force).collect();
        ground
    }

    /// The deepest pass of an operation, mm.
    fn deepest(&self, operation: u16) -> f64 {
        let of_it = self.rules.range((operation, 0)..=(operation, u16::MAX));
        of_it.map(|(_, rules)| rules.deepest).fold(0.0, f64::max)
    }

    fn judge(&mut self, number: usize, stroke: &Stroke) {
        let way = &stroke.way;
        if way.lowest() >= self.job.face {
            return;
        }
        let Some(fitted) = self.trace.bit(stroke.cutter) else { return };
        let cut = self.map.cut(number);
        let (flat, rise) = (way.flat_length(), way.rise());
        let ignore = self.case.bench.ignore_thinner.mm();
        let deepest = f64::from(cut.deepest);
        let below = self.job.face - way.lowest();
        let at = Some(way.end());
        let over = over_sheet(self.job, way, fitted.bit.cuts().mm() / 2.0);
        let [lowered, fresh, deep] = cut.areas(self.map.cell_area());
        let skim = SKIM * fitted.bit.cuts().mm() * flat;
        let steepest = self.case.bench.steep_ramp.value();
        let angle = (-rise).atan2(flat).to_degrees();
        let limit = deepest_pass(self.case, fitted.bit).mm();
        let rules = self.rules.entry((stroke.operation, stroke.cutter)).or_default();
        if stroke.rapid {
            if deepest > ignore {
                rules.rapid.over(stroke.place, deepest, at);
            } else if flat > UPRIGHT && over {
                rules.rapid.over(stroke.place, below, at);
            }
            return;
        }
        if deepest <= ignore {
            return;
        }
        if flat < UPRIGHT {
            let under = f64::from(cut.under_axis);
            if rise < 0.0 && under > ignore && !fitted.bit.kind.can_plunge() {
                rules.plunge.over(stroke.place, under, at);
            }
            return;
        }
        if angle > steepest {
            rules.ramp.over(stroke.place, angle, at);
            return;
        }
        if lowered > skim {
            rules.deepest = rules.deepest.max(deepest);
        }
        if deepest > limit + LEVEL && deep > skim {
            rules.deep.over(stroke.place, deepest, at);
        }
        if rise.abs() < LEVEL && fresh > skim && is_shallow(fitted, below) {
            rules.shallow.under(stroke.place, below, at);
        }
    }

    /// What was found in one operation.
    pub(super) fn findings(&self, read: &Read<'_>, out: &mut Vec<Finding>) {
        let name = read.operation.name.as_str();
        let Some(number) = self.order.iter().zip(0..).find(|(o, _)| **o == name).map(|(_, n)| n) else { return };
        for ((_, cutter), rules) in self.rules.range((number, 0)..=(number, u16::MAX)) {
            if let Some(fitted) = self.trace.bit(*cutter) {
                self.of_bit(name, fitted, rules, out);
            }
        }
        through::findings(self, number, read.operation, out);
        loose::findings(self, number, name, out);
        hanging::findings(self, number, name, out);
        out.extend(self.left_over_sheet(read));
    }

    /// What is told of an operation beside its findings.
    pub(super) fn advice(&self, read: &Read<'_>, out: &mut Vec<String>) {
        let number = self.order.iter().zip(0..).find(|(o, _)| **o == read.operation.name).map(|(_, n)| n);
        out.extend(number.and_then(|number| through::eaten(self, number, read.operation)));
    }

    fn of_bit(&self, operation: &str, fitted: Fitted<'_>, rules: &Rules, out: &mut Vec<Finding>) {
        let limit = deepest_pass(self.case, fitted.bit).mm();
        let upcut = fitted.bit.tip().map(|l| l.mm()).unwrap_or_default();
        for (cause, code, limit, unit) in [
            (&rules.rapid, Code::RapidInMaterial, 0.0, Unit::Mm),
            (&rules.plunge, Code::PlungeEntry, 0.0, Unit::Mm),
            (&rules.ramp, Code::SteepRamp, self.case.bench.steep_ramp.value(), Unit::Deg),
            (&rules.shallow, Code::ShallowFirstPass, upcut, Unit::Mm),
            (&rules.deep, Code::PassTooDeep, limit, Unit::Mm),
        ] {
            let Some(found) = cause.finding(code, operation) else { continue };
            let mut found = against(rounded(found), limit, unit);
            found.facts.bit = Some(fitted.key.to_owned());
            out.push(found);
        }
    }

    /// A program that ends with the bit over the sheet leaves it in the way of hands; at the very edge it is out of
    /// it. Where a program that cannot be read ends, nobody knows.
    fn left_over_sheet(&self, read: &Read<'_>) -> Option<Finding> {
        let [x, y, z] = read.last.filter(|_| read.is_whole())?;
        let inside = |at: f64, from: f64, size: f64| at > from + HAND && at < from + size - HAND;
        let ([x0, y0], [dx, dy]) = (self.job.corner, self.job.size);
        if !inside(x, x0, dx) || !inside(y, y0, dy) {
            return None;
        }
        let mut found = bare(Code::EndsOverSheet, &read.operation.name);
        if matches!(self.case.bench.spindle, super::Spindle::Manual) {
            found.severity = Severity::Sign;
        }
        found.line = Some(read.facts.lines);
        found.lines = Some([read.facts.lines; 2]);
        found.place = Some([x, y, z]);
        Some(found)
    }

    /// What the sheet falls into.
    pub(super) fn pieces(&self) -> Vec<PieceReport> {
        loose::report(self)
    }

    /// The strokes with their numbers.
    pub(super) fn strokes(&self) -> impl Iterator<Item = (usize, &'a Stroke)> {
        self.job.strokes.iter().enumerate()
    }
}

/// A depth from the map is told to a thousandth: its cells are exact to a few millionths.
fn rounded(mut finding: Finding) -> Finding {
    finding.measured = finding.measured.map(|m| (m * 1.0e4).round() / 1.0e4);
    finding
}

/// Only a compression bit minds: its tip cuts upwards, and the face needs the part above it.
fn is_shallow(fitted: Fitted<'_>, below: f64) -> bool {
    let upcut = fitted.bit.tip();
    upcut.is_some_and(|upcut| below <= upcut.mm() + LEVEL)
}

/// Whether any of a way lies over the sheet, the bit's width counted.
fn over_sheet(job: &Job, way: &Way, radius: f64) -> bool {
    let bounds = way.bounds();
    bounds.iter().zip(job.corner).zip(job.size).all(|((range, corner), size)| {
        let [least, most] = *range;
        most + radius > corner && least - radius < corner + size
    })
}
