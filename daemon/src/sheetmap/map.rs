//! The sheet map itself: sweep, tabs and pieces of one job.
//!
//! May live here: what is asked of a map. May not: how it is computed.

use super::bridges::bridges;
use super::grid::Grid;
use super::job::Job;
use super::pieces::{NONE, Pieces, Region, masks, pieces};
use super::sweep::{Cut, Ignore, Swept, sweep};
use super::tabs::{Tab, tabs};
use chargehand_types::quantity::{Area, Length, Spot};

/// Edge of a cell, mm.
const CELL: f64 = 0.25;
/// Cells at most: a full panel of 1220 x 2440 mm has as many. On a larger sheet they are larger.
const CELLS: f64 = 48.0e6;

/// What is small enough to be passed over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    /// A cut less deep is none; a skin thinner holds nothing.
    pub depth: Length,
    /// A smaller piece is a chip.
    pub piece: Area,
}

/// What is left of a sheet.
#[derive(Debug, Clone)]
pub struct SheetMap {
    pub(super) swept: Swept,
    tabs: Vec<Tab>,
    pub(super) pieces: Pieces,
}

impl SheetMap {
    /// Sweeps a job. `anchors` are places that hold whatever piece they lie in. The workers of `pool` share the work
    /// and never change the answer.
    #[must_use]
    pub fn of(job: &Job, least: Least, anchors: &[Spot], pool: &rayon::ThreadPool) -> Self {
        let grid = Grid::over(job.corner, job.size, cell(job.size));
        let ignore = Ignore { depth: least.depth.mm() as f32, skin: least.depth.mm() };
        let swept = sweep(job, grid, ignore, pool);
        let mut tabs = tabs(job);
        tabs.retain(|tab| stands(&swept, tab));
        let bridges = bridges(job, &swept, &tabs);
        tabs.extend(bridges);
        for tab in &mut tabs {
            let cell = grid.cell_of(tab.at[0], tab.at[1]);
            let cut = cell.and_then(|(column, row)| swept.height(column, row));
            tab.lowered_to(job.thickness + cut.map_or(0.0, f64::from));
        }
        let masks = masks(&grid, &tabs);
        let anchors: Vec<[f64; 2]> = anchors.iter().map(|a| [a.x.mm(), a.y.mm()]).collect();
        let mut pieces = pieces(&swept, &tabs, &masks, &anchors, least.piece.value());
        // beside the sheet there is nothing for a tab to hold to
        let on_sheet = |tab: &usize| tabs.get(*tab).is_some_and(|t| grid.cell_of(t.at[0], t.at[1]).is_some());
        pieces.regions.iter_mut().for_each(|region| region.tabs.retain(on_sheet));
        Self { swept, tabs, pieces }
    }

    /// What one stroke took.
    pub(crate) fn cut(&self, stroke: usize) -> Cut {
        self.swept.cuts.get(stroke).copied().unwrap_or_default()
    }

    /// Tabs that stand at the end.
    pub(crate) fn tabs(&self) -> &[Tab] {
        &self.tabs
    }

    /// Pieces, largest first.
    pub(crate) fn regions(&self) -> &[Region] {
        &self.pieces.regions
    }

    /// The piece a place lies in.
    pub(crate) fn piece_at(&self, at: [f64; 2]) -> Option<usize> {
        let (column, row) = self.swept.grid.cell_of(at[0], at[1])?;
        let run = self.pieces.runs.at(column, row)?;
        let piece = *self.pieces.piece_of.get(run)?;
        (piece != NONE).then_some(piece as usize)
    }

    /// Whether the bit's edge comes within `air` mm of a piece anywhere along a stroke.
    pub(crate) fn comes_near(&self, job: &Job, piece: usize, stroke: usize, air: f64) -> bool {
        let (Some(stroke), Some(region)) = (job.strokes.get(stroke), self.pieces.regions.get(piece)) else {
            return false;
        };
        let Some(cutter) = job.cutters.get(usize::from(stroke.cutter)) else { return false };
        let reach = cutter.radius() + air;
        let [[x0, x1], [y0, y1], _] = stroke.way.bounds();
        let [left, low, right, high] = region.bounds;
        let apart = x0 - reach > right || x1 + reach < left || y0 - reach > high || y1 + reach < low;
        !apart && self.pieces.near(&self.swept.grid, piece, &stroke.way, reach)
    }

    /// Whether a place is cut through.
    pub(crate) fn is_through(&self, at: [f64; 2]) -> bool {
        let cell = self.swept.grid.cell_of(at[0], at[1]);
        cell.is_some_and(|(column, row)| self.swept.first(column, row) != super::grid::NEVER)
    }

    /// Square millimetres of a cell.
    pub(crate) fn cell_area(&self) -> f64 {
        self.swept.grid.cell_area()
    }

    /// How many pieces there are.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.pieces.regions.len()
    }

    /// Cells held in memory.
    #[must_use]
    pub fn cells_held(&self) -> usize {
        self.swept.bands.iter().map(super::grid::Band::allocated).sum()
    }
}

/// Edge of a cell for a sheet of this size, mm.
fn cell([width, depth]: [f64; 2]) -> f64 {
    let longest = width.max(depth);
    // neither so many cells nor so many rows or columns, however long and thin the sheet
    CELL.max((width * depth / CELLS).sqrt()).max(longest / 60_000.0)
}

/// Whether no other cut went through the middle of a tab. One beside the sheet stands for what the bit passed over.
fn stands(swept: &Swept, tab: &Tab) -> bool {
    let cell = swept.grid.cell_of(tab.at[0], tab.at[1]);
    cell.is_none_or(|(column, row)| swept.first(column, row) == super::grid::NEVER)
}
