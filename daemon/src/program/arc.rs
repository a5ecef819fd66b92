//! Arcs: centre, radius and sweep from either form, in any plane (NISTIR 6556 3.5.3).
//!
//! May live here: the geometry and its rules. May not: words and modal state.

use super::fault::Rule;
use super::frame::Axis;
use super::motion::{Arc, Plane};
use chargehand_types::quantity::{Length, Point};
use std::f64::consts::TAU;

/// Radii may differ by this share as well (the larger of it and the tolerance in millimetres counts).
const SHARE: f64 = 0.001;
/// What the standard allows radii to differ, in mm, and in inch mode 0.0002 in.
const STANDARD_MM: f64 = 0.002;
const STANDARD_INCH: f64 = 0.0002 * 25.4;
/// Differences below this are the rounding of binary numbers, in mm.
const ROUNDING: f64 = 1e-9;

impl Plane {
    /// Its first, second and third axis: in this order counter-clockwise goes from the first to the second.
    #[must_use]
    pub const fn axes(self) -> [Axis; 3] {
        match self {
            Self::Xy => [Axis::X, Axis::Y, Axis::Z],
            Self::Zx => [Axis::Z, Axis::X, Axis::Y],
            Self::Yz => [Axis::Y, Axis::Z, Axis::X],
        }
    }
}

/// What stands along X, Y, Z, in the plane's order: first, second, third axis.
#[must_use]
pub const fn to_plane(xyz: [f64; 3], plane: Plane) -> [f64; 3] {
    let [x, y, z] = xyz;
    match plane {
        Plane::Xy => [x, y, z],
        Plane::Zx => [z, x, y],
        Plane::Yz => [y, z, x],
    }
}

/// Which way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// G2.
    Clockwise,
    /// G3.
    CounterClockwise,
}

/// How the circle is given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Given {
    /// The centre along the plane's first and second axis, in mm of the work frame.
    Centre([f64; 2]),
    /// The radius in mm; negative for more than half a turn.
    Radius(f64),
}

/// What there is to know to find an arc.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// The plane.
    pub plane: Plane,
    /// Which way round.
    pub turn: Turn,
    /// Start.
    pub from: Point,
    /// End.
    pub to: Point,
    /// The circle.
    pub given: Given,
    /// Radii may differ by this much.
    pub tolerance: Length,
    /// Inch mode.
    pub inch: bool,
}

/// An arc, and by how much it is looser than the standard allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// The arc.
    pub arc: Arc,
    /// What its radii differ by and what the standard allows, where they differ by more.
    pub loose: Option<(Length, Length)>,
}

fn mm(value: f64) -> Length {
    Length::from_mm(value).unwrap_or_default()
}

impl Question {
    fn flat(&self, point: &Point) -> [f64; 2] {
        let [u, v, _] = self.plane.axes();
        [u.of(point).mm(), v.of(point).mm()]
    }

    /// Finds the arc.
    ///
    /// # Errors
    /// When the radii differ too much, the radius does not reach, or start and end fall together where they must not.
    pub fn answer(&self) -> Result<Found, Rule> {
        let (start, end) = (self.flat(&self.from), self.flat(&self.to));
        let closed = start == end;
        let (centre, apart) = match self.given {
            Given::Centre(centre) => self.by_centre(start, end, centre)?,
            Given::Radius(radius) => self.by_radius(start, end, radius)?,
        };
        let arm = [start[0] - centre[0], start[1] - centre[1]];
        let radius = arm[0].hypot(arm[1]);
        if radius < ROUNDING {
            return Err(Rule::ArcNoRadius);
        }
        let sweep = if closed { TAU } else { self.angle(arm, [end[0] - centre[0], end[1] - centre[1]]) };
        let sweep = match self.turn {
            Turn::CounterClockwise => sweep,
            Turn::Clockwise => -sweep,
        };
        let standard = if self.inch { STANDARD_INCH } else { STANDARD_MM };
        let loose = (apart > standard + ROUNDING).then(|| (mm(apart), mm(standard)));
        Ok(Found { arc: Arc { plane: self.plane, centre, radius, sweep }, loose })
    }

