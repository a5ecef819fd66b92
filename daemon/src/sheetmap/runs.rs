//! The sheet as runs of alike cells, row by row, and how they touch.
//!
//! May live here: runs, their neighbours, joining sets of them. May not: what a set of runs is.

use super::grid::{Grid, NEVER, TILE};
use super::sweep::Swept;

/// Never cut through.
pub(super) const KEPT: u32 = NEVER;
/// Never cut through, under the way of a cut: a tab.
pub(super) const TAB: u32 = NEVER - 1;

/// Neighbouring cells of a row with one fate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Run {
    pub(super) row: u32,
    pub(super) from: u32,
    /// Half-open.
    pub(super) to: u32,
    /// [`KEPT`], [`TAB`], or the stroke that first went through.
    pub(super) fate: u32,
}

impl Run {
    pub(super) fn cells(&self) -> u64 {
        u64::from(self.to - self.from)
    }
}

/// All runs of a sheet, row after row.
#[derive(Debug, Clone)]
pub(super) struct Runs {
    pub(super) all: Vec<Run>,
    /// Where each row's runs begin; one more than there are rows.
    starts: Vec<u32>,
}

/// For each row, spans of columns under a tab's sweep: from, to (half-open), tab.
pub(super) type Masks = Vec<Vec<(u32, u32, u32)>>;

impl Runs {
    /// Of a swept sheet, cells under tabs set apart.
    pub(super) fn of(swept: &Swept, masks: &Masks) -> Self {
        let grid = swept.grid;
        let mut runs = Self { all: Vec::new(), starts: Vec::with_capacity(grid.rows + 1) };
        for row in 0..grid.rows {
            runs.starts.push(u32::try_from(runs.all.len()).unwrap_or(NEVER));
            runs.row(swept, row, masks.get(row).map_or(&[], Vec::as_slice));
        }
        runs.starts.push(u32::try_from(runs.all.len()).unwrap_or(NEVER));
        runs
    }

    fn row(&mut self, swept: &Swept, row: usize, mask: &[(u32, u32, u32)]) {
        let Some(band) = swept.bands.get(row / TILE) else { return };
        let first_of_row = self.all.len();
        for tile in 0..swept.grid.tiles_across() {
            let (from, to) = (tile * TILE, ((tile + 1) * TILE).min(swept.grid.columns));
            match band.firsts(row % TILE, tile) {
                None => self.push(first_of_row, row, from, to, KEPT, mask),
                Some(firsts) => {
                    let mut at = from;
                    while at < to {
                        let fate = firsts.get(at - from).copied().unwrap_or(KEPT);
                        let same = firsts.iter().take(to - from).skip(at - from).take_while(|f| **f == fate).count();
                        self.push(first_of_row, row, at, at + same.max(1), fate, mask);
                        at += same.max(1);
                    }
                }
            }
        }
    }

    /// Adds a run, cut up where a mask turns kept cells into a tab's.
    fn push(&mut self, first_of_row: usize, row: usize, from: usize, to: usize, fate: u32, mask: &[(u32, u32, u32)]) {
        let (mut at, to) = (from as u32, to as u32);
        let row = row as u32;
        while at < to {
            let (end, fate) = if fate == KEPT { masked(at, to, mask) } else { (to, fate) };
            let joins = self.all.len() > first_of_row;
            match self.all.last_mut().filter(|last| joins && last.to == at && last.fate == fate) {
                Some(last) => last.to = end,
                None => self.all.push(Run { row, from: at, to: end, fate }),
            }
            at = end;
        }
    }

    pub(super) fn row_of(&self, row: usize) -> std::ops::Range<usize> {
        let at = |r: usize| self.starts.get(r).map_or(self.all.len(), |s| *s as usize);
        at(row)..at(row + 1)
    }

    /// The run a cell lies in.
    pub(super) fn at(&self, column: usize, row: usize) -> Option<usize> {
        let range = self.row_of(row);
        let runs = self.all.get(range.clone())?;
        let after = runs.partition_point(|run| run.from as usize <= column);
        let at = after.checked_sub(1)?;
        runs.get(at).filter(|run| (column as u32) < run.to)?;
        Some(range.start + at)
    }

    /// Calls back with every two runs that share an edge of a cell.
    pub(super) fn touching(&self, rows: usize, mut each: impl FnMut(usize, usize)) {
        for row in 0..rows {
            let here = self.row_of(row);
            for at in here.clone().skip(1) {
                each(at - 1, at);
            }
            if row == 0 {
                continue;
            }
            let (mut a, mut b) = (self.row_of(row - 1), here);
            while let (Some(x), Some(y)) = (self.all.get(a.start), self.all.get(b.start)) {
                if a.is_empty() || b.is_empty() {
                    break;
                }
                if x.from < y.to && y.from < x.to {
                    each(a.start, b.start);
                }
                if x.to <= y.to {
                    a.start += 1;
                } else {
                    b.start += 1;
                }
            }
        }
    }

    /// Whether a run lies on the sheet's rim.
    pub(super) fn on_rim(run: &Run, grid: &Grid) -> bool {
        run.row == 0 || run.from == 0 || run.row as usize + 1 == grid.rows || run.to as usize == grid.columns
    }
}

/// How far kept cells go on alike, and whether they are a tab's.
fn masked(at: u32, to: u32, mask: &[(u32, u32, u32)]) -> (u32, u32) {
    let mut next = to;
    for (from, end, _) in mask {
        if *from <= at && at < *end {
            return (to.min(*end), TAB);
        }
        if *from > at {
            next = next.min(*from);
        }
    }
    (next, KEPT)
}

/// Disjoint sets by halving paths and joining by size.
#[derive(Debug, Clone)]
pub(super) struct Sets {
    parent: Vec<u32>,
    size: Vec<u32>,
}

impl Sets {
    pub(super) fn new(count: usize) -> Self {
        let count = u32::try_from(count).unwrap_or(NEVER);
        Self { parent: (0..count).collect(), size: vec![1; count as usize] }
    }

    pub(super) fn find(&mut self, of: usize) -> usize {
        let mut at = of;
        loop {
            let Some(up) = self.parent.get(at).map(|p| *p as usize) else { return at };
            if up == at {
                return at;
            }
            let above = self.parent.get(up).copied().unwrap_or(up as u32);
            if let Some(slot) = self.parent.get_mut(at) {
                *slot = above;
            }
            at = above as usize;
        }
    }

    /// Joins two sets; the root that stays and the one that went, where they were two.
    pub(super) fn join(&mut self, a: usize, b: usize) -> Option<(usize, usize)> {
        let (a, b) = (self.find(a), self.find(b));
        if a == b {
            return None;
        }
        let size = |of: usize| self.size.get(of).copied().unwrap_or(0);
        let (stays, goes) = if size(a) >= size(b) { (a, b) } else { (b, a) };
        let both = size(a) + size(b);
        if let Some(slot) = self.parent.get_mut(goes) {
            *slot = stays as u32;
        }
        if let Some(slot) = self.size.get_mut(stays) {
            *slot = both;
        }
        Some((stays, goes))
    }
}
