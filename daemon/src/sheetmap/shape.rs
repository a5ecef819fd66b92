//! What a stroke covers, row by row: a stadium round a straight, a band round an arc.
//!
//! May live here: which cells of a row lie under the bit, and how low the bit passes over each. May not: storage.

use super::cutter::{Cutter, WithRise};
use crate::program::way::Way;

/// A straight stretch of a bit's way with what is needed to ask for its depth at a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stadium {
    /// Start, X and Y.
    from: [f64; 2],
    /// Unit direction seen from above.
    along: [f64; 2],
    /// Length seen from above.
    length: f64,
    /// Tip height at the start, from the face.
    z: f64,
    /// Tip height gained per mm of length.
    slope: f64,
    radius: f64,
    /// Lowest tip.
    pub(super) lowest: f64,
    /// Places farther behind the start than this are not asked for.
    behind: f64,
}

/// Rounding of where the start lies, mm.
const ROUNDING: f64 = 1.0e-3;

impl Stadium {
    /// Between two places (X, Y, height of the tip from the face).
    pub(super) fn new(from: [f64; 3], to: [f64; 3], cutter: &Cutter) -> Self {
        Self::round(from, to, cutter.radius())
    }

    /// What a round of this radius covers between two places.
    pub(super) fn round(from: [f64; 3], to: [f64; 3], radius: f64) -> Self {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        let lowest = from[2].min(to[2]);
        if length < 1.0e-9 {
            let from = [to[0], to[1]];
            let behind = f64::INFINITY;
            return Self { from, along: [1.0, 0.0], length: 0.0, z: lowest, slope: 0.0, radius, lowest, behind };
        }
        let slope = (to[2] - from[2]) / length;
        let along = [dx / length, dy / length];
        let behind = f64::INFINITY;
        Self { from: [from[0], from[1]], along, length, z: from[2], slope, radius, lowest, behind }
    }

    /// The same where the bit came to the start by a stretch that was swept already: over places behind the start it
    /// passes no lower than it stood there, except so far back as a bit that goes down leans.
    pub(super) fn going_on(mut self, cutter: &Cutter) -> Self {
        let lean = cutter.lean(self.slope);
        if self.length > 0.0 {
            self.behind = self.radius * ((-lean.width).max(0.0) + (-lean.aside).max(0.0)) + ROUNDING;
        }
        self
    }

    pub(super) fn rows(&self) -> [f64; 2] {
        let [y0, y1] = [self.from[1], self.from[1] + self.along[1] * self.length];
        [y0.min(y1) - self.radius, y0.max(y1) + self.radius]
    }

    /// The one stretch of a row that it covers.
    pub(super) fn row(&self, y: f64) -> Option<[f64; 2]> {
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for end in [0.0, self.length] {
            let (x, up) = (self.from[0] + self.along[0] * end, y - self.from[1] - self.along[1] * end);
            let half = self.radius * self.radius - up * up;
            if half >= 0.0 {
                let half = half.sqrt();
                least = least.min(x - half);
                most = most.max(x + half);
            }
        }
        if let Some([a, b]) = self.box_row(y) {
            least = least.min(a);
            most = most.max(b);
        }
        if self.behind < self.radius {
            let [ux, uy] = self.along;
            let ahead = -self.behind - (y - self.from[1]) * uy;
            if ux.abs() > 1.0e-12 {
                let edge = self.from[0] + ahead / ux;
                if ux > 0.0 {
                    least = least.max(edge);
                } else {
                    most = most.min(edge);
                }
            } else if ahead > 0.0 {
                return None;
            }
        }
        (least <= most).then_some([least, most])
    }

    /// The row's stretch in the straight part between the two round ends.
    fn box_row(&self, y: f64) -> Option<[f64; 2]> {
        let [ux, uy] = self.along;
        let up = y - self.from[1];
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        let mut clip = |a: f64, b: f64| {
            least = least.max(a.min(b));
            most = most.min(a.max(b));
        };
        if ux.abs() > 1.0e-12 {
            clip(-up * uy / ux, (self.length - up * uy) / ux);
        } else if up * uy < 0.0 || up * uy > self.length {
            return None;
        }
        if uy.abs() > 1.0e-12 {
            clip((up * ux - self.radius) / uy, (up * ux + self.radius) / uy);
        } else if up.abs() > self.radius {
            return None;
        }
        (least <= most).then_some([self.from[0] + least, self.from[0] + most])
    }

    /// Whether the bit passes every place at the same height.
    pub(super) fn is_level(&self, cutter: &Cutter) -> bool {
        cutter.is_flat() && self.slope == 0.0
    }

