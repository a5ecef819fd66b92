//! The sheet in cells, each with the few stretches that can be the nearest to some place in it.
//!
//! May live here: making the lists and finding a place's list. May not: the distances themselves.

use super::track::{Box2, length};
use super::tree::Tree;

/// Side of a cell, mm.
const SIDE: f64 = 4.0;
/// Cells along one side at most; a larger sheet gets larger cells.
const MOST: f64 = 1024.0;
/// Lists this short are not worth a finer cell.
const SHORT: usize = 3;
/// So many of the nearest are tried for the point that outdoes others.
const WITNESSES: usize = 16;
/// Beyond the sheet's edges places are still asked for often, mm.
const RIM: f64 = 8.0;

/// Lists by cell, row by row.
#[derive(Debug, Clone)]
pub(super) struct Cells {
    low: [f64; 2],
    side: f64,
    across: usize,
    rows: usize,
    /// First and count in `listed`.
    lists: Vec<(u32, u32)>,
    listed: Vec<u32>,
}

/// What may be nearest to some place of a square: boxes of the tree, and single stretches.
#[derive(Debug, Clone, Copy)]
enum Candidate {
    Node(u32),
    Track(u32),
}

/// A square of `size` cells a side, its candidates, and how far the nearest edge is at most from its middle.
struct Square {
    column: usize,
    row: usize,
    size: usize,
    candidates: Vec<Candidate>,
    at_most: f64,
}

impl Cells {
    /// Divides the sheet again and again; a square takes over only what of its parent can be nearest in it.
    pub(super) fn new(tree: &Tree, sheet: Box2) -> Self {
        let low = sheet.map(|[least, _]| least - RIM);
        let span = sheet.map(|[least, most]| (most - least).max(0.0) + 2.0 * RIM);
        let side = SIDE.max(span[0].max(span[1]) / MOST);
        let [across, rows] = span.map(|s| (s / side).ceil() as usize);
        let mut cells = Self { low, side, across, rows, lists: vec![(0, 0); across * rows], listed: Vec::new() };
        if tree.tracks().is_empty() {
            return cells;
        }
        let size = across.max(rows).next_power_of_two();
        let whole = Square { column: 0, row: 0, size, candidates: vec![Candidate::Node(0)], at_most: f64::INFINITY };
        let mut open = vec![whole];
        while let Some(square) = open.pop() {
            let half = square.size / 2;
            for (right, up) in [(0, 0), (half, 0), (0, half), (half, half)] {
                let (column, row) = (square.column + right, square.row + up);
                if column >= across || row >= rows {
                    continue;
                }
                let part = cells.part(tree, &square, column, row, half);
                let few =
                    part.candidates.len() <= SHORT && part.candidates.iter().all(|c| matches!(c, Candidate::Track(_)));
                if half <= 1 || few {
                    cells.fill(&part);
                } else {
                    open.push(part);
                }
            }
        }
        cells
    }

    /// The list of a place; none beyond the rim.
    #[inline]
    pub(super) fn list(&self, [x, y]: [f64; 2]) -> Option<&[u32]> {
        let (column, row) = ((x - self.low[0]) / self.side, (y - self.low[1]) / self.side);
        if !(column >= 0.0 && row >= 0.0) || column >= self.across as f64 || row >= self.rows as f64 {
            return None;
        }
        let (first, count) = self.lists.get(row as usize * self.across + column as usize).copied()?;
        self.listed.get(first as usize..(first + count) as usize)
    }

    /// What of a square's candidates can be nearest to some place of a part of it.
    fn part(&self, tree: &Tree, parent: &Square, column: usize, row: usize, size: usize) -> Square {
        let wide = size as f64 * self.side;
        let low = [self.low[0] + column as f64 * self.side, self.low[1] + row as f64 * self.side];
        let middle = low.map(|l| l + wide / 2.0);
        let corner = length(wide / 2.0, wide / 2.0);
        // the parent's middle is one corner of the part away
        let mut at_most = parent.at_most + corner;
        let mut found: Vec<(f64, Candidate)> = Vec::with_capacity(parent.candidates.len());
        let mut open = parent.candidates.clone();
        while let Some(candidate) = open.pop() {
            match candidate {
                Candidate::Track(number) => {
                    let Some(track) = tree.track(number) else { continue };
                    let air = track.air(middle);
                    at_most = at_most.min(air);
                    found.push((air, candidate));
                }
                Candidate::Node(number) => {
                    let Some(node) = tree.node(number) else { continue };
                    let least = node.at_least(middle);
                    if least > at_most + 2.0 * corner {
                        continue;
                    }
                    if node.side() < wide && size > 1 {
                        at_most = at_most.min(node.at_most(middle));
                        found.push((least, candidate));
                    } else if let Some(children) = node.children() {
                        open.extend(children.map(Candidate::Node));
                    } else {
                        open.extend(node.range().map(Candidate::Track));
                    }
                }
            }
        }
        let far = at_most + 2.0 * corner + 1.0e-9;
        found.retain(|(least, _)| *least <= far);
        // a square that lies in the sweep of a few stretches needs no others
        let candidates = covering(tree, &found, middle, wide).unwrap_or_else(|| {
            found.sort_unstable_by(|(a, p), (b, q)| a.total_cmp(b).then(p.number().cmp(&q.number())));
            let corners = [low, [low[0] + wide, low[1]], [low[0], low[1] + wide], low.map(|l| l + wide)];
            outdone(tree, &mut found, corners, middle);
            found.iter().map(|(_, candidate)| *candidate).collect()
        });
        Square { column, row, size, candidates, at_most }
    }

