//! The air between one stretch and an upright rectangle.
//!
//! May live here: that distance. May not: what stands there.

use super::track::Track;

/// How exactly the nearest point of an edge is found, mm.
const EXACT: f64 = 0.005;

/// Air between a rectangle and a swept edge, mm; below 0 they overlap by at least so much.
pub(super) fn air(track: &Track, low: [f64; 2], high: [f64; 2]) -> f64 {
    let corners = [low, [high[0], low[1]], high, [low[0], high[1]]];
    let mut least = corners.iter().map(|corner| track.air(*corner)).fold(f64::INFINITY, f64::min);
    for (from, to) in [(0, 1), (1, 2), (2, 3), (3, 0)].map(|(a, b): (usize, usize)| (corners[a], corners[b])) {
        edge(track, from, to, &mut least);
    }
    // an axis that keeps off the outline lies all inside or all outside
    if track.starts_in(low, high) { -track.half() - (least + track.half()).max(0.0) } else { least }
}

/// The least air along an edge. The air changes by no more than the way along it, so halves that cannot hold a smaller
/// one are left out.
fn edge(track: &Track, from: [f64; 2], to: [f64; 2], least: &mut f64) {
    let mut open = vec![(from, to)];
    while let Some((from, to)) = open.pop() {
        let middle = [f64::midpoint(from[0], to[0]), f64::midpoint(from[1], to[1])];
        let half = (to[0] - from[0]).abs().max((to[1] - from[1]).abs()) / 2.0;
        let air = track.air(middle);
        *least = least.min(air);
        if air - half < *least - EXACT {
            open.extend([(from, middle), (middle, to)]);
        }
    }
}
