//! The pieces a sheet falls into, and the stroke at which each comes loose.
//!
//! The cut is run backwards: what was never cut through comes first, then the cells of each stroke from the last to
//! the first. The stroke whose cells first tie a piece to the rim is the one that cut its last connection.
//!
//! May live here: pieces in time. May not: judging them.

use super::grid::Grid;
use super::runs::{KEPT, Masks, Run, Runs, Sets, TAB};
use super::shape::Stadium;
use super::sweep::Swept;
use super::tabs::Tab;
use std::collections::BTreeMap;

/// What the through cuts leave, apart from the rim; tabs count as cut.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Region {
    /// mm2, at the end.
    pub(crate) area: f64,
    /// mm.
    pub(crate) centroid: [f64; 2],
    /// Least X, least Y, most X, most Y, mm.
    pub(crate) bounds: [f64; 4],
    /// A place well inside, mm.
    pub(crate) inside: [f64; 2],
    /// The stroke that cut its last connection; none while tabs or an anchor hold it.
    pub(crate) loose: Option<u32>,
    /// mm2 when that happened.
    pub(crate) area_then: f64,
    /// Which tabs hold it.
    pub(crate) tabs: Vec<usize>,
    /// An anchor lies inside.
    pub(crate) anchored: bool,
}

/// All pieces, with the cells they are made of.
#[derive(Debug, Clone)]
pub(super) struct Pieces {
    pub(super) regions: Vec<Region>,
    pub(super) runs: Runs,
    /// By run: the piece it belongs to, or [`NONE`].
    pub(super) piece_of: Vec<u32>,
}

/// No piece.
pub(super) const NONE: u32 = u32::MAX;

/// Rows and columns under the sweep of each tab.
pub(super) fn masks(grid: &Grid, tabs: &[Tab]) -> Masks {
    let mut masks: Masks = vec![Vec::new(); grid.rows];
    for (number, tab) in tabs.iter().enumerate() {
        for [a, b] in &tab.swept {
            let flat = |p: &[f64; 2]| [p[0], p[1], -1.0];
            let stadium = Stadium::round(flat(a), flat(b), tab.radius);
            let [low, high] = stadium.rows();
            let Some((first, last)) = grid.rows_in(low, high) else { continue };
            for row in first..last {
                let Some([x0, x1]) = stadium.row(grid.y(row)) else { continue };
                if let (Some((from, to)), Some(of_row)) = (grid.columns_in(x0, x1), masks.get_mut(row)) {
                    of_row.push((from as u32, to as u32, number as u32));
                }
            }
        }
    }
    masks
}

/// Finds the pieces. `anchors` are places that hold whatever they lie in; smaller pieces than `small` (mm2) are chips.
pub(super) fn pieces(swept: &Swept, tabs: &[Tab], masks: &Masks, anchors: &[[f64; 2]], small: f64) -> Pieces {
    let grid = swept.grid;
    let runs = Runs::of(swept, masks);
    let anchored: Vec<usize> = anchors
        .iter()
        .filter_map(|[x, y]| grid.cell_of(*x, *y))
        .filter_map(|(column, row)| runs.at(column, row))
        .collect();
    let mut edges = Vec::new();
    runs.touching(grid.rows, |a, b| edges.push((a as u32, b as u32)));
    let (mut regions, piece_of) = label(&runs, &grid, &edges, small);
    for run in &anchored {
        let piece = piece_of.get(*run).copied().unwrap_or(NONE);
        if let Some(region) = regions.get_mut(piece as usize) {
            region.anchored = true;
        }
    }
    hang(&mut regions, &runs, &piece_of, &edges, masks, tabs.len());
    let mut back = Backwards::new(&runs, &grid, &regions, &piece_of, &anchored);
    back.run(&edges, &mut regions);
    Pieces { regions, runs, piece_of }
}

fn fate(runs: &Runs, at: u32) -> u32 {
    runs.all.get(at as usize).map_or(0, |run| run.fate)
}

/// What one set of kept runs comes to.
#[derive(Debug, Clone, Default)]
struct Sum {
    cells: u64,
    x: f64,
    y: f64,
    bounds: Option<[u32; 4]>,
    rim: bool,
    longest: Option<Run>,
}

impl Sum {
    fn take(&mut self, run: &Run, grid: &Grid) {
        let cells = run.cells();
        self.cells += cells;
        let middle = (f64::from(run.from) + f64::from(run.to)) / 2.0;
        self.x += cells as f64 * middle;
        self.y += cells as f64 * (f64::from(run.row) + 0.5);
        let own = [run.from, run.row, run.to, run.row + 1];
        self.bounds =
            Some(self.bounds.map_or(own, |b| [b[0].min(own[0]), b[1].min(own[1]), b[2].max(own[2]), b[3].max(own[3])]));
        self.rim |= Runs::on_rim(run, grid);
        if self.longest.is_none_or(|longest| run.cells() > longest.cells()) {
            self.longest = Some(*run);
        }
    }

