//! Where one fastener may go at all, and the places worth trying.
//!
//! May live here: the rules for one place, in what order places are tried. May not: which of them are taken.

use super::Ask;
use std::collections::BTreeSet;

/// Places are this far apart, mm from the sheet's lower left corner: round on a tape.
const STEP: f64 = 5.0;
/// Along edges and inside the sheet they are tried this far apart, mm.
const STRIDE: f64 = 10.0;
/// From a fastener's head to the sheet's edge at least, mm (common practice, no source).
const RIM: f64 = 4.0;
/// From a fastener's middle to the sheet's edge at least, mm (common practice, no source).
const EDGE: f64 = 12.0;
/// A corner region reaches so far, mm, but no more than a third of the sheet.
const CORNER: f64 = 150.0;
/// Along an edge a place may stand so far in, mm.
const DEEP: f64 = 60.0;
/// From a hole already in the waste board, mm.
pub const HOLE: f64 = 8.0;
/// Around what a keep-out rectangle holds, mm.
const AROUND: f64 = 4.0;
/// How far from a loose piece's middle a place in it is looked for, mm.
const IN_PIECE: f64 = 100.0;

/// The sheet as far as it may be used.
pub(super) struct Ground<'a> {
    ask: &'a Ask<'a>,
    /// From the edge at least, by axis, a whole step.
    inset: [f64; 2],
    along_edges: Vec<[f64; 2]>,
    inside: Vec<[f64; 2]>,
}

pub(super) fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

impl<'a> Ground<'a> {
    pub(super) fn new(ask: &'a Ask<'a>) -> Self {
        let inset = ask.footing.half().map(|half| up((half + RIM).max(EDGE)));
        let mut ground = Self { ask, inset, along_edges: Vec::new(), inside: Vec::new() };
        ground.along_edges = ground.line_up();
        ground.inside = ground.fill();
        ground
    }

    /// Two fasteners stand no closer, mm.
    pub(super) fn least_apart(&self) -> f64 {
        2.0 * self.ask.footing.reach().mm() + HOLE
    }

    /// Places at round distances along the edges, as near to the edge as there is room.
    pub(super) fn edges(&self) -> impl Iterator<Item = [f64; 2]> {
        self.along_edges.iter().copied()
    }

    /// Places inside the sheet that lie in no piece.
    pub(super) fn interior(&self) -> impl Iterator<Item = [f64; 2]> {
        self.inside.iter().copied()
    }

    /// Places of a corner region, nearest to the corner first.
    pub(super) fn in_corner(&self, corner: usize) -> impl Iterator<Item = [f64; 2]> {
        let reach = self.ask.size.map(|side| CORNER.min(side / 3.0));
        let mut insets = Vec::new();
        for x in steps(self.inset[0], reach[0], STEP) {
            for y in steps(self.inset[1], reach[1], STEP) {
                insets.push([x, y]);
            }
        }
        insets.sort_by(|a, b| a[0].max(a[1]).total_cmp(&b[0].max(b[1])).then((a[0] + a[1]).total_cmp(&(b[0] + b[1]))));
        insets.into_iter().map(move |inset| self.at_corner(corner, inset)).filter(|at| self.free(*at))
    }

    /// Places along both edges of a corner up to their middles, nearest to the corner first.
    pub(super) fn near_corner(&self, corner: usize) -> impl Iterator<Item = [f64; 2]> {
        let middle = [self.ask.corner[0] + self.ask.size[0] / 2.0, self.ask.corner[1] + self.ask.size[1] / 2.0];
        let tip = self.at_corner(corner, [0.0, 0.0]);
        let same_half = move |at: &[f64; 2]| {
            [0, 1].iter().all(|axis: &usize| (at[*axis] - middle[*axis]) * (tip[*axis] - middle[*axis]) >= 0.0)
        };
        let mut places: Vec<[f64; 2]> = self.edges().filter(same_half).collect();
        places.sort_by(|a, b| apart(*a, tip).total_cmp(&apart(*b, tip)));
        places.into_iter()
    }

    /// Places in the piece around a place, nearest first.
    pub(super) fn in_piece(&self, inside: [f64; 2]) -> impl Iterator<Item = [f64; 2]> {
        let piece = self.piece_at(inside);
        let mut places = Vec::new();
        let low = [0, 1].map(|axis: usize| up(inside[axis] - self.ask.corner[axis] - IN_PIECE));
        for x in steps(low[0], low[0] + 2.0 * IN_PIECE, STEP) {
            for y in steps(low[1], low[1] + 2.0 * IN_PIECE, STEP) {
                let at = [self.ask.corner[0] + x, self.ask.corner[1] + y];
                if self.clear_of_all(at) && self.piece_at(at) == piece {
                    places.push(at);
                }
            }
        }
        places.sort_by(|a, b| apart(*a, inside).total_cmp(&apart(*b, inside)));
        places.into_iter()
    }

