//! How much wood a bit meets on its way straight down to a place, after some strokes of a job: a small map round the
//! place, finer than the sheet's.
//!
//! May live here: that question. May not: what is done about it.

use super::grid::Grid;
use super::job::{Job, Stroke};
use super::sweep::{Ignore, sweep};
use crate::program::motion::Place;
use crate::program::way::Way;

/// Edge of a cell here, mm.
const CELL: f64 = 0.1;
/// Above the sheet's face, where the way down begins, mm.
const ABOVE: f64 = 1.0;

/// The most, in mm, that a cutter takes where it goes straight down to a place of work coordinates once the strokes
/// before `upto` were cut; 0 where it meets only air and what was cut.
#[must_use]
pub(crate) fn bite(job: &Job, upto: usize, cutter: u16, [x, y, z]: [f64; 3], pool: &rayon::ThreadPool) -> f64 {
    let Some(radius) = job.cutters.get(usize::from(cutter)).map(super::cutter::Cutter::radius) else { return 0.0 };
    if z >= job.face {
        return 0.0;
    }
    let window = |axis: usize, at: f64| {
        let (low, high) = (at - radius - CELL, at + radius + CELL);
        let (from, to) = (low.max(job.corner[axis]), high.min(job.corner[axis] + job.size[axis]));
        (to > from).then_some([from, to])
    };
    let (Some([x0, x1]), Some([y0, y1])) = (window(0, x), window(1, y)) else { return 0.0 };
    let reaches = |stroke: &&Stroke| {
        let reach = job.cutters.get(usize::from(stroke.cutter)).map_or(0.0, super::cutter::Cutter::radius);
        let [[left, right], [low, high], _] = stroke.way.bounds();
        stroke.way.lowest() < job.face
            && left - reach < x1
            && right + reach > x0
            && low - reach < y1
            && high + reach > y0
    };
    let mut strokes: Vec<Stroke> = job.strokes.iter().take(upto).filter(reaches).copied().collect();
    let way = Way::straight([x, y, job.face + ABOVE], [x, y, z]);
    strokes.push(Stroke { way, operation: 0, cutter, place: Place { line: 0, column: 0 }, rapid: false });
    let last = strokes.len() - 1;
    let near = Job {
        corner: [x0, y0],
        size: [x1 - x0, y1 - y0],
        face: job.face,
        thickness: job.thickness,
        cutters: job.cutters.clone(),
        bodies: Vec::new(),
        strokes,
    };
    let ignore = Ignore { depth: 0.0, skin: 0.0 };
    let swept = sweep(&near, Grid::over(near.corner, near.size, CELL), ignore, pool);
    swept.cuts.get(last).map_or(0.0, |cut| f64::from(cut.deepest))
}
