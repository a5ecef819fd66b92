//! Formulas of one piece and one joint, the practice machine's own. Derived from constant acceleration; mm, mm/s, mm/s2, s.

/// A vector along X, Y, Z.
pub type Vector = [f64; 3];

/// The length of a vector.
#[must_use]
pub fn norm(v: Vector) -> f64 {
    let [x, y, z] = v;
    (x * x + y * y + z * z).sqrt()
}

/// The most of a per-axis limit along a direction (need not be of length 1): `min(limit_i / |u_i|)`.
#[must_use]
pub fn along(direction: Vector, limits: Vector) -> f64 {
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

/// The square of the speed at a joint between two unit directions; infinite straight on, 0 at a reversal.
#[must_use]
pub fn joint_speed_squared(into: Vector, out: Vector, acceleration: Vector, deviation: f64) -> f64 {
    let dot = into.iter().zip(out).map(|(a, b)| a * b).sum::<f64>().clamp(-1.0, 1.0);
    // theta lies between the reversed incoming and the outgoing direction: cos(theta) = -into.out
    let s = f64::midpoint(1.0, dot).max(0.0).sqrt();
    if 1.0 - s < 1.0e-12 {
        return f64::INFINITY;
    }
    let mut change = [0.0; 3];
    for ((c, a), b) in change.iter_mut().zip(into).zip(out) {
        *c = b - a;
    }
    along(change, acceleration) * deviation * s / (1.0 - s)
}
