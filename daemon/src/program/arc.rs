//! Circles and helices (NISTIR 6556, 3.5.3): centre, radius, sweep, length, extents.

use super::fault::Rule;
use super::motion::{Arc, Plane};
use chargehand_types::quantity::{Length, Point};
use std::f64::consts::TAU;

/// NIST's own tolerance between the two radii: 0.002 mm, or 0.0002 inch.
pub const NIST_RADII_MM: f64 = 0.002;
/// The same in inch mode.
pub const NIST_RADII_INCH_MM: f64 = 0.0002 * 25.4;
/// Radii may differ by this share where it is more than the fixed tolerance.
const RADII_SHARE: f64 = 0.001;

/// Which way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// G2.
    Clockwise,
    /// G3.
    CounterClockwise,
}

/// A point along the plane's first, second and third axis, in mm.
#[must_use]
pub fn in_plane(p: Point, plane: Plane) -> [f64; 3] {
    to_plane([p.x.mm(), p.y.mm(), p.z.mm()], plane)
}

/// X, Y, Z along the plane's first, second and third axis.
#[must_use]
pub const fn to_plane(xyz: [f64; 3], plane: Plane) -> [f64; 3] {
    let [x, y, z] = xyz;
    match plane {
        Plane::Xy => [x, y, z],
        Plane::Zx => [z, x, y],
        Plane::Yz => [y, z, x],
    }
}

/// Back from the plane's axes to X, Y, Z in mm.
#[must_use]
pub const fn from_plane(uvw: [f64; 3], plane: Plane) -> [f64; 3] {
    let [u, v, w] = uvw;
    match plane {
        Plane::Xy => [u, v, w],
        Plane::Zx => [v, w, u],
        Plane::Yz => [w, u, v],
    }
}

/// An arc by its centre.
///
/// # Errors
/// When the radii at both ends differ by more than `tolerance` and 0.1 %.
pub fn by_centre(
    from: Point,
    to: Point,
    centre: [f64; 2],
    plane: Plane,
    way: Way,
    tolerance: Length,
) -> Result<(Arc, f64), Rule> {
    let (a, b) = (in_plane(from, plane), in_plane(to, plane));
    let [cu, cv] = centre;
    let radius = (a[0] - cu).hypot(a[1] - cv);
    let end = (b[0] - cu).hypot(b[1] - cv);
    let differ = (radius - end).abs();
    let allowed = tolerance.mm().max(RADII_SHARE * radius);
    if differ > allowed + 1.0e-9 {
        return Err(Rule::ArcRadii { differ, allowed });
    }
    let closed = a[0] == b[0] && a[1] == b[1];
    let (start, stop) = ((a[1] - cv).atan2(a[0] - cu), (b[1] - cv).atan2(b[0] - cu));
    Ok((Arc { plane, centre, radius, sweep: sweep(start, stop, closed, way) }, differ))
}

fn sweep(start: f64, stop: f64, closed: bool, way: Way) -> f64 {
    if closed {
        return match way {
            Way::CounterClockwise => TAU,
            Way::Clockwise => -TAU,
        };
    }
    match way {
        Way::CounterClockwise => (stop - start).rem_euclid(TAU),
        Way::Clockwise => -(start - stop).rem_euclid(TAU),
    }
}

/// An arc by its radius: positive for at most half a turn, negative for more.
///
/// # Errors
/// When it ends where it starts, or the radius cannot reach.
pub fn by_radius(from: Point, to: Point, radius: f64, plane: Plane, way: Way, tolerance: Length) -> Result<Arc, Rule> {
    let (a, b) = (in_plane(from, plane), in_plane(to, plane));
    let (du, dv) = (b[0] - a[0], b[1] - a[1]);
    let chord = du.hypot(dv);
    if chord == 0.0 {
        return Err(Rule::ArcFullByRadius);
    }
    let r = radius.abs();
    let square = r * r - chord * chord / 4.0;
    // rounding of the written numbers may leave a half turn just short
    if square < 0.0 && chord / 2.0 - r > tolerance.mm() {
        return Err(Rule::ArcRadiusShort { least: chord / 2.0 });
    }
    let height = square.max(0.0).sqrt();
    let side = if (way == Way::CounterClockwise) == (radius > 0.0) { 1.0 } else { -1.0 };
    let centre = [
        f64::midpoint(a[0], b[0]) - side * height * dv / chord,
        f64::midpoint(a[1], b[1]) + side * height * du / chord,
    ];
    let (start, stop) = ((a[1] - centre[1]).atan2(a[0] - centre[0]), (b[1] - centre[1]).atan2(b[0] - centre[0]));
    let radius = (a[0] - centre[0]).hypot(a[1] - centre[1]);
    Ok(Arc { plane, centre, radius, sweep: sweep(start, stop, false, way) })
}

impl Arc {
    /// The length of the path, the third axis included: `sqrt((r sweep)^2 + dw^2)`.
    #[must_use]
    pub fn length_mm(&self, from: Point, to: Point) -> f64 {
        let dw = in_plane(to, self.plane)[2] - in_plane(from, self.plane)[2];
        (self.radius * self.sweep).hypot(dw)
    }

    /// The point at a share of the way, in mm of X, Y, Z.
    #[must_use]
    pub fn at(&self, from: Point, to: Point, share: f64) -> [f64; 3] {
        let (a, b) = (in_plane(from, self.plane), in_plane(to, self.plane));
        let start = (a[1] - self.centre[1]).atan2(a[0] - self.centre[0]);
        let end_radius = (b[0] - self.centre[0]).hypot(b[1] - self.centre[1]);
        let radius = self.radius + (end_radius - self.radius) * share;
        let angle = start + self.sweep * share;
        let uvw = [
            self.centre[0] + radius * angle.cos(),
            self.centre[1] + radius * angle.sin(),
            a[2] + (b[2] - a[2]) * share,
        ];
        from_plane(uvw, self.plane)
    }

    /// Chords so that none lies farther than `deviation_mm` from the arc, at least one a quarter turn.
    #[must_use]
    pub fn chords(&self, deviation_mm: f64) -> u32 {
        let quarter = (self.sweep.abs() / (TAU / 4.0)).ceil().max(1.0);
        let step = if self.radius > deviation_mm { 2.0 * (1.0 - deviation_mm / self.radius).acos() } else { TAU / 4.0 };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1..=100,000")]
        let n = (self.sweep.abs() / step).ceil().max(quarter).clamp(1.0, 100_000.0) as u32;
        n
    }

    /// Points where the arc is farthest along an axis: the quadrant points inside the sweep, in mm of X, Y, Z.
    pub fn quadrant_points(&self, from: Point, to: Point) -> impl Iterator<Item = [f64; 3]> + '_ {
        let a = in_plane(from, self.plane);
        let start = (a[1] - self.centre[1]).atan2(a[0] - self.centre[0]);
        (-8_i32..=8).filter_map(move |k| {
            let angle = f64::from(k) * TAU / 4.0;
            let along = (angle - start) / self.sweep;
            (along > 0.0 && along < 1.0).then(|| self.at(from, to, along))
        })
    }
}
