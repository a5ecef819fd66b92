//! The bit swept over the sheet, stroke after stroke: every cell's height, and what each stroke took.
//!
//! Bands of rows are swept side by side, each through all strokes in order, so that the number of workers never
//! changes the answer.
//!
//! May live here: the sweep. May not: pieces, tabs, judging.

use super::cutter::Cutter;
use super::grid::{Band, Grid, NEVER, Piecewise, TILE};
use super::job::{Job, Stroke};
use super::shape::{Ring, Stadium, smaller};
use rayon::prelude::*;

/// Chords of arcs that are not level run no farther off than this, mm: well under a cell.
const CHORD: f64 = 0.01;

/// What one stroke took off the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Cut {
    /// The most that any place was lowered by, mm.
    pub(crate) deepest: f32,
    /// Cells lowered by more than what is ignored.
    pub(super) lowered: u32,
    /// Of them, cells that had been untouched.
    pub(super) fresh: u32,
    /// Cells lowered by more than its bit is meant to take at once.
    pub(super) deep: u32,
    /// How much stood under its axis where it ends, mm.
    pub(crate) under_axis: f32,
}

impl Cut {
    /// mm2 lowered, mm2 of it that had been untouched, mm2 lowered by more than the bit is meant to take at once.
    pub(crate) fn areas(&self, cell_area: f64) -> [f64; 3] {
        [self.lowered, self.fresh, self.deep].map(|cells| f64::from(cells) * cell_area)
    }

    fn join(&mut self, other: &Self) {
        self.deepest = self.deepest.max(other.deepest);
        self.under_axis = self.under_axis.max(other.under_axis);
        self.lowered += other.lowered;
        self.fresh += other.fresh;
        self.deep += other.deep;
    }
}

/// What is small enough to be passed over.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ignore {
    /// Lowering by less is none, mm.
    pub(super) depth: f32,
    /// A tip this high above the underside is through, mm.
    pub(super) skin: f64,
}

/// The swept sheet.
#[derive(Debug, Clone)]
pub(super) struct Swept {
    pub(super) grid: Grid,
    pub(super) bands: Vec<Band>,
    /// One for each stroke.
    pub(super) cuts: Vec<Cut>,
}

impl Swept {
    /// What is left at a cell, from the face, mm.
    pub(super) fn height(&self, column: usize, row: usize) -> Option<f32> {
        Some(self.bands.get(row / TILE)?.height(row % TILE, column))
    }

    /// The stroke that first went through a cell.
    pub(super) fn first(&self, column: usize, row: usize) -> u32 {
        let band = self.bands.get(row / TILE);
        let firsts = band.and_then(|b| b.firsts(row % TILE, column / TILE));
        firsts.and_then(|f| f.get(column % TILE)).copied().unwrap_or(NEVER)
    }
}

/// Sweeps a job over cells of this size.
pub(super) fn sweep(job: &Job, grid: Grid, ignore: Ignore, pool: &rayon::ThreadPool) -> Swept {
    let lists = lists(job, &grid);
    let swept: Vec<(Band, Vec<Cut>)> = pool.install(|| {
        let numbered: Vec<(usize, &Vec<u32>)> = lists.iter().enumerate().collect();
        numbered.into_par_iter().map(|(band, list)| one_band(job, &grid, ignore, band, list)).collect()
    });
    let mut cuts = vec![Cut::default(); job.strokes.len()];
    let mut bands = Vec::with_capacity(swept.len());
    for ((band, taken), list) in swept.into_iter().zip(&lists) {
        bands.push(band);
        for (cut, stroke) in taken.iter().zip(list) {
            if let Some(whole) = cuts.get_mut(*stroke as usize) {
                whole.join(cut);
            }
        }
    }
    Swept { grid, bands, cuts }
}

