//! One place of a fastener: its air, what cuts nearest to it, and what else is wrong with it.
//!
//! May live here: that. May not: where places are proposed, forces.

use super::case::{CannotJudge, Case};
use super::plan::{Ground, goes_in};
use super::sweep::sweep;
use crate::holddown::{Footing, HOLE, Levels, Stand, struck, struck_by};
use crate::sheetmap::{Clearance, Job};
use crate::shop::config::Rectangle;
use chargehand_types::card::{Fastener, FastenerPlace};
use chargehand_types::holddown::PlaceMeasured;
use chargehand_types::quantity::Spot;

/// What a card's bits sweep over one sheet, made ready to be asked about places again and again.
#[derive(Debug)]
pub struct Airs {
    job: Job,
    names: Vec<String>,
    levels: Levels,
}

impl Airs {
    /// Of a case; every program counts as far as it can be read.
    ///
    /// # Errors
    /// When the card names something that is not there.
    pub fn of(case: &Case<'_>) -> Result<Self, CannotJudge> {
        let names = case.in_order().iter().map(|o| o.name.clone()).collect();
        Ok(Self { job: sweep(case)?, names, levels: Levels::default() })
    }

    /// How far fasteners at these places are from the bit, each the card's own for its place or else the card's usual
    /// one. The case is the one that this was made of.
    ///
    /// # Errors
    /// When the card names a fastener that is not there.
    pub fn measure(&mut self, case: &Case<'_>, places: &[Spot]) -> Result<Vec<PlaceMeasured>, CannotJudge> {
        let usual = FastenerPlace { at: Spot::default(), with: None };
        let mut stands = Vec::with_capacity(places.len());
        for at in places {
            let given = case.card.holddown.places.iter().find(|p| p.at == *at);
            stands.push(Stand { at: *at, fastener: case.fastener(given.unwrap_or(&usual))? });
        }
        let struck = struck_by(&self.job, &stands, case.card.holddown.margin, &mut self.levels);
        let mut found = Vec::with_capacity(places.len());
        for (number, Stand { at, fastener }) in stands.iter().enumerate() {
            let clear = self.levels.below(&self.job, Footing::of(fastener).top());
            let hit = struck.iter().any(|s| s.stand == number);
            let ground = Ground::of_places(case, &self.job, fastener, self.names.clone());
            found.push(ground.measured(*at, clear, hit));
        }
        Ok(found)
    }
}

/// The same once.
///
/// # Errors
/// When the card names something that is not there.
pub fn measure(case: &Case<'_>, places: &[Spot]) -> Result<Vec<PlaceMeasured>, CannotJudge> {
    Airs::of(case)?.measure(case, places)
}

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
