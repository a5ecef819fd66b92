//! One motion of the bit as a curve in millimetres: where it is, how far it reaches, which stretches lie how low.
//!
//! May live here: the geometry of one motion. May not: what a stretch means for a sheet.

use crate::program::motion::{Move, MoveKind, Plane};
use chargehand_types::quantity::Point;
use std::f64::consts::{FRAC_PI_2, TAU};

/// A place in mm: X, Y, Z.
pub type Spot3 = [f64; 3];

/// Least and most on each axis.
pub type Box3 = [[f64; 2]; 3];

/// Points of one arc at most, however fine the chords.
const MOST_CHORDS: f64 = 10_000.0;

/// A straight, an arc or a helix, run through by a parameter from 0 to 1 at an even pace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    from: Spot3,
    to: Spot3,
    turn: Option<Turn>,
}

/// An arc seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelArc {
    /// X and Y, mm.
    pub centre: [f64; 2],
    /// mm.
    pub radius: f64,
    /// Radians, counter-clockwise positive.
    pub sweep: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Turn {
    /// Its axes as indexes: first, second, third.
    axes: [usize; 3],
    centre: [f64; 2],
    radius: f64,
    /// Angle of the start.
    from: f64,
    sweep: f64,
}

/// A level arc or helix as it is seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// X and Y of the centre.
    pub centre: [f64; 2],
    /// In mm.
    pub radius: f64,
    /// Angle of the start from the X axis.
    pub from: f64,
    /// Signed, counter-clockwise positive.
    pub sweep: f64,
}

impl Way {
    /// The curve of a motion.
    #[must_use]
    pub fn of(mv: &Move) -> Self {
        let (from, to) = (in_mm(mv.from), in_mm(mv.to));
        let MoveKind::Arc(arc) = mv.kind else {
            return Self { from, to, turn: None };
        };
        let axes = match arc.plane {
            Plane::Xy => [0, 1, 2],
            Plane::Zx => [2, 0, 1],
            Plane::Yz => [1, 2, 0],
        };
        let [u, v] = [pick(from, axes[0]) - arc.centre[0], pick(from, axes[1]) - arc.centre[1]];
        let turn = Turn { axes, centre: arc.centre, radius: arc.radius, from: v.atan2(u), sweep: arc.sweep };
        Self { from, to, turn: Some(turn) }
    }

    /// A straight line between two places.
    #[must_use]
    pub const fn straight(from: [f64; 3], to: [f64; 3]) -> Self {
        Self { from, to, turn: None }
    }

    /// Along the path, in mm; of a helix in space.
    #[must_use]
    pub fn length(&self) -> f64 {
        match &self.turn {
            None => size([0, 1, 2].map(|a| pick(self.to, a) - pick(self.from, a))),
            Some(turn) => {
                let rise = pick(self.to, turn.axes[2]) - pick(self.from, turn.axes[2]);
                (turn.radius * turn.sweep).hypot(rise)
            }
        }
    }