/// For each band the strokes that come over it below the face, in order.
fn lists(job: &Job, grid: &Grid) -> Vec<Vec<u32>> {
    let mut lists = vec![Vec::new(); grid.bands()];
    for (number, stroke) in job.strokes.iter().enumerate() {
        if stroke.way.lowest() >= job.face {
            continue;
        }
        let Some(cutter) = job.cutters.get(usize::from(stroke.cutter)) else { continue };
        let [[x0, x1], [y0, y1], _] = stroke.way.bounds();
        let r = cutter.radius();
        if grid.columns_in(x0 - r, x1 + r).is_none() {
            continue;
        }
        let Some((first, last)) = grid.rows_in(y0 - r, y1 + r) else { continue };
        let number = u32::try_from(number).unwrap_or(NEVER - 1);
        for list in lists.iter_mut().take(last.div_ceil(TILE)).skip(first / TILE) {
            list.push(number);
        }
    }
    lists
}

fn one_band(job: &Job, grid: &Grid, ignore: Ignore, band: usize, list: &[u32]) -> (Band, Vec<Cut>) {
    let mut tool = Tool {
        grid,
        band: Band::new(grid),
        rows: [band * TILE, ((band + 1) * TILE).min(grid.rows)],
        ignore,
        face: job.face,
        through: (job.bottom() - job.face + ignore.skin) as f32,
        stroke: 0,
        deep: f32::INFINITY,
        cut: Cut::default(),
        depths: [0.0; TILE],
    };
    let mut cuts = Vec::with_capacity(list.len());
    for number in list {
        let Some(stroke) = job.strokes.get(*number as usize) else { continue };
        let Some(cutter) = job.cutters.get(usize::from(stroke.cutter)) else { continue };
        let before = number.checked_sub(1).and_then(|before| job.strokes.get(before as usize));
        // the stroke before swept round this one's start, in this band too
        let goes_on = before.is_some_and(|b| b.cutter == stroke.cutter && b.way.end() == stroke.way.at(0.0));
        tool.take(*number, stroke, cutter, goes_on);
        cuts.push(tool.cut);
    }
    (tool.band, cuts)
}

/// The bit at work in one band.
struct Tool<'a> {
    grid: &'a Grid,
    band: Band,
    /// Half-open.
    rows: [usize; 2],
    ignore: Ignore,
    face: f64,
    /// Heights at or below this are through.
    through: f32,
    stroke: u32,
    /// More than this at once is deep.
    deep: f32,
    cut: Cut,
    depths: [f32; TILE],
}

