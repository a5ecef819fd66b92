//! Formulas of one piece and one joint. All derived from constant acceleration; mm, mm/s, mm/s2, s.

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

/// The time of a piece of length `d` from speed `v0` to `v1`, never above `vm`, at acceleration `a`.
#[must_use]
pub fn trapezoid_seconds(d: f64, v0: f64, v1: f64, vm: f64, a: f64) -> f64 {
    if d <= 0.0 {
        return 0.0;
    }
    let peak = vm.min(((2.0 * a * d + v0 * v0 + v1 * v1) / 2.0).sqrt()).max(v0).max(v1);
    let (up, down) = ((peak * peak - v0 * v0) / (2.0 * a), (peak * peak - v1 * v1) / (2.0 * a));
    let cruise = (d - up - down).max(0.0);
    (peak - v0) / a + (peak - v1) / a + if peak > 0.0 { cruise / peak } else { 0.0 }
}
