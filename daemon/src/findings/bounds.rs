//! Where the bit may go: the machine's travel, the sheet, the waste board under it.
//!
//! May live here: the rules on places. May not: spindle, feed, bits' fitness.

use super::case::Case;
use super::cause::{Cause, against};
use super::reach::Reach;
use crate::program::motion::{Move, MoveKind, Step};
use crate::program::way::Way;
use chargehand_types::finding::{Code, Finding, Unit};

/// Less than this over an edge (mm) is the rounding of an arc's quadrant, not a move.
const ROUNDING: f64 = 2.0e-4;

/// Names of the axes for people.
const AXES: [&str; 3] = ["X", "Y", "Z"];

/// The edges, in work mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edges {
    /// The machine's travel.
    travel: [[f64; 2]; 3],
    /// The sheet, X and Y.
    pub(super) sheet: [[f64; 2]; 2],
    pub(super) face: f64,
    /// The waste board's face.
    pub(super) bottom: f64,
    /// How far below it a cut may go.
    bite: f64,
}

impl Edges {
    pub(super) fn new(case: &Case<'_>) -> Self {
        let (bench, sheet, face) = (case.bench, &case.card.sheet, case.face_z());
        let zero = [bench.work_zero.x, bench.work_zero.y, bench.work_zero.z];
        let mut travel = [[0.0; 2]; 3];
        for ((range, slot), zero) in bench.travel.iter().zip(&mut travel).zip(zero) {
            *slot = range.map(|edge| (edge - zero).mm());
        }
        let [width, depth] = sheet.size;
        let (x, y) = (sheet.corner.x, sheet.corner.y);
        Self {
            travel,
            sheet: [[x.mm(), (x + width).mm()], [y.mm(), (y + depth).mm()]],
            face: face.mm(),
            bottom: (face - case.thickness() - case.on_tape()).mm(),
            bite: sheet.max_bed_bite.mm(),
        }
    }

    /// How far a card's motion would have to be shifted along an axis to lie within the travel: the least shift.
    /// Nothing for Z, whose zero is touched off on the sheet or the waste board and cannot be chosen.
    fn shift(&self, axis: usize, needed: [f64; 2]) -> Option<f64> {
        let [least, most] = self.travel.get(axis).copied()?;
        let (low, high) = (least - needed[0], most - needed[1]);
        if axis == 2 || low > high { None } else { Some(if low > 0.0 { low } else { high.min(0.0) }) }
    }
}

/// The rules' memory over one operation.
#[derive(Debug, Default)]
pub(super) struct Bounds {
    /// By axis: below the least, above the most.
    travel: [[Cause; 2]; 3],
    sheet: Cause,
    bed: Cause,
}

impl Bounds {
    pub(super) fn judge(&mut self, step: &Step, mv: &Move, way: &Way, radius: f64, edges: &Edges) {
        self.travel(step, mv, way, edges);
        let feeding = matches!(mv.kind, MoveKind::Feed | MoveKind::Arc(_));
        let lowest = if feeding { way.lowest() } else { way.end()[2] };
        if lowest >= edges.face {
            return;
        }
        if feeding {
            self.sheet(step, way, radius, edges);
        }
        let bite = edges.bottom - lowest;
        if bite > edges.bite + ROUNDING {
            self.bed.over(step.place, bite, Some(way.end()));
        }
    }

    fn travel(&mut self, step: &Step, mv: &Move, way: &Way, edges: &Edges) {
        let bounds = way.bounds();
        for (axis, (range, causes)) in bounds.iter().zip(&mut self.travel).enumerate() {
            if mv.named & (1 << axis) == 0 {
                continue;
            }
            let [least, most] = edges.travel[axis];
            for (over, cause) in [least - range[0], range[1] - most].into_iter().zip(causes) {
                if over > ROUNDING {
                    cause.over(step.place, over, Some(way.end()));
                }
            }
        }
    }

    /// The bit's edge beyond the sheet, of what lies below the face.
    fn sheet(&mut self, step: &Step, way: &Way, radius: f64, edges: &Edges) {
        let mut worst = 0.0_f64;
        way.below(edges.face, |t0, t1| {
            let bounds = way.bounds_of(t0, t1);
            for (range, edge) in bounds.iter().zip(&edges.sheet) {
                worst = worst.max(edge[0] - range[0] + radius).max(range[1] + radius - edge[1]);
            }
        });
        if worst > ROUNDING {
            self.sheet.over(step.place, worst, Some(way.end()));
        }
    }

    /// What was found; `needed` is the reach of the whole card.
    pub(super) fn findings(&self, operation: &str, needed: &Reach, edges: &Edges, out: &mut Vec<Finding>) {
        for (axis, causes) in self.travel.iter().enumerate() {
            for cause in causes {
                let Some(found) = cause.finding(Code::OutsideTravel, operation) else { continue };
                let mut found = against(found, 0.0, Unit::Mm);
                found.facts.axis = AXES.get(axis).map(|a| (*a).to_owned());
                found.facts.shift = needed.along(axis).and_then(|range| edges.shift(axis, range));
                out.push(found);
            }
        }
        let sheet = self.sheet.finding(Code::OutsideSheet, operation);
        out.extend(sheet.map(|f| against(f, 0.0, Unit::Mm)));
        let bed = self.bed.finding(Code::BedBite, operation);
        out.extend(bed.map(|f| against(f, edges.bite, Unit::Mm)));
    }
}