    /// How low the bit passes, for cells of a row from `x` on in steps of `cell`: the least over all places of the bit
    /// that cover the cell of (tip height + rise of the bit's end). Convex in the place, so the one place where it
    /// stops falling is the least, moved into what is allowed.
    pub(super) fn depths(&self, cutter: &Cutter, x: f64, y: f64, cell: f64, out: &mut [f32]) {
        let [ux, uy] = self.along;
        let (dx, dy) = (x - self.from[0], y - self.from[1]);
        let lean = cutter.lean(self.slope);
        cutter.with_rise(Row {
            t: (dx * ux + dy * uy) as f32,
            w: (dy * ux - dx * uy) as f32,
            dt: (cell * ux) as f32,
            dw: (-cell * uy) as f32,
            radius: self.radius as f32,
            length: self.length as f32,
            z: self.z as f32,
            slope: self.slope as f32,
            by_width: lean.width as f32,
            aside: lean.aside as f32,
            out,
        });
    }
}

#[inline]
pub(super) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

#[inline]
pub(super) fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// One row's worth of [`Stadium::depths`]: along the way and aside of it, from cell to cell.
struct Row<'a> {
    t: f32,
    w: f32,
    dt: f32,
    dw: f32,
    radius: f32,
    length: f32,
    z: f32,
    slope: f32,
    by_width: f32,
    aside: f32,
    out: &'a mut [f32],
}

impl WithRise for Row<'_> {
    #[inline]
    fn run(self, rise: impl Fn(f32) -> f32) {
        // written so that four cells are worked out at once: no float is carried from cell to cell, and the larger of
        // two is picked by a plain comparison
        for (k, slot) in (0_u16..).zip(self.out) {
            let k = f32::from(k);
            let (t, w) = (self.t + k * self.dt, self.w + k * self.dw);
            let half = larger(self.radius * self.radius - w * w, 0.0).sqrt();
            let lowest = t - half * self.by_width - w.abs() * self.aside;
            let u = smaller(larger(lowest, larger(t - half, 0.0)), smaller(t + half, self.length));
            let away = t - u;
            *slot = self.z + self.slope * u + rise(away * away + w * w);
        }
    }
}

/// A level arc seen from above, cut by a flat end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    centre: [f64; 2],
    outer: f64,
    inner: f64,
    radius: f64,
    /// Ends of the bit's way.
    ends: [[f64; 2]; 2],
    /// Start and end direction from the centre in counter-clockwise order; none for a full turn.
    wedge: Option<[[f64; 2]; 2]>,
    /// More than half a turn.
    wide: bool,
    bounds: [f64; 2],
}

impl Ring {
    /// Of a level arc; none for anything else.
    pub(super) fn of(way: &Way, cutter: &Cutter) -> Option<Self> {
        if !cutter.is_flat() {
            return None;
        }
        let arc = way.level_arc()?;
        let (a, b) = (way.at(0.0), way.end());
        let (start, end) = ([a[0], a[1]], [b[0], b[1]]);
        let r = cutter.radius();
        let from_centre = |p: [f64; 2]| [p[0] - arc.centre[0], p[1] - arc.centre[1]];
        let full = arc.sweep.abs() >= std::f64::consts::TAU - 1.0e-9;
        let wedge = (!full).then(|| {
            if arc.sweep > 0.0 {
                [from_centre(start), from_centre(end)]
            } else {
                [from_centre(end), from_centre(start)]
            }
        });
        let [_, [low, high], _] = way.bounds();
        Some(Self {
            centre: arc.centre,
            outer: arc.radius + r,
            inner: (arc.radius - r).max(0.0),
            radius: r,
            ends: [start, end],
            wedge,
            wide: arc.sweep.abs() > std::f64::consts::PI,
            bounds: [low - r, high + r],
        })
    }

    pub(super) fn rows(&self) -> [f64; 2] {
        self.bounds
    }

    /// Calls back with stretches of a row in which some cells may be covered; ask [`Ring::covers`] for each.
    pub(super) fn row(&self, y: f64, mut each: impl FnMut([f64; 2])) {
        let up = y - self.centre[1];
        let outer = self.outer * self.outer - up * up;
        if outer < 0.0 {
            return;
        }
        let (x, outer) = (self.centre[0], outer.sqrt());
        let inner = self.inner * self.inner - up * up;
        // a millionth of a millimetre keeps cells on the very edge on one side only
        if inner > 0.0 {
            let inner = inner.sqrt();
            each([x - outer, x - inner]);
            each([x + inner, x + outer]);
        } else {
            each([x - outer, x + outer]);
        }
    }

    /// Whether a place inside the ring lies under the bit's way.
    pub(super) fn covers(&self, x: f64, y: f64) -> bool {
        let Some([a, b]) = self.wedge else { return true };
        let p = [x - self.centre[0], y - self.centre[1]];
        let cross = |u: [f64; 2], v: [f64; 2]| u[0] * v[1] - u[1] * v[0];
        let inside = if self.wide {
            !(cross(b, p) > 0.0 && cross(p, a) > 0.0)
        } else {
            cross(a, p) >= 0.0 && cross(p, b) >= 0.0
        };
        inside || self.ends.iter().any(|e| (x - e[0]).hypot(y - e[1]) <= self.radius)
    }
}

