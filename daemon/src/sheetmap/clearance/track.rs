//! One stretch of the bit's path seen from above, with half the bit's width.
//!
//! May live here: the distance to one straight or arc. May not: finding the nearest of many.

use super::Nearest;
use crate::program::way::Bend;
use std::f64::consts::PI;

/// A straight or an arc of the bit's axis, and how far the bit sweeps to either side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Track {
    form: Form,
    half: f64,
    stroke: u32,
}

#[derive(Debug, Clone, Copy)]
enum Form {
    Straight {
        from: [f64; 2],
        along: [f64; 2],
        /// 1 / length squared; 0 for a point.
        inverse: f64,
    },
    Arc {
        centre: [f64; 2],
        radius: f64,
        ends: [[f64; 2]; 2],
        /// Towards the arc's middle, of length 1.
        middle: [f64; 2],
        /// Cosine of half the sweep; less than -1 for a full turn.
        opening: f64,
    },
}

/// Least and most along X and Y.
pub(super) type Box2 = [[f64; 2]; 2];

impl Track {
    pub(super) fn straight(from: [f64; 2], to: [f64; 2], half: f64, stroke: u32) -> Self {
        let along = [to[0] - from[0], to[1] - from[1]];
        let square = along[0] * along[0] + along[1] * along[1];
        let inverse = if square > 0.0 { 1.0 / square } else { 0.0 };
        Self { form: Form::Straight { from, along, inverse }, half, stroke }
    }

    pub(super) fn arc(bend: &Bend, half: f64, stroke: u32) -> Self {
        let Bend { centre, radius, from, sweep } = *bend;
        let on = |angle: f64| [centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin()];
        let (sin, cos) = (from + sweep / 2.0).sin_cos();
        let opening = if sweep.abs() >= 2.0 * PI { -2.0 } else { (sweep.abs() / 2.0).cos() };
        let ends = [on(from), on(from + sweep)];
        Self { form: Form::Arc { centre, radius, ends, middle: [cos, sin], opening }, half, stroke }
    }

    pub(super) fn half(&self) -> f64 {
        self.half
    }

    pub(super) fn stroke(&self) -> usize {
        self.stroke as usize
    }

    /// From a place to the swept edge, mm; below 0 inside.
    #[inline]
    pub(super) fn air(&self, at: [f64; 2]) -> f64 {
        self.off(at) - self.half
    }

    /// From a place to the bit's axis, mm.
    #[inline]
    pub(super) fn off(&self, [x, y]: [f64; 2]) -> f64 {
        match &self.form {
            Form::Straight { from, along, inverse } => {
                let (dx, dy) = (x - from[0], y - from[1]);
                let t = ((dx * along[0] + dy * along[1]) * inverse).clamp(0.0, 1.0);
                length(dx - t * along[0], dy - t * along[1])
            }
            Form::Arc { centre, radius, ends, middle, opening } => {
                let (dx, dy) = (x - centre[0], y - centre[1]);
                let away = length(dx, dy);
                if dx * middle[0] + dy * middle[1] >= away * opening {
                    (away - radius).abs()
                } else {
                    let [a, b] = ends;
                    length(x - a[0], y - a[1]).min(length(x - b[0], y - b[1]))
                }
            }
        }
    }

    /// The point of the axis nearest to a place.
    pub(super) fn foot(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        match &self.form {
            Form::Straight { from, along, inverse } => {
                let t = (((x - from[0]) * along[0] + (y - from[1]) * along[1]) * inverse).clamp(0.0, 1.0);
                [from[0] + t * along[0], from[1] + t * along[1]]
            }
            Form::Arc { centre, radius, ends: [a, b], middle, opening } => {
                let (dx, dy) = (x - centre[0], y - centre[1]);
                let away = length(dx, dy);
                if away > 0.0 && dx * middle[0] + dy * middle[1] >= away * opening {
                    [centre[0] + dx / away * radius, centre[1] + dy / away * radius]
                } else if length(x - a[0], y - a[1]) <= length(x - b[0], y - b[1]) {
                    *a
                } else {
                    *b
                }
            }
        }
    }

    /// The same for two stretches that sweep the same, whichever way round they are cut.
    pub(super) fn shape(&self) -> [u64; 6] {
        let numbers = match &self.form {
            Form::Straight { from, along, .. } => {
                let to = [from[0] + along[0], from[1] + along[1]];
                let [low, high] = if *from <= to { [*from, to] } else { [to, *from] };
                [low[0], low[1], high[0], high[1], self.half, 0.0]
            }
            Form::Arc { centre, radius, middle, opening, .. } => {
                [centre[0], centre[1], radius * middle[0], radius * middle[1], self.half, 2.0 + opening + 1.0]
            }
        };
        // far finer than any place is told
        numbers.map(|n| ((n * 1.0e6).round() as i64).cast_unsigned())
    }

    pub(super) fn nearest(&self, at: [f64; 2]) -> Nearest {
        Nearest { air: self.air(at), stroke: self.stroke() }
    }

    /// Whether the axis begins inside an upright rectangle.
    pub(super) fn starts_in(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        let [x, y] = self.start();
        low[0] <= x && x <= high[0] && low[1] <= y && y <= high[1]
    }

    /// Places along the axis, no farther apart than this: its start, its end and what lies between.
    pub(super) fn along(&self, apart: f64, each: &mut impl FnMut([f64; 2])) {
        let (long, at): (f64, &dyn Fn(f64) -> [f64; 2]) = match &self.form {
            Form::Straight { from, along, .. } => {
                (length(along[0], along[1]), &|t: f64| [from[0] + t * along[0], from[1] + t * along[1]])
            }
            Form::Arc { centre, radius, middle, opening, .. } => {
                let half = opening.max(-1.0).acos();
                let zenith = middle[1].atan2(middle[0]);
                (2.0 * half * radius, &move |t: f64| {
                    let (sin, cos) = (zenith + (2.0 * t - 1.0) * half).sin_cos();
                    [centre[0] + radius * cos, centre[1] + radius * sin]
                })
            }
        };
        let steps = (long / apart).ceil().clamp(1.0, 100_000.0);
        let mut step = 0.0;
        while step <= steps {
            each(at(step / steps));
            step += 1.0;
        }
    }

    fn start(&self) -> [f64; 2] {
        match self.form {
            Form::Straight { from, .. } => from,
            Form::Arc { ends: [start, _], .. } => start,
        }
    }

    /// Bounds of the axis, without the bit's width.
    pub(super) fn bounds(&self) -> Box2 {
        match &self.form {
            Form::Straight { from, along, .. } => {
                [0, 1].map(|i: usize| [from[i].min(from[i] + along[i]), from[i].max(from[i] + along[i])])
            }
            Form::Arc { centre, radius, ends: [a, b], middle, opening } => {
                let mut bounds = [0, 1].map(|i: usize| [a[i].min(b[i]), a[i].max(b[i])]);
                // a quadrant point lies on the arc when its direction is within half the sweep of the middle's
                for (axis, [least, most]) in bounds.iter_mut().enumerate() {
                    if middle[axis] >= *opening {
                        *most = most.max(centre[axis] + radius);
                    }
                    if -middle[axis] >= *opening {
                        *least = least.min(centre[axis] - radius);
                    }
                }
                bounds
            }
        }
    }
}

#[inline]
pub(super) fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}
