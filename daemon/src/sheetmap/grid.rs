//! The sheet as cells: how deep each is cut and which stroke first went through it.
//!
//! May live here: cells and their storage. May not: shapes, pieces.

/// Cells along a tile's edge.
pub(super) const TILE: usize = 64;
/// Cells of a tile.
const CELLS: usize = TILE * TILE;
/// No stroke went through.
pub(super) const NEVER: u32 = u32::MAX;

/// Where the cells lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Grid {
    /// Lower left corner of the first cell, mm.
    pub(super) origin: [f64; 2],
    /// Edge of a cell, mm.
    pub(super) cell: f64,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Grid {
    /// Cells of this size over a rectangle; what is left over at its upper edges belongs to no cell.
    pub(super) fn over(corner: [f64; 2], size: [f64; 2], cell: f64) -> Self {
        let count = |length: f64| {
            let cells = (length / cell + 1.0e-6).floor().clamp(0.0, 1.0e6);
            cells as usize
        };
        Self { origin: corner, cell, columns: count(size[0]), rows: count(size[1]) }
    }

    /// X of a column's middle.
    pub(super) fn x(&self, column: usize) -> f64 {
        self.origin[0] + (column as f64 + 0.5) * self.cell
    }

    /// Y of a row's middle.
    pub(super) fn y(&self, row: usize) -> f64 {
        self.origin[1] + (row as f64 + 0.5) * self.cell
    }

    /// Columns whose middles lie in a span, as a half-open range.
    pub(super) fn columns_in(&self, from: f64, to: f64) -> Option<(usize, usize)> {
        range_in(from - self.origin[0], to - self.origin[0], self.cell, self.columns)
    }

    /// Rows whose middles lie in a span, as a half-open range.
    pub(super) fn rows_in(&self, from: f64, to: f64) -> Option<(usize, usize)> {
        range_in(from - self.origin[1], to - self.origin[1], self.cell, self.rows)
    }

    /// The cell a place lies in.
    pub(super) fn cell_of(&self, x: f64, y: f64) -> Option<(usize, usize)> {
        let (u, v) = ((x - self.origin[0]) / self.cell, (y - self.origin[1]) / self.cell);
        let inside = u >= 0.0 && v >= 0.0 && u < self.columns as f64 && v < self.rows as f64;
        inside.then_some((u as usize, v as usize))
    }

    pub(super) fn tiles_across(&self) -> usize {
        self.columns.div_ceil(TILE)
    }

    pub(super) fn bands(&self) -> usize {
        self.rows.div_ceil(TILE)
    }

    /// Square millimetres of one cell.
    pub(super) fn cell_area(&self) -> f64 {
        self.cell * self.cell
    }
}

fn range_in(from: f64, to: f64, cell: f64, count: usize) -> Option<(usize, usize)> {
    let first = (from / cell - 0.5).ceil().max(0.0);
    let last = (to / cell - 0.5).floor().min(count as f64 - 1.0);
    (first <= last).then_some((first as usize, last as usize + 1))
}

/// A square of cells that something was cut in.
#[derive(Debug, Clone)]
pub(super) struct Tile {
    /// Height of what is left below the face, mm, 0 or less.
    pub(super) height: Box<[f32; CELLS]>,
    /// The stroke that first went through, [`NEVER`] where none did; missing while the whole tile holds.
    pub(super) first: Option<Box<[u32; CELLS]>>,
}

impl Tile {
    fn new() -> Self {
        Self { height: Box::new([0.0; CELLS]), first: None }
    }
}

/// A row of tiles.
#[derive(Debug, Clone)]
pub(super) struct Band {
    tiles: Vec<Option<Tile>>,
}

/// Part of a row within one tile.
pub(super) struct Piecewise<'a> {
    /// First column.
    pub(super) column: usize,
    pub(super) height: &'a mut [f32],
    /// Only where asked for.
    pub(super) first: Option<&'a mut [u32]>,
}

impl Band {
    pub(super) fn new(grid: &Grid) -> Self {
        Self { tiles: vec![None; grid.tiles_across()] }
    }

    /// Calls back with every stretch of a row of this band between two columns, tile by tile; `through` asks for the
    /// record of first strokes too.
    pub(super) fn each(
        &mut self,
        row_in_band: usize,
        from: usize,
        to: usize,
        through: bool,
        mut each: impl FnMut(Piecewise<'_>),
    ) {
        let mut column = from;
        while column < to {
            let (tile, inside) = (column / TILE, column % TILE);
            let end = to.min((tile + 1) * TILE);
            let Some(slot) = self.tiles.get_mut(tile) else { return };
            let tile = slot.get_or_insert_with(Tile::new);
            let at = row_in_band * TILE + inside;
            let span = at..at + (end - column);
            let first = through.then(|| tile.first.get_or_insert_with(|| Box::new([NEVER; CELLS])));
            if let Some(height) = tile.height.get_mut(span.clone()) {
                each(Piecewise { column, height, first: first.and_then(|f| f.get_mut(span)) });
            }
            column = end;
        }
    }

    /// Height at a cell of this band.
    pub(super) fn height(&self, row_in_band: usize, column: usize) -> f32 {
        let tile = self.tiles.get(column / TILE).and_then(Option::as_ref);
        tile.and_then(|t| t.height.get(row_in_band * TILE + column % TILE)).copied().unwrap_or(0.0)
    }

    /// First strokes of one tile's part of a row; none where nothing in the tile was cut through.
    pub(super) fn firsts(&self, row_in_band: usize, tile: usize) -> Option<&[u32]> {
        let first = self.tiles.get(tile)?.as_ref()?.first.as_ref()?;
        first.get(row_in_band * TILE..(row_in_band + 1) * TILE)
    }

    /// Cells held in memory.
    pub(super) fn allocated(&self) -> usize {
        self.tiles.iter().flatten().count() * CELLS
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_belongs_to_a_span_by_its_middle() {
        let grid = Grid::over([10.0, 0.0], [5.0, 2.0], 0.25);
        assert_eq!((grid.columns, grid.rows), (20, 8));
        assert_eq!(grid.columns_in(10.0, 10.125), Some((0, 1)));
        assert_eq!(grid.columns_in(10.13, 10.37), None);
        assert_eq!(grid.columns_in(-5.0, 99.0), Some((0, 20)));
        assert_eq!(grid.rows_in(0.3, 0.7), Some((1, 3)));
        assert_eq!(grid.cell_of(10.3, 1.99), Some((1, 7)));
        assert_eq!(grid.cell_of(9.99, 1.0), None);
    }

    #[test]
    fn rows_cross_tiles() {
        let grid = Grid::over([0.0, 0.0], [100.0, 10.0], 0.25);
        let mut band = Band::new(&grid);
        let mut seen = Vec::new();
        band.each(3, 60, 130, true, |p| {
            seen.push((p.column, p.height.len(), p.first.map(|f| f.len())));
            p.height.fill(-1.0);
        });
        assert_eq!(seen, [(60, 4, Some(4)), (64, 64, Some(64)), (128, 2, Some(2))]);
        assert_eq!(band.height(3, 129), -1.0);
        assert_eq!(band.height(3, 130), 0.0);
        assert_eq!(band.height(2, 70), 0.0);
        assert!(band.firsts(3, 3).is_none());
    }
}