    /// Writes a square's list for each of its cells.
    fn fill(&mut self, square: &Square) {
        let first = self.listed.len();
        self.listed.extend(square.candidates.iter().filter_map(|candidate| match candidate {
            Candidate::Track(number) => Some(*number),
            Candidate::Node(_) => None,
        }));
        let list = (first as u32, (self.listed.len() - first) as u32);
        let last = (square.column + square.size.max(1)).min(self.across);
        for row in square.row..(square.row + square.size.max(1)).min(self.rows) {
            if let Some(cells) = self.lists.get_mut(row * self.across + square.column..row * self.across + last) {
                cells.fill(list);
            }
        }
    }
}

impl Candidate {
    fn number(self) -> u32 {
        match self {
            Self::Node(number) | Self::Track(number) => number,
        }
    }
}

/// For each quarter of a square a stretch whose sweep holds all of it, if there are such.
fn covering(tree: &Tree, found: &[(f64, Candidate)], middle: [f64; 2], wide: f64) -> Option<Vec<Candidate>> {
    let quarter = wide / 4.0;
    let corner = length(quarter, quarter);
    let mut covers = Vec::new();
    for (right, up) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
        let at = [middle[0] + right * quarter, middle[1] + up * quarter];
        let holds = |number: u32| tree.track(number).is_some_and(|track| track.air(at) + corner <= 0.0);
        if covers.iter().any(|c: &Candidate| holds(c.number())) {
            continue;
        }
        let (_, found) = found.iter().find(|(air, candidate)| {
            // what holds a quarter holds the middle, one of its corners
            matches!(candidate, Candidate::Track(number) if *air <= 0.0 && holds(*number))
        })?;
        covers.push(*found);
    }
    Some(covers)
}

/// Takes out what one point of a near stretch outdoes all over the square.
///
/// Which of two points is nearer to a place changes sign along a straight line, so a point that is the nearer one at all
/// four corners is so in the whole square; and what holds for every point of a stretch holds for the stretch. Only bits no
/// wider than the point's own can be outdone so.
fn outdone(tree: &Tree, found: &mut Vec<(f64, Candidate)>, corners: [[f64; 2]; 4], middle: [f64; 2]) {
    for place in std::iter::once(middle).chain(corners) {
        if found.len() <= SHORT {
            return;
        }
        let mut best: Option<(f64, u32)> = None;
        for (_, candidate) in found.iter().take(WITNESSES) {
            if let Candidate::Track(number) = candidate
                && let Some(track) = tree.track(*number)
                && best.is_none_or(|(least, _)| track.air(place) < least)
            {
                best = Some((track.air(place), *number));
            }
        }
        let Some((track, number)) = best.and_then(|(_, number)| Some((tree.track(number)?, number))) else { return };
        let foot = track.foot(place);
        let away = corners.map(|[x, y]| length(x - foot[0], y - foot[1]));
        found.retain(|(_, candidate)| {
            let nearer = |off: f64, half: f64, away: f64| half > track.half() || off < away;
            match candidate {
                Candidate::Track(own) if *own == number => true,
                Candidate::Track(other) => tree.track(*other).is_some_and(|other| {
                    corners.iter().zip(away).any(|(at, away)| nearer(other.off(*at), other.half(), away))
                }),
                Candidate::Node(node) => tree.node(*node).is_some_and(|node| {
                    corners.iter().zip(away).any(|(at, away)| {
                        let (off, widest) = node.off(*at);
                        nearer(off, widest, away)
                    })
                }),
            }
        });
    }
}
