//! The sheet seen from above: where the bit cuts, and the fasteners the card gives.
//!
//! May live here: outlines of the cuts. May not: what is left standing between them, which is the sheet map's.

use super::bounds::Edges;
use super::case::{CannotJudge, Case};
use crate::program::motion::{Doing, MoveKind};
use crate::program::steps;
use crate::program::way::Way;
use chargehand_types::card::Operation;
use chargehand_types::check::{CutPath, Drawing, DrawnFastener};
use chargehand_types::quantity::Length;

/// How far a chord of the drawing runs off its arc, in mm.
const OFF: f64 = 0.1;
/// Points of one drawing at most; a longer program is drawn so far.
const MOST_POINTS: usize = 2_000_000;

/// Draws a card: one path for each run of the bit below the face.
///
/// # Errors
/// When the card names something that is not there.
pub fn draw(case: &Case<'_>) -> Result<Drawing, CannotJudge> {
    let mut pen = Pen { edges: Edges::new(case), paths: Vec::new(), open: None, points: 0 };
    for (at, operation) in case.card.operations.iter().enumerate() {
        trace(case, u32::try_from(at).unwrap_or(u32::MAX), operation, &mut pen)?;
    }
    let mut fasteners = Vec::with_capacity(case.card.holddown.places.len());
    for (number, place) in (1..).zip(&case.card.holddown.places) {
        let fastener = case.fastener(place)?;
        let head = fastener.head_diameter.or(fastener.diameter).unwrap_or(Length::ZERO);
        fasteners.push(DrawnFastener { number, at: place.at, head, title: fastener.title.clone() });
    }
    let sheet = &case.card.sheet;
    Ok(Drawing { size: sheet.size, corner: sheet.corner, paths: pen.paths, fasteners })
}

fn trace(case: &Case<'_>, at: u32, operation: &Operation, pen: &mut Pen) -> Result<(), CannotJudge> {
    let mut reader = steps(case.program(operation)?, case.bench.start());
    while let Some(step) = reader.next() {
        if !reader.faults().is_empty() || pen.points >= MOST_POINTS {
            break;
        }
        let Doing::Move(mv) = &step.doing else { continue };
        match mv.kind {
            MoveKind::Feed | MoveKind::Arc(_) => pen.feed(at, step.place.line, &Way::of(mv)),
            MoveKind::Rapid | MoveKind::Probe => pen.lift(),
        }
    }
    pen.lift();
    Ok(())
}

/// Draws runs: a run ends where the bit leaves the material, is moved without cutting, or begins or ceases to go
/// through, so that tabs show.
struct Pen {
    edges: Edges,
    paths: Vec<CutPath>,
    open: Option<CutPath>,
    points: usize,
}

impl Pen {
    fn feed(&mut self, operation: u32, line: u32, way: &Way) {
        let face = self.edges.face;
        let mut stretches = Vec::new();
        way.below(face, |t0, t1| stretches.push((t0, t1)));
        if stretches.is_empty() {
            return self.lift();
        }
        for (t0, t1) in stretches {
            if t0 > 0.0 {
                self.lift();
            }
            self.run(operation, line, way, t0, t1);
            if t1 < 1.0 {
                self.lift();
            }
        }
    }

    /// The underside counts as reached within a hundredth of a millimetre, half of what a caliper shows.
    fn run(&mut self, operation: u32, line: u32, way: &Way, t0: f64, t1: f64) {
        let through = way.lowest() <= self.edges.bottom + 0.01;
        if self.open.as_ref().is_some_and(|path| path.through != through) {
            self.lift();
        }
        let path =
            self.open.get_or_insert_with(|| CutPath { operation, lines: [line; 2], through, points: Vec::new() });
        path.lines[1] = line;
        let before = path.points.len();
        way.chords(t0, t1, OFF, |t| {
            let [x, y, _] = way.at(t);
            #[expect(clippy::cast_possible_truncation, reason = "a screen shows far less than four bytes hold")]
            let point = [x as f32, y as f32];
            if path.points.last() != Some(&point) {
                path.points.push(point);
            }
        });
        self.points += path.points.len() - before;
    }

    fn lift(&mut self) {
        self.paths.extend(self.open.take());
    }
}