    fn region(&self, grid: &Grid) -> Option<Region> {
        let (bounds, longest) = (self.bounds?, self.longest?);
        let at = |axis: usize, cells: f64| grid.origin.get(axis).copied().unwrap_or(0.0) + cells * grid.cell;
        let count = self.cells as f64;
        let [x0, y0, x1, y1] = bounds.map(f64::from);
        let middle = (f64::from(longest.from) + f64::from(longest.to)) / 2.0;
        Some(Region {
            area: count * grid.cell_area(),
            centroid: [at(0, self.x / count), at(1, self.y / count)],
            bounds: [at(0, x0), at(1, y0), at(0, x1), at(1, y1)],
            inside: [at(0, middle), at(1, f64::from(longest.row) + 0.5)],
            loose: None,
            area_then: 0.0,
            tabs: Vec::new(),
            anchored: false,
        })
    }
}

/// Sets of kept cells that do not touch the rim and are no chips, largest first.
fn label(runs: &Runs, grid: &Grid, edges: &[(u32, u32)], small: f64) -> (Vec<Region>, Vec<u32>) {
    let mut sets = Sets::new(runs.all.len());
    for (a, b) in edges {
        if fate(runs, *a) == KEPT && fate(runs, *b) == KEPT {
            sets.join(*a as usize, *b as usize);
        }
    }
    let mut sums: BTreeMap<usize, Sum> = BTreeMap::new();
    for (at, run) in runs.all.iter().enumerate().filter(|(_, run)| run.fate == KEPT) {
        sums.entry(sets.find(at)).or_default().take(run, grid);
    }
    let least = (small / grid.cell_area()).ceil() as u64;
    let mut found: Vec<(usize, Sum)> = sums.into_iter().filter(|(_, s)| !s.rim && s.cells >= least).collect();
    found.sort_by(|(_, a), (_, b)| b.cells.cmp(&a.cells).then(a.bounds.cmp(&b.bounds)));
    let number: BTreeMap<usize, u32> = found.iter().zip(0..).map(|((root, _), n)| (*root, n)).collect();
    let of = |(at, run): (usize, &Run)| {
        if run.fate == KEPT { number.get(&sets.find(at)).copied().unwrap_or(NONE) } else { NONE }
    };
    let piece_of = runs.all.iter().enumerate().map(of).collect();
    (found.iter().filter_map(|(_, sum)| sum.region(grid)).collect(), piece_of)
}

/// Tells every piece which tabs touch it.
fn hang(regions: &mut [Region], runs: &Runs, piece_of: &[u32], edges: &[(u32, u32)], masks: &Masks, count: usize) {
    let mut touched: Vec<Vec<u32>> = vec![Vec::new(); count];
    let mut note = |tab_run: u32, other: u32| {
        let piece = piece_of.get(other as usize).copied().unwrap_or(NONE);
        if piece == NONE || fate(runs, tab_run) != TAB {
            return;
        }
        let Some(run) = runs.all.get(tab_run as usize) else { return };
        for (from, to, tab) in masks.get(run.row as usize).map_or(&[][..], Vec::as_slice) {
            if *from < run.to
                && run.from < *to
                && let Some(pieces) = touched.get_mut(*tab as usize)
                && !pieces.contains(&piece)
            {
                pieces.push(piece);
            }
        }
    };
    for (a, b) in edges {
        note(*a, *b);
        note(*b, *a);
    }
    for (tab, pieces) in touched.iter().enumerate() {
        for piece in pieces {
            if let Some(region) = regions.get_mut(*piece as usize) {
                region.tabs.push(tab);
            }
        }
    }
}

/// The cut run backwards.
struct Backwards<'a> {
    runs: &'a Runs,
    cell_area: f64,
    sets: Sets,
    /// By root: tied to the rim or an anchor.
    tied: Vec<bool>,
    /// By root: cells.
    cells: Vec<u64>,
    /// By root: pieces in it that are not tied yet.
    pieces: BTreeMap<usize, Vec<u32>>,
    /// By piece: cells of what it was part of after the last stroke seen.
    then: Vec<u64>,
    left: usize,
}

