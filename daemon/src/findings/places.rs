//! One place of a fastener: its air, what cuts nearest to it, and what else is wrong with it.
//!
//! May live here: that. May not: where places are proposed, forces.

use super::plan::{Ground, goes_in};
use crate::holddown::{Footing, HOLE, Stand, struck};
use crate::sheetmap::Clearance;
use crate::shop::config::Rectangle;
use chargehand_types::card::Fastener;
use chargehand_types::holddown::PlaceMeasured;
use chargehand_types::quantity::Spot;

impl Ground<'_> {
    /// Places that somebody asks for.
    pub(super) fn asked(&self, at: &[Spot], clear: &Clearance) -> Vec<PlaceMeasured> {
        let stands: Vec<Stand<'_>> = at.iter().map(|at| Stand { at: *at, fastener: self.fastener }).collect();
        let struck = struck(self.job, &stands, self.margin());
        let hit = |number| struck.iter().any(|s| s.stand == number);
        at.iter().enumerate().map(|(number, at)| self.measured(*at, clear, hit(number))).collect()
    }

    pub(super) fn measured(&self, at: Spot, clear: &Clearance, hit: bool) -> PlaceMeasured {
        let place = [at.x.mm(), at.y.mm()];
        let nearest = clear.nearest(place);
        let stroke = nearest.and_then(|n| self.job.strokes.get(n.stroke));
        PlaceMeasured {
            at,
            clearance_mm: nearest.map(|n| n.air.max(0.0)),
            on_sheet: self.overhang(at, [0.0; 2]).is_none(),
            ok: !hit && self.overhang(at, [0.0; 2]).is_none(),
            operation: stroke.and_then(|s| self.names.get(usize::from(s.operation)).cloned()),
            line: stroke.map(|s| s.place.line),
            notes: self.notes_on_one(at),
        }
    }

    /// The same of a place that somebody asks for, old holes too.
    fn notes_on_one(&self, at: Spot) -> Vec<String> {
        let mut notes = self.notes(at, self.fastener);
        if let Some(away) = self.old_hole(at, self.fastener) {
            notes.push(format!("an old hole in the waste board is {away:.1} mm away: it holds less there"));
        }
        notes
    }

    /// What else is wrong with a place, beside the bit.
    pub(super) fn notes(&self, at: Spot, fastener: &Fastener) -> Vec<String> {
        let mut notes = Vec::new();
        if self.overhang(at, [0.0; 2]).is_some() {
            notes.push("it lies outside the sheet".to_owned());
        } else if self.overhang(at, Footing::of(fastener).half()).is_some() {
            notes.push("it hangs over the sheet's edge".to_owned());
        }
        let kept = |r: &Rectangle| r.from.x <= at.x && at.x <= r.to.x && r.from.y <= at.y && at.y <= r.to.y;
        if goes_in(fastener) && self.case.bench.waste_board.keep_out.iter().any(kept) {
            notes.push("the waste board holds a bolt or a track there".to_owned());
        }
        notes
    }

    /// How far the nearest old hole in the waste board is, where a fastener that goes in would feel it.
    pub(super) fn old_hole(&self, at: Spot, fastener: &Fastener) -> Option<f64> {
        let away = |hole: &[f64; 2]| (hole[0] - at.x.mm()).hypot(hole[1] - at.y.mm());
        let nearest = self.old_holes().iter().map(away).fold(f64::INFINITY, f64::min);
        (goes_in(fastener) && nearest < HOLE).then_some(nearest)
    }

    /// Old holes in the waste board, work mm.
    pub(super) fn old_holes(&self) -> Vec<[f64; 2]> {
        let zero = self.case.bench.work_zero;
        self.case.bench.old_holes.iter().map(|h| [(h.x - zero.x).mm(), (h.y - zero.y).mm()]).collect()
    }

    /// The axis on which a place is nearer than this to the sheet's edge, or beyond it.
    pub(super) fn overhang(&self, at: Spot, inset: [f64; 2]) -> Option<usize> {
        let from = [at.x.mm() - self.job.corner[0], at.y.mm() - self.job.corner[1]];
        (0..2).find(|a| from[*a] < inset[*a] || from[*a] > self.job.size[*a] - inset[*a])
    }
}
