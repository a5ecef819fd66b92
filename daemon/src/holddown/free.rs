//! The largest circle on a sheet that the bit keeps out of.
//!
//! May live here: that search. May not: whether anything fits into it.

use crate::sheetmap::Clearance;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// How exactly the radius is found, mm.
const EXACT: f64 = 0.01;
/// Squares looked at, at most: where very many places are as good, the best found so far is told.
const MOST: usize = 200_000;

/// A free circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreeCircle {
    /// Work mm.
    pub at: [f64; 2],
    /// mm.
    pub radius: f64,
}

/// A square of the sheet, by the largest radius that any place in it can have.
struct Square {
    most: f64,
    middle: [f64; 2],
    half: f64,
}

/// The largest one; none where every place of the sheet is swept.
///
/// A radius changes by no more than the way from place to place, so a square's middle bounds all of it.
#[must_use]
pub fn largest_free(corner: [f64; 2], size: [f64; 2], clear: &Clearance) -> Option<FreeCircle> {
    let radius = |at: [f64; 2]| {
        let by_edges = [0, 1].iter().fold(f64::INFINITY, |least: f64, axis: &usize| {
            let from = at[*axis] - corner[*axis];
            least.min(from).min(size[*axis] - from)
        });
        clear.air(at).min(by_edges)
    };
    let mut best = FreeCircle { at: corner, radius: 0.0 };
    let square = |middle: [f64; 2], half: f64, best: &mut FreeCircle| {
        let here = radius(middle);
        if here > best.radius {
            *best = FreeCircle { at: middle, radius: here };
        }
        Square { most: here + half * std::f64::consts::SQRT_2, middle, half }
    };
    let half = size[0].max(size[1]) / 2.0;
    let mut open = BinaryHeap::new();
    open.push(square([corner[0] + size[0] / 2.0, corner[1] + size[1] / 2.0], half, &mut best));
    let mut seen = 0;
    while let Some(Square { most, middle, half }) = open.pop() {
        if most <= best.radius + EXACT || seen > MOST {
            break;
        }
        seen += 4;
        let quarter = half / 2.0;
        for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
            let part = square([middle[0] + x * quarter, middle[1] + y * quarter], quarter, &mut best);
            if part.most > best.radius + EXACT {
                open.push(part);
            }
        }
    }
    (best.radius > 0.0).then_some(best)
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Square {}

impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Square {
    fn cmp(&self, other: &Self) -> Ordering {
        self.most.total_cmp(&other.most)
    }
}
