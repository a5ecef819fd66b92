//! G2 and G3 in both forms (NISTIR 6556 3.5.3), as this controller reckons them.

use super::modes::{Modes, Motion};
use super::path::{Path, Turn, part};
use super::speed::Vector;
use super::words::Words;
use std::f64::consts::TAU;

/// Radii at start and end may differ by this much (mm), or by [`SLACK`] of the radius.
const TOLERANCE: f64 = 0.013;
/// See [`TOLERANCE`].
const SLACK: f64 = 0.001;
/// Ends closer than this (mm) are the same: a full turn.
const SAME: f64 = 1.0e-9;

/// The path of an arc to `to`.
///
/// # Errors
/// The refusal's number on the wire.
pub(in crate::practice) fn read(words: &mut Words, modes: &Modes, from: Vector, to: Vector) -> Result<Path, u16> {
    let axes = modes.plane;
    let [u, v, _] = axes;
    let (a, b) = ([part(from, u), part(from, v)], [part(to, u), part(to, v)]);
    let clockwise = modes.motion == Motion::Clockwise;
    let centre = match words.take(b'R') {
        Some(r) => centre_by_radius(a, b, r * modes.unit(), clockwise)?,
        None => centre_by_offsets(words, modes, a)?,
    };
    let radius = (a[0] - centre[0]).hypot(a[1] - centre[1]);
    let other = (b[0] - centre[0]).hypot(b[1] - centre[1]);
    if (radius - other).abs() > TOLERANCE.max(SLACK * radius) {
        return Err(33);
    }
    let start = (a[1] - centre[1]).atan2(a[0] - centre[0]);
    let stop = (b[1] - centre[1]).atan2(b[0] - centre[0]);
    let closed = (a[0] - b[0]).abs() < SAME && (a[1] - b[1]).abs() < SAME;
    let sweep = match (closed, clockwise) {
        (true, true) => -TAU,
        (true, false) => TAU,
        (false, true) => -(start - stop).rem_euclid(TAU),
        (false, false) => (stop - start).rem_euclid(TAU),
    };
    Ok(Path { from, to, turn: Some(Turn { axes, centre, radius, start, sweep }) })
}

fn centre_by_offsets(words: &mut Words, modes: &Modes, a: [f64; 2]) -> Result<[f64; 2], u16> {
    let letter = |axis: usize| [b'I', b'J', b'K'].get(axis).copied().unwrap_or(b'I');
    let (first, second) = (words.take(letter(modes.plane[0])), words.take(letter(modes.plane[1])));
    if first.is_none() && second.is_none() {
        return Err(35);
    }
    let unit = modes.unit();
    Ok([a[0] + first.unwrap_or(0.0) * unit, a[1] + second.unwrap_or(0.0) * unit])
}

/// Chord q, half height h: the centre lies h to the left of the chord's middle for G3 with R > 0 and G2 with R < 0,
/// else to the right.
fn centre_by_radius(a: [f64; 2], b: [f64; 2], r: f64, clockwise: bool) -> Result<[f64; 2], u16> {
    let (du, dv) = (b[0] - a[0], b[1] - a[1]);
    let q = du.hypot(dv);
    if q < SAME {
        return Err(33);
    }
    if q / 2.0 > r.abs() + TOLERANCE {
        return Err(34);
    }
    let h = (r * r - q * q / 4.0).max(0.0).sqrt();
    let side = if clockwise == (r < 0.0) { h } else { -h };
    Ok([f64::midpoint(a[0], b[0]) - side * dv / q, f64::midpoint(a[1], b[1]) + side * du / q])
}