impl Tool<'_> {
    fn take(&mut self, number: u32, stroke: &Stroke, cutter: &Cutter, goes_on: bool) {
        self.stroke = number;
        self.deep = cutter.deep() as f32;
        self.cut = Cut::default();
        self.look_under(stroke);
        if let Some(ring) = Ring::of(&stroke.way, cutter) {
            self.ring(&ring, (stroke.way.end()[2] - self.face) as f32);
        } else if stroke.way.is_straight() {
            self.straight(stroke.way.at(0.0), stroke.way.end(), cutter, goes_on);
        } else {
            let (mut before, mut goes_on) = (None, goes_on);
            let way = stroke.way;
            way.chords(0.0, 1.0, CHORD, |t| {
                let here = way.at(t);
                if let Some(before) = before.replace(here) {
                    self.straight(before, here, cutter, goes_on);
                    goes_on = true;
                }
            });
        }
    }

    /// What stands under the axis at the stroke's end.
    fn look_under(&mut self, stroke: &Stroke) {
        let [x, y, z] = stroke.way.end();
        if let Some((column, row)) = self.grid.cell_of(x, y)
            && (self.rows[0]..self.rows[1]).contains(&row)
        {
            let stands = self.band.height(row - self.rows[0], column);
            self.cut.under_axis = (stands - (z - self.face) as f32).max(0.0);
        }
    }

    fn rows_in(&self, [low, high]: [f64; 2]) -> std::ops::Range<usize> {
        let (first, last) = self.grid.rows_in(low, high).unwrap_or((0, 0));
        first.max(self.rows[0])..last.min(self.rows[1])
    }

    fn straight(&mut self, from: [f64; 3], to: [f64; 3], cutter: &Cutter, goes_on: bool) {
        let face = self.face;
        let mut stadium = Stadium::new([from[0], from[1], from[2] - face], [to[0], to[1], to[2] - face], cutter);
        if goes_on {
            stadium = stadium.going_on(cutter);
        }
        if stadium.lowest >= 0.0 {
            return;
        }
        let through = stadium.lowest as f32 <= self.through;
        let level = stadium.is_level(cutter);
        for row in self.rows_in(stadium.rows()) {
            let y = self.grid.y(row);
            let Some([a, b]) = stadium.row(y) else { continue };
            let Some((from, to)) = self.grid.columns_in(a, b) else { continue };
            let Self { grid, band, rows, ignore, stroke, deep, cut, depths, through: bottom, .. } = self;
            let mut book = Book { cut, ignore: ignore.depth, deep: *deep, bottom: *bottom, stroke: *stroke };
            band.each(row - rows[0], from, to, through, |part| {
                if level {
                    book.lower_to(part, stadium.lowest as f32);
                } else if let Some(depths) = depths.get_mut(..part.height.len()) {
                    stadium.depths(cutter, grid.x(part.column), y, grid.cell, depths);
                    book.lower(part, depths);
                }
            });
        }
    }

    fn ring(&mut self, ring: &Ring, height: f32) {
        let through = height <= self.through;
        for row in self.rows_in(ring.rows()) {
            let y = self.grid.y(row);
            let Self { grid, band, rows, ignore, stroke, deep, cut, depths, through: bottom, .. } = self;
            let mut book = Book { cut, ignore: ignore.depth, deep: *deep, bottom: *bottom, stroke: *stroke };
            ring.row(y, |[a, b]| {
                let Some((from, to)) = grid.columns_in(a, b) else { return };
                band.each(row - rows[0], from, to, through, |part| {
                    let Some(depths) = depths.get_mut(..part.height.len()) else { return };
                    for (k, depth) in depths.iter_mut().enumerate() {
                        *depth = if ring.covers(grid.x(part.column + k), y) { height } else { 0.0 };
                    }
                    book.lower(part, depths);
                });
            });
        }
    }
}

/// Lowers cells and keeps count of it.
struct Book<'a> {
    cut: &'a mut Cut,
    ignore: f32,
    deep: f32,
    bottom: f32,
    stroke: u32,
}

impl Book<'_> {
    fn lower_to(&mut self, part: Piecewise<'_>, height: f32) {
        let mut sum = Sum::default();
        for cell in part.height.iter_mut() {
            sum.count(*cell, height, self.ignore, self.deep);
            *cell = smaller(*cell, height);
        }
        self.add(sum);
        if let Some(first) = part.first.filter(|_| height <= self.bottom) {
            for slot in first {
                *slot = (*slot).min(self.stroke);
            }
        }
    }

    fn lower(&mut self, part: Piecewise<'_>, heights: &[f32]) {
        let mut sum = Sum::default();
        for (cell, height) in part.height.iter_mut().zip(heights) {
            sum.count(*cell, *height, self.ignore, self.deep);
            *cell = smaller(*cell, *height);
        }
        self.add(sum);
        if let Some(first) = part.first {
            for (slot, height) in first.iter_mut().zip(heights) {
                if *height <= self.bottom {
                    *slot = (*slot).min(self.stroke);
                }
            }
        }
    }

    fn add(&mut self, sum: Sum) {
        self.cut.deepest = self.cut.deepest.max(f32::from_bits(sum.deepest.max(0).cast_unsigned()));
        self.cut.lowered += sum.lowered;
        self.cut.fresh += sum.fresh;
        self.cut.deep += sum.deep;
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    /// The bits of the largest: positive floats sort like their bits, negative ones are negative, and whole numbers
    /// are compared four at once.
    deepest: i32,
    lowered: u32,
    fresh: u32,
    deep: u32,
}

impl Sum {
    #[inline]
    fn count(&mut self, stands: f32, height: f32, ignore: f32, deep: f32) {
        let by = stands - height;
        self.deepest = self.deepest.max(by.to_bits().cast_signed());
        self.lowered += u32::from(by > ignore);
        self.fresh += u32::from(by > ignore && stands == 0.0);
        self.deep += u32::from(by > deep);
    }
}