#[cfg(test)]
mod tests {
    use super::super::cutter::tests::bit;
    use super::*;
    use chargehand_types::card::BitKind;

    /// The least over finely spaced places of the bit: what the closed form must give.
    fn searched(from: [f64; 3], to: [f64; 3], cutter: &Cutter, x: f64, y: f64) -> Option<f64> {
        let mut least: Option<f64> = None;
        for k in 0..=20_000 {
            let t = f64::from(k) / 20_000.0;
            let p = [0, 1, 2].map(|i| from[i] + t * (to[i] - from[i]));
            if let Some(rise) = cutter.rise((x - p[0]).hypot(y - p[1])) {
                least = Some(least.map_or(p[2] + rise, |l| l.min(p[2] + rise)));
            }
        }
        least
    }

    #[test]
    fn depths_equal_a_fine_search() {
        let ways = [
            ([0.0, 0.0, -1.0], [10.0, 4.0, -5.0]),
            ([0.0, 0.0, -5.0], [3.0, 7.0, -1.0]),
            ([2.0, 3.0, -2.0], [2.0, 9.0, -2.0]),
            ([1.0, 1.0, -4.0], [1.2, 1.1, -1.0]),
        ];
        for kind in [BitKind::UpCut, BitKind::Ball, BitKind::V] {
            let cutter = Cutter::of(&bit(kind, 6.0));
            for (from, to) in ways {
                let stadium = Stadium::new(from, to, &cutter);
                for (x, y) in [(0.3, 1.1), (2.0, 2.0), (4.1, 0.2), (1.7, 6.0), (9.0, 5.5), (-1.0, 0.4)] {
                    let known = searched(from, to, &cutter, x, y);
                    let covered = stadium.row(y).is_some_and(|[a, b]| a <= x && x <= b);
                    assert_eq!(known.is_some(), covered, "{kind:?} {from:?} {to:?} at {x} {y}");
                    if let Some(known) = known {
                        let mut out = [0.0_f32];
                        stadium.depths(&cutter, x, y, 0.25, &mut out);
                        assert!((f64::from(out[0]) - known).abs() < 2.0e-3, "{kind:?} {from:?}: {} {known}", out[0]);
                    }
                }
            }
        }
    }

    #[test]
    fn what_the_stretch_before_swept_is_left_out_and_nothing_else() {
        // two stretches meeting at a corner, with every slope: lowered with and without what lies behind the corner
        for kind in [BitKind::UpCut, BitKind::Ball, BitKind::V] {
            let cutter = Cutter::of(&bit(kind, 6.0));
            for (turn, dz) in (0..24).flat_map(|k| [-3.0, -0.4, 0.0, 0.4, 3.0].map(|dz| (f64::from(k) * 0.26, dz))) {
                let [a, b] = [[-5.0, -2.0, -3.0], [0.0, 0.0, -3.4]];
                let c = [4.0 * f64::cos(turn), 4.0 * f64::sin(turn), -3.4 + dz];
                let before = Stadium::new(a, b, &cutter);
                let whole = Stadium::new(b, c, &cutter);
                let cut = whole.going_on(&cutter);
                for row in -36_i32..36 {
                    let y = f64::from(row) * 0.25 + 0.11;
                    for column in -36_i32..36 {
                        let x = f64::from(column) * 0.25 + 0.07;
                        let depth = |s: &Stadium| {
                            let covered = s.row(y).is_some_and(|[l, m]| l <= x && x <= m);
                            let mut out = [0.0_f32];
                            s.depths(&cutter, x, y, 0.25, &mut out);
                            if covered { out[0] } else { 0.0 }
                        };
                        let least = |s: &Stadium| depth(&before).min(depth(s));
                        let (all, some) = (least(&whole), least(&cut));
                        assert!((all - some).abs() < 1.0e-3, "{kind:?} {turn} {dz} at {x} {y}: {all} {some}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_row_of_a_slanted_stadium_is_exact() {
        // 3-4-5: the row through the start of a way along (0.8, 0.6) meets the upper edge line at x = -r / 0.6
        let cutter = Cutter::of(&bit(BitKind::UpCut, 2.0));
        let s = Stadium::new([0.0, 0.0, -1.0], [8.0, 6.0, -1.0], &cutter);
        let [a, b] = s.row(0.0).unwrap();
        assert!((a + 1.0).abs() < 1.0e-9, "the round end: {a}");
        assert!((b - 1.0 / 0.6).abs() < 1.0e-9, "the lower edge line: {b}");
        assert!(s.row(7.01).is_none());
    }
}