    fn allowed(&self, radius: f64) -> f64 {
        self.tolerance.mm().max(SHARE * radius)
    }

    fn by_centre(&self, start: [f64; 2], end: [f64; 2], centre: [f64; 2]) -> Result<([f64; 2], f64), Rule> {
        let first = (start[0] - centre[0]).hypot(start[1] - centre[1]);
        let last = (end[0] - centre[0]).hypot(end[1] - centre[1]);
        let (apart, allowed) = ((first - last).abs(), self.allowed(first));
        if apart > allowed + ROUNDING {
            return Err(Rule::ArcRadii { start: mm(first), end: mm(last), apart: mm(apart), allowed: mm(allowed) });
        }
        Ok((centre, apart))
    }

    /// The centre lies on the chord's middle line: on the left of the way for a short G3 and a long G2.
    fn by_radius(&self, start: [f64; 2], end: [f64; 2], radius: f64) -> Result<([f64; 2], f64), Rule> {
        let [du, dv] = [end[0] - start[0], end[1] - start[1]];
        let chord = du.hypot(dv);
        if chord == 0.0 {
            return Err(Rule::ArcByRadiusClosed);
        }
        if radius == 0.0 {
            return Err(Rule::ArcNoRadius);
        }
        let short = chord / 2.0 - radius.abs();
        if short > self.allowed(radius.abs()) + ROUNDING {
            return Err(Rule::ArcTooSmall { radius: mm(radius.abs()), least: mm(chord / 2.0) });
        }
        let height = (radius * radius - chord * chord / 4.0).max(0.0).sqrt();
        let left = (self.turn == Turn::CounterClockwise) == (radius > 0.0);
        let side = if left { height } else { -height };
        let middle = [f64::midpoint(start[0], end[0]), f64::midpoint(start[1], end[1])];
        Ok(([middle[0] - dv / chord * side, middle[1] + du / chord * side], short.max(0.0)))
    }

    /// How far the arm turns to reach the end, in this turn's own direction, above 0 and at most a full turn.
    fn angle(&self, from: [f64; 2], to: [f64; 2]) -> f64 {
        let cross = from[0] * to[1] - from[1] * to[0];
        let dot = from[0] * to[0] + from[1] * to[1];
        let angle = match self.turn {
            Turn::CounterClockwise => cross.atan2(dot),
            Turn::Clockwise => (-cross).atan2(dot),
        };
        if angle > 0.0 { angle } else { angle + TAU }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(x: f64, y: f64) -> Point {
        Point::new(mm(x), mm(y), Length::ZERO)
    }

    fn ask(turn: Turn, from: Point, to: Point, given: Given) -> Result<Found, Rule> {
        let tolerance = mm(0.013);
        Question { plane: Plane::Xy, turn, from, to, given, tolerance, inch: false }.answer()
    }

    #[test]
    fn radius_form_finds_the_published_centre() {
        // NISTIR 6556 Table 10: from (3,1), g2 x0 r7.01: centre (1.5, 7.8476)
        let arc = ask(Turn::Clockwise, point(3.0, 1.0), point(0.0, 1.0), Given::Radius(7.01)).unwrap().arc;
        assert!((arc.centre[0] - 1.5).abs() < 1e-9);
        assert!((arc.centre[1] - 7.847_6).abs() < 1e-4);
        assert!(arc.sweep < 0.0 && arc.sweep > -std::f64::consts::PI);
    }

    #[test]
    fn near_half_circles_are_touchy() {
        // handbook: R10 with chord 19.990 has h 0.31619
        let arc = ask(Turn::CounterClockwise, point(0.0, 0.0), point(19.99, 0.0), Given::Radius(10.0)).unwrap().arc;
        assert!((arc.centre[1] - 0.316_19).abs() < 1e-5);
    }
}