    /// Places along the cuts on the sheet, thinned.
    pub(super) fn cuts(&self, every: f64) -> Vec<[f64; 2]> {
        let mut known = BTreeSet::new();
        let mut places = Vec::new();
        self.ask.cuts.along(every, |at| {
            let key = at.map(|v| (v / (every / 2.0)).round() as i64);
            if self.on_sheet(at, [0.0; 2]) && known.insert(key) {
                places.push(at);
            }
        });
        places
    }

    /// Whether one may stand here and in no piece.
    fn free(&self, at: [f64; 2]) -> bool {
        self.clear_of_all(at) && self.piece_at(at).is_none()
    }

    fn piece_at(&self, at: [f64; 2]) -> Option<usize> {
        self.ask.piece_at.and_then(|piece_at| piece_at(at))
    }

    /// Whether one may stand here: on the sheet, with the wanted air, over board that takes it.
    fn clear_of_all(&self, at: [f64; 2]) -> bool {
        self.on_sheet(at, self.ask.footing.half().map(|half| (half + RIM).max(EDGE)))
            && self.over_board(at)
            && self.ask.clear.air(at) >= self.ask.footing.reach().mm() + self.ask.margin
    }

    fn on_sheet(&self, at: [f64; 2], inset: [f64; 2]) -> bool {
        [0, 1].iter().all(|axis: &usize| {
            let from = at[*axis] - self.ask.corner[*axis];
            from >= inset[*axis] - 1.0e-9 && from <= self.ask.size[*axis] - inset[*axis] + 1.0e-9
        })
    }

    fn over_board(&self, at: [f64; 2]) -> bool {
        if !self.ask.goes_in {
            return true;
        }
        let kept = self.ask.keep_out.iter().any(|[low, high]| {
            [0, 1].iter().all(|axis: &usize| at[*axis] >= low[*axis] - AROUND && at[*axis] <= high[*axis] + AROUND)
        });
        !kept && self.ask.used.iter().all(|hole| apart(*hole, at) >= HOLE)
    }

    /// Distances from a corner to a work place; on the far side rounded to whole steps from the lower left corner.
    fn at_corner(&self, corner: usize, inset: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|axis: usize| {
            let far = corner & (1 << axis) != 0;
            let from = if far { down(self.ask.size[axis] - inset[axis]) } else { inset[axis] };
            self.ask.corner[axis] + from
        })
    }

    fn line_up(&self) -> Vec<[f64; 2]> {
        let mut found = Vec::new();
        for (along, across) in [(1, 0), (0, 1)] {
            for far in [0, 1] {
                for station in steps(self.inset[along], self.ask.size[along] - self.inset[along], STRIDE) {
                    let place =
                        steps(self.inset[across], DEEP.min(self.ask.size[across] / 2.0), STEP).find_map(|deep| {
                            let mut inset = [0.0; 2];
                            inset[across] = deep;
                            let mut at = self.at_corner(far << across, inset);
                            at[along] = self.ask.corner[along] + station;
                            self.free(at).then_some(at)
                        });
                    found.extend(place);
                }
            }
        }
        // round numbers first, so that of equals the rounder wins
        found.sort_by_key(|at| {
            let round = |v: f64, to: f64| u8::from((v / to - (v / to).round()).abs() > 1.0e-9);
            let from = [at[0] - self.ask.corner[0], at[1] - self.ask.corner[1]];
            from.map(|v| round(v, 50.0)).iter().sum::<u8>()
        });
        found
    }

    fn fill(&self) -> Vec<[f64; 2]> {
        let mut found = Vec::new();
        if self.ask.piece_at.is_none() {
            return found;
        }
        for y in steps(up(DEEP), self.ask.size[1] - DEEP, STRIDE) {
            for x in steps(up(DEEP), self.ask.size[0] - DEEP, STRIDE) {
                let at = [self.ask.corner[0] + x, self.ask.corner[1] + y];
                if self.free(at) {
                    found.push(at);
                }
            }
        }
        found
    }
}

/// Up to the next whole step.
fn up(value: f64) -> f64 {
    (value / STEP - 1.0e-9).ceil() * STEP
}

/// Down to the last whole step.
fn down(value: f64) -> f64 {
    (value / STEP + 1.0e-9).floor() * STEP
}

/// From a value on, by steps, up to another.
fn steps(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    let count = ((to - from) / step + 1.0e-9).floor();
    let count = if count >= 0.0 { count.min(100_000.0) as usize + 1 } else { 0 };
    (0..count).map(move |n| from + n as f64 * step)
}
