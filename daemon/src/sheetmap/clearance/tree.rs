//! All stretches in a tree of boxes.
//!
//! May live here: the tree and questions to it. May not: the cells.

use super::Nearest;
use super::track::{Box2, Track, length};
use std::collections::HashSet;

/// Stretches of a leaf at most.
const LEAF: usize = 4;

/// Airs no farther apart than this (mm) are alike, and the earlier stroke is told.
const ALIKE: f64 = 1.0e-9;

/// A box around stretches that lie together in the list.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    bounds: Box2,
    /// The widest bit in it, half.
    widest: f64,
    /// The narrowest, half.
    narrowest: f64,
    first: u32,
    count: u32,
    /// Where its two children lie; none of a leaf.
    children: Option<u32>,
}

/// The stretches, and the boxes over them; the root comes first.
#[derive(Debug, Clone)]
pub(super) struct Tree {
    tracks: Vec<Track>,
    nodes: Vec<Node>,
}

impl Node {
    /// Of a part of the list, as yet around nothing.
    fn empty(range: std::ops::Range<u32>) -> Self {
        Self {
            bounds: [[f64::INFINITY, f64::NEG_INFINITY]; 2],
            widest: 0.0,
            narrowest: f64::INFINITY,
            first: range.start,
            count: range.end - range.start,
            children: None,
        }
    }

    fn over(tracks: &[Track], first: usize) -> Self {
        let (first, count) = (first as u32, tracks.len() as u32);
        tracks.iter().fold(Self::empty(first..first + count), Self::around)
    }

    fn around(self, track: &Track) -> Self {
        self.with(track.bounds(), track.half(), track.half())
    }

    fn with(mut self, bounds: Box2, widest: f64, narrowest: f64) -> Self {
        for ([least, most], [low, high]) in self.bounds.iter_mut().zip(bounds) {
            *least = least.min(low);
            *most = most.max(high);
        }
        self.widest = self.widest.max(widest);
        self.narrowest = self.narrowest.min(narrowest);
        self
    }

    /// No swept edge of it is nearer than this.
    pub(super) fn at_least(&self, [x, y]: [f64; 2]) -> f64 {
        let [[x0, x1], [y0, y1]] = self.bounds;
        length((x0 - x).max(x - x1).max(0.0), (y0 - y).max(y - y1).max(0.0)) - self.widest
    }

    /// No axis of it is nearer than this, and the widest bit, half.
    pub(super) fn off(&self, at: [f64; 2]) -> (f64, f64) {
        (self.at_least(at) + self.widest, self.widest)
    }

    /// Some swept edge of it is no farther than this.
    pub(super) fn at_most(&self, [x, y]: [f64; 2]) -> f64 {
        let [[x0, x1], [y0, y1]] = self.bounds;
        length((x - x0).max(x1 - x), (y - y0).max(y1 - y)) - self.narrowest
    }

    /// The longer side of its box.
    pub(super) fn side(&self) -> f64 {
        self.bounds.iter().map(|[low, high]| high - low).fold(0.0, f64::max)
    }

    /// Where its children lie.
    pub(super) fn children(&self) -> Option<[u32; 2]> {
        self.children.map(|at| [at, at + 1])
    }

    /// Its stretches.
    pub(super) fn range(&self) -> std::ops::Range<u32> {
        self.first..self.first + self.count
    }
}

impl Tree {
    pub(super) fn new(mut tracks: Vec<Track>) -> Self {
        let mut nodes = Vec::with_capacity(tracks.len());
        if !tracks.is_empty() {
            nodes.push(Node::over(&tracks, 0));
        }
        let mut at = 0;
        while let Some(node) = nodes.get(at).copied() {
            let range = node.first as usize..(node.first + node.count) as usize;
            if range.len() > LEAF
                && let Some(part) = tracks.get_mut(range.clone())
            {
                let left = split(part, &node.bounds);
                let (low, high) = part.split_at(left);
                let pair = [Node::over(low, range.start), Node::over(high, range.start + left)];
                let children = nodes.len() as u32;
                nodes.extend(pair);
                if let Some(node) = nodes.get_mut(at) {
                    node.children = Some(children);
                }
            }
            at += 1;
        }
        Self { tracks, nodes }
    }