    /// Seen from above, along the path, in mm.
    #[must_use]
    pub fn flat_length(&self) -> f64 {
        match &self.turn {
            Some(turn) if turn.axes[2] == 2 => (turn.radius * turn.sweep).abs(),
            _ => (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1]),
        }
    }

    /// A stretch of a level arc or helix seen from above; none of a straight or an upright arc.
    #[must_use]
    pub fn bend(&self, t0: f64, t1: f64) -> Option<Bend> {
        let turn = self.turn.as_ref().filter(|turn| turn.axes[2] == 2)?;
        let (from, sweep) = (turn.from + t0 * turn.sweep, (t1 - t0) * turn.sweep);
        Some(Bend { centre: turn.centre, radius: turn.radius, from, sweep })
    }

    /// How much lower or higher it ends than it starts, in mm.
    #[must_use]
    pub fn rise(&self) -> f64 {
        self.to[2] - self.from[2]
    }

    /// Its circle, where it is an arc in XY that keeps its height.
    #[must_use]
    pub fn level_arc(&self) -> Option<LevelArc> {
        let turn = self.turn.as_ref().filter(|turn| turn.axes[2] == 2)?;
        let level = (self.to[2] - self.from[2]).abs() < 1.0e-9;
        level.then_some(LevelArc { centre: turn.centre, radius: turn.radius, sweep: turn.sweep })
    }

    /// Whether it is a straight.
    #[must_use]
    pub fn is_straight(&self) -> bool {
        self.turn.is_none()
    }

    /// Where it ends.
    #[must_use]
    pub fn end(&self) -> Spot3 {
        self.to
    }

    /// Where it is at a parameter; before 0 the start, after 1 the end.
    #[must_use]
    pub fn at(&self, t: f64) -> Spot3 {
        if t <= 0.0 {
            return self.from;
        }
        if t >= 1.0 {
            return self.to;
        }
        let Some(turn) = &self.turn else {
            return [0, 1, 2].map(|a| pick(self.from, a) + t * (pick(self.to, a) - pick(self.from, a)));
        };
        let (sin, cos) = (turn.from + t * turn.sweep).sin_cos();
        let third = turn.axes[2];
        let along = pick(self.from, third) + t * (pick(self.to, third) - pick(self.from, third));
        [0, 1, 2].map(|axis| match turn.axes.iter().position(|a| *a == axis) {
            Some(0) => turn.centre[0] + turn.radius * cos,
            Some(1) => turn.centre[1] + turn.radius * sin,
            _ => along,
        })
    }

    /// How far a place lies from the curve, in mm.
    #[must_use]
    pub fn away(&self, place: Spot3) -> f64 {
        let ends = self.distance(place, 0.0).min(self.distance(place, 1.0));
        let Some(turn) = &self.turn else {
            let (along, to) = ([0, 1, 2].map(|a| pick(self.to, a) - pick(self.from, a)), [0, 1, 2]);
            let square: f64 = along.iter().map(|c| c * c).sum();
            let over: f64 = to.iter().map(|a| pick(along, *a) * (pick(place, *a) - pick(self.from, *a))).sum();
            return if square > 0.0 { self.distance(place, (over / square).clamp(0.0, 1.0)) } else { ends };
        };
        let [u, v] = [0, 1].map(|n| pick(place, turn.axes[n]) - turn.centre[n]);
        let ahead = ((v.atan2(u) - turn.from) * turn.sweep.signum()).rem_euclid(TAU);
        let mut least = ends;
        let mut angle = ahead;
        // a helix passes the same angle once every turn
        while angle <= turn.sweep.abs() {
            least = least.min(self.distance(place, angle / turn.sweep.abs()));
            angle += TAU;
        }
        least
    }

    fn distance(&self, place: Spot3, t: f64) -> f64 {
        let on = self.at(t);
        size([0, 1, 2].map(|a| pick(place, a) - pick(on, a)))
    }

    /// Exact bounds of all of it.
    #[must_use]
    pub fn bounds(&self) -> Box3 {
        self.bounds_of(0.0, 1.0)
    }

    /// Exact bounds of a stretch: its ends, and of an arc every quadrant point on it.
    #[must_use]
    pub fn bounds_of(&self, t0: f64, t1: f64) -> Box3 {
        let (a, b) = (self.at(t0), self.at(t1));
        let mut bounds = [0, 1, 2].map(|i| {
            let (p, q) = (pick(a, i), pick(b, i));
            [p.min(q), p.max(q)]
        });
        if let Some(turn) = &self.turn {
            turn.quadrants(t0, t1, |axis, value| {
                if let Some([least, most]) = bounds.get_mut(axis) {
                    *least = least.min(value);
                    *most = most.max(value);
                }
            });
        }
        bounds
    }

    /// The lowest point's Z.
    #[must_use]
    pub fn lowest(&self) -> f64 {
        match &self.turn {
            Some(turn) if turn.axes[2] != 2 => self.bounds()[2][0],
            _ => self.from[2].min(self.to[2]),
        }
    }

    /// Each stretch that lies below a level, in order; touching it is not below.
    pub fn below(&self, level: f64, mut each: impl FnMut(f64, f64)) {
        if let Some(turn) = self.turn.as_ref().filter(|turn| turn.axes[2] != 2) {
            return turn.below(level, each);
        }
        let (z0, z1) = (self.from[2], self.to[2]);
        match (z0 < level, z1 < level) {
            (false, false) => {}
            (true, true) => each(0.0, 1.0),
            (true, false) => each(0.0, (level - z0) / (z1 - z0)),
            (false, true) => each((level - z0) / (z1 - z0), 1.0),
        }
    }

    /// Parameters of points along a stretch whose chords run no farther off than `off` mm; the first is `t0`.
    pub fn chords(&self, t0: f64, t1: f64, off: f64, mut each: impl FnMut(f64)) {
        each(t0);
        if let Some(turn) = &self.turn {
            let sweep = (turn.sweep * (t1 - t0)).abs();
            let widest = 2.0 * (1.0 - off / turn.radius.max(off)).acos();
            let count = (sweep / widest).ceil().clamp(1.0, MOST_CHORDS);
            let mut k = 1.0;
            while k < count {
                each(t0 + (t1 - t0) * k / count);
                k += 1.0;
            }
        }
        each(t1);
    }
}

