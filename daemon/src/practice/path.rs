//! The forms a motion takes: straight or round, with its length, its points and its directions. Machine coordinates, mm.

use super::speed::{Vector, along, corner, norm};

/// How far a chord runs off its arc, mm.
const CHORD_OFF: f64 = 0.002;

/// The form of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Path {
    pub from: Vector,
    pub to: Vector,
    /// None: straight.
    pub turn: Option<Turn>,
}

/// A circle or a helix: round a centre along two axes, the third evenly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Turn {
    /// First, second, and the one it turns about.
    pub axes: [usize; 3],
    pub centre: [f64; 2],
    pub radius: f64,
    /// Angle of the start, radians.
    pub start: f64,
    /// Signed, counter-clockwise positive.
    pub sweep: f64,
}

impl Turn {
    /// By how much a chord turns, in radians.
    fn chord(&self) -> f64 {
        let widest = 2.0 * (1.0 - CHORD_OFF.min(self.radius) / self.radius).acos();
        self.sweep.abs() / (self.sweep.abs() / widest).ceil().max(1.0)
    }
}

impl Path {
    pub const fn straight(from: Vector, to: Vector) -> Self {
        Self { from, to, turn: None }
    }

    pub fn length(&self) -> f64 {
        match self.turn {
            None => norm(minus(self.to, self.from)),
            Some(turn) => (turn.radius * turn.sweep).hypot(self.rise(turn)),
        }
    }

    fn rise(&self, turn: Turn) -> f64 {
        part(self.to, turn.axes[2]) - part(self.from, turn.axes[2])
    }

    /// The point after so many mm of a path of that length.
    pub fn point(&self, way: f64, length: f64) -> Vector {
        if way >= length || length <= 0.0 {
            return self.to;
        }
        if way <= 0.0 {
            return self.from;
        }
        let share = way / length;
        match self.turn {
            None => {
                let d = minus(self.to, self.from);
                [self.from[0] + d[0] * share, self.from[1] + d[1] * share, self.from[2] + d[2] * share]
            }
            Some(turn) => {
                let angle = turn.start + turn.sweep * share;
                let mut p = self.from;
                put(&mut p, turn.axes[0], turn.centre[0] + turn.radius * angle.cos());
                put(&mut p, turn.axes[1], turn.centre[1] + turn.radius * angle.sin());
                put(&mut p, turn.axes[2], part(self.from, turn.axes[2]) + self.rise(turn) * share);
                p
            }
        }
    }

    /// Unit direction at the start.
    pub fn leaving(&self) -> Option<Vector> {
        self.direction(0.0)
    }

    /// Unit direction at the end.
    pub fn arriving(&self) -> Option<Vector> {
        self.direction(1.0)
    }

    fn direction(&self, share: f64) -> Option<Vector> {
        let d = match self.turn {
            None => minus(self.to, self.from),
            Some(turn) => {
                let angle = turn.start + turn.sweep * share;
                let mut d = [0.0; 3];
                put(&mut d, turn.axes[0], -turn.radius * turn.sweep * angle.sin());
                put(&mut d, turn.axes[1], turn.radius * turn.sweep * angle.cos());
                put(&mut d, turn.axes[2], self.rise(turn));
                d
            }
        };
        let n = norm(d);
        (n > 0.0).then(|| [d[0] / n, d[1] / n, d[2] / n])
    }

    /// The most speed along it, and the acceleration along it, by what each axis can do. It goes round in chords, and
    /// each joint of two is a corner like any other.
    pub fn limits(&self, rates: Vector, accelerations: Vector, deviation: f64) -> (f64, f64) {
        match self.turn {
            None => {
                let d = minus(self.to, self.from);
                (along(d, rates), along(d, accelerations))
            }
            Some(turn) => {
                let length = self.length();
                if length <= 0.0 {
                    return (f64::INFINITY, f64::INFINITY);
                }
                let flat = (turn.radius * turn.sweep).abs() / length;
                let steep = self.rise(turn).abs() / length;
                let across = |v: Vector| part(v, turn.axes[0]).min(part(v, turn.axes[1]));
                let both = |v: Vector| (across(v) / flat).min(part(v, turn.axes[2]) / steep);
                let (sin, cos) = turn.chord().sin_cos();
                let joint = corner([1.0, 0.0, 0.0], [cos, sin, 0.0], across(accelerations), deviation);
                let round = joint.sqrt() / flat;
                (both(rates).min(round), both(accelerations))
            }
        }
    }

    /// Least and most along each axis.
    pub fn reach(&self) -> [[f64; 2]; 3] {
        let mut reach = [[0.0; 2]; 3];
        for (i, r) in reach.iter_mut().enumerate() {
            let (a, b) = (part(self.from, i), part(self.to, i));
            *r = [a.min(b), a.max(b)];
        }
        if let Some(turn) = self.turn {
            for quarter in 0..4_u8 {
                let angle = f64::from(quarter) * std::f64::consts::FRAC_PI_2;
                let ahead = if turn.sweep >= 0.0 { angle - turn.start } else { turn.start - angle };
                if ahead.rem_euclid(std::f64::consts::TAU) <= turn.sweep.abs() {
                    let at = [turn.centre[0] + turn.radius * angle.cos(), turn.centre[1] + turn.radius * angle.sin()];
                    for (axis, v) in turn.axes.iter().zip(at) {
                        if let Some(r) = reach.get_mut(*axis) {
                            *r = [r[0].min(v), r[1].max(v)];
                        }
                    }
                }
            }
        }
        reach
    }
}

pub(in crate::practice) fn minus(a: Vector, b: Vector) -> Vector {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(in crate::practice) fn plus(a: Vector, b: Vector) -> Vector {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// The part along an axis by its index; nothing beyond the third.
pub(in crate::practice) fn part(v: Vector, axis: usize) -> f64 {
    v.get(axis).copied().unwrap_or(0.0)
}

/// Sets the part along an axis by its index.
pub(in crate::practice) fn put(v: &mut Vector, axis: usize, to: f64) {
    if let Some(slot) = v.get_mut(axis) {
        *slot = to;
    }
}