impl<'a> Backwards<'a> {
    fn new(runs: &'a Runs, grid: &Grid, regions: &[Region], piece_of: &[u32], anchored: &[usize]) -> Self {
        let count = runs.all.len();
        let tied = runs.all.iter().map(|run| Runs::on_rim(run, grid)).collect();
        let whole = |run: &Run| if run.fate >= TAB { run.cells() } else { 0 };
        let mut back = Self {
            runs,
            cell_area: grid.cell_area(),
            sets: Sets::new(count),
            tied,
            cells: runs.all.iter().map(whole).collect(),
            pieces: BTreeMap::new(),
            then: vec![0; regions.len()],
            left: regions.len(),
        };
        for run in anchored {
            if let Some(tied) = back.tied.get_mut(*run) {
                *tied = true;
            }
        }
        let mut seen = vec![false; regions.len()];
        for (at, piece) in piece_of.iter().enumerate() {
            if let Some(slot) = seen.get_mut(*piece as usize).filter(|slot| !**slot) {
                *slot = true;
                back.pieces.insert(at, vec![*piece]);
            }
        }
        back
    }

    fn run(&mut self, edges: &[(u32, u32)], regions: &mut [Region]) {
        let weight = |(a, b): &(u32, u32)| fate(self.runs, *a).min(fate(self.runs, *b)).min(TAB);
        let mut by_weight: Vec<(u32, u32, u32)> = edges.iter().map(|e| (weight(e), e.0, e.1)).collect();
        by_weight.sort_unstable_by(|a, b| b.cmp(a));
        let mut cut: Vec<(u32, u32)> =
            self.runs.all.iter().zip(0..).filter(|(run, _)| run.fate < TAB).map(|(run, at)| (run.fate, at)).collect();
        cut.sort_unstable_by(|a, b| b.cmp(a));
        let (mut edges, mut cut) = (by_weight.as_slice(), cut.as_slice());
        while let Some((weight, _, _)) = edges.first().copied() {
            let same = edges.partition_point(|(w, _, _)| *w >= weight);
            let (now, rest) = edges.split_at(same);
            edges = rest;
            let mut touched: Vec<usize> = Vec::new();
            for (_, a, b) in now {
                self.join(*a as usize, *b as usize, weight, regions, &mut touched);
            }
            let same = cut.partition_point(|(w, _)| *w >= weight);
            let (added, rest) = cut.split_at(same);
            cut = rest;
            for (_, at) in added {
                let root = self.sets.find(*at as usize);
                let own = self.runs.all.get(*at as usize).map_or(0, Run::cells);
                if let Some(cells) = self.cells.get_mut(root) {
                    *cells += own;
                }
                touched.push(root);
            }
            self.remember(touched);
            if weight == TAB {
                // held at the end: by tabs, by an anchor, or not at all a piece
                self.remember((0..self.runs.all.len()).filter(|at| self.pieces.contains_key(at)).collect());
            }
            if self.left == 0 {
                return;
            }
        }
    }

    /// What every piece in these sets is part of from here on.
    fn remember(&mut self, mut roots: Vec<usize>) {
        roots.sort_unstable();
        roots.dedup();
        for root in roots {
            let root = self.sets.find(root);
            let cells = self.cells.get(root).copied().unwrap_or(0);
            for piece in self.pieces.get(&root).map_or(&[][..], Vec::as_slice) {
                if let Some(then) = self.then.get_mut(*piece as usize) {
                    *then = cells;
                }
            }
        }
    }

    fn join(&mut self, a: usize, b: usize, weight: u32, regions: &mut [Region], touched: &mut Vec<usize>) {
        let Some((stays, goes)) = self.sets.join(a, b) else { return };
        let tied = |of: usize| self.tied.get(of).copied().unwrap_or(false);
        let (was, other) = (tied(stays), tied(goes));
        let both = self.cells.get(goes).copied().unwrap_or(0);
        if let Some(cells) = self.cells.get_mut(stays) {
            *cells += both;
        }
        if let Some(tied) = self.tied.get_mut(stays) {
            *tied = was || other;
        }
        let mut pieces = self.pieces.remove(&goes).unwrap_or_default();
        pieces.extend(self.pieces.remove(&stays).unwrap_or_default());
        if pieces.is_empty() {
            return;
        }
        if was || other {
            for piece in pieces {
                self.left = self.left.saturating_sub(1);
                let then = self.then.get(piece as usize).copied().unwrap_or(0);
                if let Some(region) = regions.get_mut(piece as usize).filter(|_| weight < TAB) {
                    region.loose = Some(weight);
                    region.area_then = then as f64 * self.cell_area;
                }
            }
        } else {
            self.pieces.insert(stays, pieces);
            touched.push(stays);
        }
    }
}