    /// The same in the order they are cut, without sorting: moves that follow each other lie beside each other, so the
    /// boxes are nearly as good and ready far sooner.
    pub(super) fn in_order(tracks: Vec<Track>) -> Self {
        let mut nodes: Vec<Node> = Vec::with_capacity(tracks.len() / 2 + 1);
        if !tracks.is_empty() {
            nodes.push(Node::empty(0..tracks.len() as u32));
        }
        let mut at = 0;
        while let Some(node) = nodes.get(at) {
            let range = node.range();
            if range.len() > LEAF {
                let middle = u32::midpoint(range.start, range.end);
                let children = nodes.len() as u32;
                nodes.extend([Node::empty(range.start..middle), Node::empty(middle..range.end)]);
                if let Some(node) = nodes.get_mut(at) {
                    node.children = Some(children);
                }
            }
            at += 1;
        }
        // children come behind their parents
        for at in (0..nodes.len()).rev() {
            let Some(node) = nodes.get(at).copied() else { continue };
            let own = node.range().start as usize..node.range().end as usize;
            let filled = match node.children() {
                Some(children) => {
                    let both = children.map(|child| nodes.get(child as usize).copied().unwrap_or(node));
                    both.iter().fold(node, |sum, child| sum.with(child.bounds, child.widest, child.narrowest))
                }
                None => tracks.get(own).unwrap_or_default().iter().fold(node, Node::around),
            };
            if let Some(slot) = nodes.get_mut(at) {
                *slot = filled;
            }
        }
        Self { tracks, nodes }
    }

    /// Of these only one for each shape: the one of the earliest stroke.
    pub(super) fn of_shapes(tracks: &[Track]) -> Self {
        let mut known = HashSet::with_capacity(tracks.len());
        let mut first: Vec<Track> = tracks.to_vec();
        first.sort_by_key(Track::stroke);
        first.retain(|track| known.insert(track.shape()));
        Self::new(first)
    }

    pub(super) fn tracks(&self) -> &[Track] {
        &self.tracks
    }

    pub(super) fn track(&self, number: u32) -> Option<&Track> {
        self.tracks.get(number as usize)
    }

    pub(super) fn node(&self, number: u32) -> Option<&Node> {
        self.nodes.get(number as usize)
    }

    /// The nearest of some stretches.
    pub(super) fn nearest_of(&self, list: &[u32], at: [f64; 2]) -> Option<Nearest> {
        let mut best: Option<(f64, &Track)> = None;
        for track in list.iter().filter_map(|number| self.track(*number)) {
            better(&mut best, track, at);
        }
        best.map(|(air, track)| Nearest { air, stroke: track.stroke() })
    }

    /// Air to the nearest of some stretches; the first that covers the place ends the search.
    pub(super) fn air_of(&self, list: &[u32], at: [f64; 2]) -> f64 {
        let mut least = f64::INFINITY;
        for track in list.iter().filter_map(|number| self.track(*number)) {
            least = least.min(track.air(at));
            if least <= 0.0 {
                return 0.0;
            }
        }
        least
    }

    /// The nearest of all, by boxes.
    pub(super) fn nearest(&self, at: [f64; 2]) -> Option<Nearest> {
        let mut best: Option<(f64, &Track)> = None;
        let mut open: Vec<&Node> = self.nodes.first().into_iter().collect();
        while let Some(node) = open.pop() {
            if best.is_some_and(|(air, _)| node.at_least(at) > air + ALIKE) {
                continue;
            }
            let Some(children) = node.children() else {
                node.range().filter_map(|n| self.track(n)).for_each(|track| better(&mut best, track, at));
                continue;
            };
            let mut pair = children.map(|child| self.node(child));
            // the nearer one is looked at first
            if let [Some(a), Some(b)] = pair
                && a.at_least(at) < b.at_least(at)
            {
                pair.reverse();
            }
            open.extend(pair.into_iter().flatten());
        }
        best.map(|(air, track)| Nearest { air, stroke: track.stroke() })
    }

    /// Every stretch nearer than this.
    pub(super) fn near(&self, at: [f64; 2], within: f64, each: &mut impl FnMut(&Track)) {
        let mut open: Vec<&Node> = self.nodes.first().into_iter().collect();
        while let Some(node) = open.pop() {
            if node.at_least(at) >= within {
                continue;
            }
            match node.children() {
                Some(children) => open.extend(children.iter().filter_map(|child| self.node(*child))),
                None => node
                    .range()
                    .filter_map(|number| self.track(number))
                    .filter(|track| track.air(at) < within)
                    .for_each(&mut *each),
            }
        }
    }
}

/// Keeps the nearer stretch; of two alike the earlier stroke.
#[inline]
fn better<'a>(best: &mut Option<(f64, &'a Track)>, track: &'a Track, at: [f64; 2]) {
    let air = track.air(at);
    let wins = match best {
        None => true,
        Some((least, first)) => air < *least - ALIKE || (air <= *least + ALIKE && track.stroke() < first.stroke()),
    };
    if wins {
        *best = Some((air, track));
    }
}

/// Sorts stretches to either side of the middle one along the longer side; gives how many are on the first.
fn split(tracks: &mut [Track], bounds: &Box2) -> usize {
    let [[x0, x1], [y0, y1]] = *bounds;
    let axis = usize::from(y1 - y0 > x1 - x0);
    let middle = tracks.len() / 2;
    let key = |track: &Track| track.bounds().get(axis).map_or(0.0, |[low, high]| low + high);
    tracks.select_nth_unstable_by(middle, |a, b| key(a).total_cmp(&key(b)).then(a.stroke().cmp(&b.stroke())));
    middle
}