impl Turn {
    /// Calls back with axis and coordinate of each quadrant point between two parameters.
    fn quadrants(&self, t0: f64, t1: f64, mut each: impl FnMut(usize, f64)) {
        let (a, b) = (self.from + t0 * self.sweep, self.from + t1 * self.sweep);
        let (low, high) = (a.min(b), a.max(b));
        let mut quarter = (low / FRAC_PI_2).ceil();
        // a full turn has met all four
        let last = (high / FRAC_PI_2).floor().min(quarter + 3.0);
        while quarter <= last {
            let [u, v] = self.centre;
            match quarter.rem_euclid(4.0) {
                0.0 => each(self.axes[0], u + self.radius),
                1.0 => each(self.axes[1], v + self.radius),
                2.0 => each(self.axes[0], u - self.radius),
                _ => each(self.axes[1], v - self.radius),
            }
            quarter += 1.0;
        }
    }

    /// Of an upright arc: Z is a cosine of the angle from the plane's Z axis.
    fn below(&self, level: f64, mut each: impl FnMut(f64, f64)) {
        let z_is_first = self.axes[0] == 2;
        let (centre, zenith) = if z_is_first { (self.centre[0], 0.0) } else { (self.centre[1], FRAC_PI_2) };
        let height = (level - centre) / self.radius;
        if height <= -1.0 {
            return;
        }
        if height > 1.0 || self.sweep == 0.0 {
            return each(0.0, 1.0);
        }
        let leaves = height.acos();
        let begin = self.from - zenith;
        let end = begin + self.sweep;
        let (low, high) = (begin.min(end), begin.max(end));
        let mut spans = Vec::new();
        let mut turn = ((low - (TAU - leaves)) / TAU).floor();
        while turn * TAU + leaves < high {
            let (a, b) = ((turn * TAU + leaves).max(low), (turn * TAU + TAU - leaves).min(high));
            if a < b {
                let (t0, t1) = ((a - begin) / self.sweep, (b - begin) / self.sweep);
                spans.push((t0.min(t1).max(0.0), t0.max(t1).min(1.0)));
            }
            turn += 1.0;
        }
        if self.sweep < 0.0 {
            spans.reverse();
        }
        for (t0, t1) in spans {
            each(t0, t1);
        }
    }
}

fn in_mm(p: Point) -> Spot3 {
    [p.x.mm(), p.y.mm(), p.z.mm()]
}

fn size(v: Spot3) -> f64 {
    v.iter().map(|c| c * c).sum::<f64>().sqrt()
}

