//! How far any place is from what the bit sweeps below a level: exact, from the geometry of the moves.
//!
//! What goes down with the bit (collet nut, spindle nose, dust shoe) sweeps its own width where its underside is below it.
//! The bit sweeps its full width wherever its tip is below the level, whatever the shape of its end: for a ball or a V
//! that is more than the groove it leaves at the face, and never less than what turns there.
//!
//! May live here: distances and where the nearest cut is. May not: what stands at a place, or whether it is too near.

mod cells;
mod rectangle;
mod track;
mod tree;

#[cfg(test)]
mod tests;

use super::job::{Job, Stroke};
use cells::Cells;
use track::Track;
use tree::Tree;

/// How far a chord may run off an upright arc that also moves sideways, mm: the only curve that is not kept exactly.
const OFF: f64 = 0.001;

/// What a bit sweeps below a level, made ready to be asked.
#[derive(Debug, Clone)]
pub struct Clearance {
    level: f64,
    /// Every stretch.
    all: Tree,
    /// One stretch for each shape, for passes repeat each other, and lists of them.
    fast: Option<(Tree, Cells)>,
}

/// The swept edge nearest to a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Air between the place and the edge, mm; below 0 the place lies in the sweep (deep inside: at least so far).
    pub air: f64,
    /// Which of the job's strokes; of several alike, the first that is cut.
    pub stroke: usize,
}

impl Clearance {
    /// What the job sweeps while a tip is lower than `above` mm over the sheet's face, rapids included.
    #[must_use]
    pub fn new(job: &Job, above: f64) -> Self {
        let tracks = tracks(job, job.face + above);
        let domain = [0, 1].map(|axis: usize| {
            let low = job.corner.get(axis).copied().unwrap_or_default();
            [low, low + job.size.get(axis).copied().unwrap_or_default()]
        });
        let shapes = Tree::of_shapes(&tracks);
        let cells = Cells::new(&shapes, domain);
        Self { level: job.face + above, all: Tree::new(tracks), fast: Some((shapes, cells)) }
    }

    /// The same for a few thousand questions: far sooner ready, slower to answer.
    #[must_use]
    pub fn for_few(job: &Job, above: f64) -> Self {
        let level = job.face + above;
        Self { level, all: Tree::in_order(tracks(job, level)), fast: None }
    }

    /// Work Z below which a tip counts, mm.
    #[must_use]
    pub fn level(&self) -> f64 {
        self.level
    }

    /// The nearest swept edge to a place; none where nothing is swept at all.
    #[must_use]
    pub fn nearest(&self, at: [f64; 2]) -> Option<Nearest> {
        match self.fast.as_ref().and_then(|(shapes, cells)| Some((shapes, cells.list(at)?))) {
            Some((shapes, list)) => shapes.nearest_of(list, at),
            None => self.all.nearest(at),
        }
    }

    /// Air between a place and the nearest swept edge, mm; 0 inside, infinite where nothing is swept.
    #[must_use]
    pub fn air(&self, at: [f64; 2]) -> f64 {
        match self.fast.as_ref().and_then(|(shapes, cells)| Some((shapes, cells.list(at)?))) {
            Some((shapes, list)) => shapes.air_of(list, at),
            None => self.all.nearest(at).map_or(f64::INFINITY, |nearest| nearest.air.max(0.0)),
        }
    }

    /// Every stretch whose swept edge comes nearer to a place than `within` mm: which stroke, and its own air there.
    pub fn near(&self, at: [f64; 2], within: f64, mut each: impl FnMut(Nearest)) {
        self.all.near(at, within, &mut |track| each(track.nearest(at)));
    }

    /// The same for an upright rectangle: air between it and each swept edge, to 0.005 mm.
    pub fn near_rectangle(&self, low: [f64; 2], high: [f64; 2], within: f64, mut each: impl FnMut(Nearest)) {
        let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
        let corner = track::length(high[0] - middle[0], high[1] - middle[1]);
        self.all.near(middle, corner + within, &mut |track| {
            let air = rectangle::air(track, low, high);
            if air < within {
                each(Nearest { air, stroke: track.stroke() });
            }
        });
    }

    /// Places along everything swept, no farther apart than `apart` mm; every shape once.
    pub fn along(&self, apart: f64, mut each: impl FnMut([f64; 2])) {
        let tree = self.fast.as_ref().map_or(&self.all, |(shapes, _)| shapes);
        tree.tracks().iter().for_each(|track| track.along(apart, &mut each));
    }
}

/// Everything swept below a level.
fn tracks(job: &Job, level: f64) -> Vec<Track> {
    let mut tracks = Vec::new();
    for (number, stroke) in (0_u32..).zip(&job.strokes) {
        let half = job.cutters.get(usize::from(stroke.cutter)).map_or(0.0, super::Cutter::radius);
        add(stroke, number, half, level, &mut tracks);
        for [half, above_tip] in &job.bodies {
            add(stroke, number, *half, level - above_tip, &mut tracks);
        }
    }
    tracks
}

/// The stretches of a stroke below the level, as seen from above.
fn add(stroke: &Stroke, number: u32, half: f64, level: f64, tracks: &mut Vec<Track>) {
    let way = &stroke.way;
    way.below(level, |t0, t1| {
        if let Some(bend) = way.bend(t0, t1) {
            return tracks.push(Track::arc(&bend, half, number));
        }
        if way.is_straight() {
            let ([ax, ay, _], [bx, by, _]) = (way.at(t0), way.at(t1));
            return tracks.push(Track::straight([ax, ay], [bx, by], half, number));
        }
        let mut last: Option<[f64; 2]> = None;
        way.chords(t0, t1, OFF, |t| {
            let [x, y, _] = way.at(t);
            if let Some(before) = last {
                tracks.push(Track::straight(before, [x, y], half, number));
            }
            last = Some([x, y]);
        });
    });
}
