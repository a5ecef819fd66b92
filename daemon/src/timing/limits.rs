//! What the machine allows: speed and acceleration along a direction, through a corner, around an arc.
//!
//! May live here: the limits and the formulas that turn them into one number. May not: anything that looks at more
//! than one joint.

use chargehand_types::quantity::{Acceleration, Feed, Length};

/// How far off its arc a controller's chord runs, where nothing better is known.
pub const ARC_CHORD: Length = Length(2_000);

/// What counts as no limit at all would divide by zero: the least rate (mm/s) and acceleration (mm/s2) reckoned with.
const LEAST: f64 = 1.0e-3;

/// What a machine's axes can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Fastest each of X, Y, Z moves.
    pub max_rate: [Feed; 3],
    /// Fastest each of X, Y, Z gains or loses speed.
    pub acceleration: [Acceleration; 3],
    /// How far a rounded corner may miss its point.
    pub corner_deviation: Length,
}

/// How the controller runs an arc.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arcs {
    /// In chords this far off the arc, each joint of two chords a corner like any other.
    InChords(Length),
    /// As a true curve, no faster than the acceleration can turn it: `v <= sqrt(a r)`.
    Curved,
}

/// The same limits as bare numbers in mm and seconds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axes {
    rate: [f64; 3],
    acceleration: [f64; 3],
    deviation: f64,
}

impl From<&Limits> for Axes {
    fn from(limits: &Limits) -> Self {
        Self {
            rate: limits.max_rate.map(|feed| (feed.unit() / 60.0).max(LEAST)),
            acceleration: limits.acceleration.map(|a| a.value().max(LEAST)),
            deviation: limits.corner_deviation.mm().max(0.0),
        }
    }
}

impl Axes {
    /// Top speed along a unit direction, in mm/s.
    pub(super) fn rate_along(&self, unit: [f64; 3]) -> f64 {
        along(&self.rate, unit)
    }

    /// Acceleration along a unit direction, in mm/s2.
    pub(super) fn acceleration_along(&self, unit: [f64; 3]) -> f64 {
        along(&self.acceleration, unit)
    }

    /// The square of the speed through the corner from one unit direction to another, in (mm/s)^2; infinite when they
    /// are the same.
    ///
    /// The corner is rounded by a circle that misses its point by `deviation`: `v^2 = a d s / (1 - s)` with
    /// `s = sin(theta / 2)`, theta between the reversed first and the second direction. `a` is what the axes allow
    /// along the change of direction.
    pub(super) fn corner(&self, from: [f64; 3], to: [f64; 3]) -> f64 {
        let change = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
        let size2 = change.iter().map(|c| c * c).sum::<f64>();
        if size2 < SAME_DIRECTION {
            return f64::INFINITY;
        }
        let size = size2.sqrt();
        let a = self.acceleration_along(change.map(|c| c / size));
        a * sharpness(size2) * self.deviation
    }

    /// The square of the speed at which an arc of this radius takes all of the acceleration sideways: `a r`.
    pub(super) fn curve(&self, inward: [f64; 3], radius: f64) -> f64 {
        self.acceleration_along(inward) * radius
    }
}

/// Squared length of a change of direction that is no corner: the rounding of a nanometre in a metre.
const SAME_DIRECTION: f64 = 1.0e-18;

/// `s / (1 - s)` from the squared length of the difference of two unit directions, `4 (1 - s^2)`, which keeps its
/// digits where the corner is nearly straight.
fn sharpness(change2: f64) -> f64 {
    let cos2 = (change2 / 4.0).min(1.0);
    let s = (1.0 - cos2).max(0.0).sqrt();
    s * (1.0 + s) / cos2
}

/// The largest speed (or acceleration) along a direction that keeps each axis within its own: `min limit / |u|`.
fn along(limits: &[f64; 3], unit: [f64; 3]) -> f64 {
    let mut least = f64::INFINITY;
    for (limit, u) in limits.iter().zip(unit) {
        let share = u.abs();
        if share * least > *limit {
            least = limit / share;
        }
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axes(rate: [f64; 3], acceleration: [f64; 3], deviation: f64) -> Axes {
        Axes { rate, acceleration, deviation }
    }

    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() <= expected.abs() * 1.0e-4, "{found} is not {expected}");
    }

    fn unit(v: [f64; 3]) -> [f64; 3] {
        let size = v.iter().map(|c| c * c).sum::<f64>().sqrt();
        v.map(|c| c / size)
    }

    /// The corner of trade-facts 2.2: theta between the segments, 180 is straight on, one acceleration all around.
    fn corner_speed(a: f64, delta: f64, theta_deg: f64) -> f64 {
        let turn = (180.0 - theta_deg).to_radians();
        // a change of direction along X only, so that a is what X allows
        let (sin, cos) = ((turn / 2.0).sin(), (turn / 2.0).cos());
        axes([1.0e9; 3], [a, a, a], delta).corner([-sin, cos, 0.0], [sin, cos, 0.0]).sqrt()
    }

    #[test]
    fn axis_limits_bound_directions() {
        // trade-facts 2.4, direction_limit (kinematics)
        let of = |mv: [f64; 3], l: [f64; 3]| axes(l, l, 0.0).rate_along(unit(mv));
        near(of([3.0, 4.0, 0.0], [50.0, 30.0, 10.0]), 37.5);
        near(of([100.0, 0.0, -5.0], [83.3333, 83.3333, 16.6667]), 83.437);
        near(of([1.0, 1.0, 1.0], [500.0, 500.0, 200.0]), 346.41);
    }

    #[test]
    fn corners_slow_as_they_sharpen() {
        // trade-facts 2.2, corner_speed (circle through the corner, missing it by delta)
        near(corner_speed(500.0, 0.02, 90.0), 4.9135);
        near(corner_speed(500.0, 0.02, 135.0), 11.017);
        near(corner_speed(500.0, 0.02, 170.0), 51.166);
        near(corner_speed(500.0, 0.02, 60.0), 3.1623);
        near(corner_speed(400.0, 0.05, 120.0), 11.37);
    }

    #[test]
    fn reversal_stops_straight_passes() {
        let a = axes([100.0; 3], [500.0; 3], 0.02);
        assert_eq!(a.corner([1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]), 0.0);
        assert_eq!(a.corner([0.6, 0.8, 0.0], [0.6, 0.8, 0.0]), f64::INFINITY);
    }

    #[test]
    fn tight_arcs_run_slower() {
        // trade-facts 2.3, arc_speed_limit: v = sqrt(a r)
        let of = |a: f64, r: f64| axes([1.0e9; 3], [a; 3], 0.02).curve([1.0, 0.0, 0.0], r).sqrt();
        near(of(500.0, 3.175), 39.843);
        near(of(400.0, 4.0), 40.0);
        near(of(500.0, 25.0), 111.8);
    }

    #[test]
    fn zero_limits_stay_finite() {
        let limits =
            Limits { max_rate: [Feed::ZERO; 3], acceleration: [Acceleration::ZERO; 3], corner_deviation: Length::ZERO };
        let a = Axes::from(&limits);
        assert!(a.rate_along([1.0, 0.0, 0.0]) > 0.0);
        assert!(a.acceleration_along([0.0, 0.0, 1.0]) > 0.0);
    }
}