/// An axis of a place; axes are 0, 1, 2.
fn pick(v: Spot3, axis: usize) -> f64 {
    let [x, y, z] = v;
    match axis {
        0 => x,
        1 => y,
        _ => z,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::motion::{Arc, Pace};
    use chargehand_types::quantity::Length;
    use std::f64::consts::PI;

    fn way(kind: MoveKind, from: Spot3, to: Spot3) -> Way {
        let point = |s: Spot3| {
            let [x, y, z] = s.map(|c| Length::from_mm(c).unwrap());
            Point::new(x, y, z)
        };
        Way::of(&Move { kind, from: point(from), to: point(to), pace: Pace::Rapid, named: 7, of_cycle: false })
    }

    fn arc(plane: Plane, centre: [f64; 2], radius: f64, sweep: f64) -> MoveKind {
        MoveKind::Arc(Arc { plane, centre, radius, sweep })
    }

    fn close(a: f64, b: f64) {
        assert!((a - b).abs() < 1.0e-6, "{a} is not {b}");
    }

    fn stretches(w: &Way, level: f64) -> Vec<(f64, f64)> {
        let mut all = Vec::new();
        w.below(level, |a, b| all.push((a, b)));
        all
    }

    #[test]
    fn arcs_reach_their_quadrants() {
        // extents: ends plus every quadrant point inside the sweep (trade-facts 1.7)
        let w = way(arc(Plane::Xy, [0.0, 0.0], 10.0, PI), [10.0, 0.0, 0.0], [-10.0, 0.0, 0.0]);
        let [[x0, x1], [y0, y1], _] = w.bounds();
        close(x0, -10.0);
        close(x1, 10.0);
        close(y0, 0.0);
        close(y1, 10.0);
        close(w.length(), 10.0 * PI);
    }

    #[test]
    fn clockwise_reaches_the_other_way() {
        let w = way(arc(Plane::Xy, [0.0, 0.0], 10.0, -PI), [10.0, 0.0, 0.0], [-10.0, 0.0, 0.0]);
        let [_, [y0, y1], _] = w.bounds();
        close(y0, -10.0);
        close(y1, 0.0);
    }

    #[test]
    fn helix_is_measured_in_space() {
        // trade-facts 3.5, helix_ramp: path diameter 10, pitch 2 is 31.48 a turn
        let w = way(arc(Plane::Xy, [0.0, 0.0], 5.0, TAU), [5.0, 0.0, 0.0], [5.0, 0.0, -2.0]);
        assert!((w.length() - 31.48).abs() < 5.0e-3);
        close(w.flat_length(), 10.0 * PI);
    }

    #[test]
    fn straights_are_clipped_at_a_level() {
        let w = way(MoveKind::Feed, [0.0, 0.0, 1.0], [10.0, 0.0, -3.0]);
        assert_eq!(stretches(&w, 0.0), [(0.25, 1.0)]);
        let up = way(MoveKind::Feed, [0.0, 0.0, -3.0], [0.0, 0.0, 1.0]);
        assert_eq!(stretches(&up, 0.0), [(0.0, 0.75)]);
        assert!(stretches(&way(MoveKind::Feed, [0.0; 3], [9.0, 0.0, 0.0]), 0.0).is_empty());
    }

    #[test]
    fn upright_arcs_are_clipped_too() {
        // half a circle of radius 5 hanging from z 0, seen in ZX: below -2.5 for the middle 120 degrees of 180
        let w = way(arc(Plane::Zx, [0.0, 5.0], 5.0, PI), [10.0, 0.0, 0.0], [0.0, 0.0, 0.0]);
        close(w.lowest(), -5.0);
        let cut = stretches(&w, -2.5);
        assert_eq!(cut.len(), 1);
        close(cut[0].0, 1.0 / 6.0);
        close(cut[0].1, 5.0 / 6.0);
        let back = way(arc(Plane::Zx, [0.0, 5.0], 5.0, -PI), [0.0, 0.0, 0.0], [10.0, 0.0, 0.0]);
        close(stretches(&back, -2.5)[0].0, 1.0 / 6.0);
        let yz = way(arc(Plane::Yz, [5.0, 0.0], 5.0, PI), [0.0, 0.0, 0.0], [0.0, 10.0, 0.0]);
        close(yz.lowest(), -5.0);
        close(stretches(&yz, -2.5)[0].1, 5.0 / 6.0);
    }

    #[test]
    fn full_circles_dip_once_each() {
        let w = way(arc(Plane::Zx, [0.0, 0.0], 5.0, TAU), [0.0, 0.0, 5.0], [0.0, 0.0, 5.0]);
        let cut = stretches(&w, 0.0);
        assert_eq!(cut.len(), 1);
        close(cut[0].0, 0.25);
        close(cut[0].1, 0.75);
        // starting at the bottom it dips at both ends
        let low = way(arc(Plane::Zx, [0.0, 0.0], 5.0, TAU), [0.0, 0.0, -5.0], [0.0, 0.0, -5.0]);
        assert_eq!(stretches(&low, 0.0).len(), 2);
    }

    #[test]
    fn chords_stay_near_the_arc() {
        let w = way(arc(Plane::Xy, [0.0, 0.0], 10.0, PI), [10.0, 0.0, 0.0], [-10.0, 0.0, 0.0]);
        let mut points = Vec::new();
        w.chords(0.0, 1.0, 0.1, |t| points.push(w.at(t)));
        for pair in points.windows(2) {
            let middle = [(pair[0][0] + pair[1][0]) / 2.0, (pair[0][1] + pair[1][1]) / 2.0];
            assert!(10.0 - middle[0].hypot(middle[1]) <= 0.1 + 1.0e-9);
        }
        assert_eq!(points.first(), Some(&[10.0, 0.0, 0.0]));
        assert_eq!(points.last(), Some(&[-10.0, 0.0, 0.0]));
    }
}
