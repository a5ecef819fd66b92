//! Formulas of one piece and one joint, the practice machine's own. Derived from constant acceleration; mm, mm/s, mm/s2, s.

/// A vector along X, Y, Z.
pub type Vector = [f64; 3];

/// The length of a vector.
pub(in crate::practice) fn norm(v: Vector) -> f64 {
    let [x, y, z] = v;
    (x * x + y * y + z * z).sqrt()
}

/// The most of a per-axis limit along a direction (need not be of length 1): `min(limit_i / |u_i|)`.
pub(in crate::practice) fn along(direction: Vector, limits: Vector) -> f64 {
    let n = norm(direction);
    if n == 0.0 {
        return f64::INFINITY;
    }
    direction
        .iter()
        .zip(limits)
        .filter(|(u, _)| **u != 0.0)
        .map(|(u, limit)| limit * n / u.abs())
        .fold(f64::INFINITY, f64::min)
}

/// The square of the speed at a corner between two unit directions: on the circle that misses it by the deviation,
/// `v^2 = a R` with `R = d s / (1 - s)`, s the sine of half the angle between the segments.
pub(in crate::practice) fn corner(into: Vector, out: Vector, a: f64, deviation: f64) -> f64 {
    let dot = into.iter().zip(out).map(|(i, o)| i * o).sum::<f64>().clamp(-1.0, 1.0);
    let s = f64::midpoint(1.0, dot).sqrt();
    if 1.0 - s < 1.0e-12 { f64::INFINITY } else { a * deviation * s / (1.0 - s) }
}
