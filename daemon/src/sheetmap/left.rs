//! The largest rectangle of a sheet that nothing touched.
//!
//! May live here: that search. May not: what is worth keeping.

use super::map::SheetMap;
use super::pieces::NONE;
use super::runs::KEPT;

/// The map is looked at this often, mm; the rectangle found is drawn in by as much on every side.
const STEP: f64 = 1.0;
/// A scratch less deep than this is none, mm.
const SCRATCH: f32 = 0.05;

impl SheetMap {
    /// The largest upright rectangle of the sheet, as least X, least Y, most X, most Y, that no cut touched, that lies in
    /// no piece that is `taken` off, and that stays out of the circles of `holes`.
    pub(crate) fn largest_left(&self, taken: impl Fn(usize) -> bool, holes: &[([f64; 2], f64)]) -> Option<[f64; 4]> {
        let grid = &self.swept.grid;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few cells of a grid")]
        let stride = ((STEP / grid.cell).round() as usize).max(1);
        let across = grid.columns / stride;
        let whole = |column: usize, row: usize| {
            let own = self.pieces.runs.at(column, row);
            let kept = own.is_some_and(|run| {
                let piece = self.pieces.piece_of.get(run).copied().unwrap_or(NONE);
                self.pieces.runs.all.get(run).is_some_and(|r| r.fate == KEPT)
                    && (piece == NONE || !taken(piece as usize))
            });
            let at = [grid.x(column), grid.y(row)];
            let bored = holes.iter().any(|([x, y], radius)| (at[0] - x).hypot(at[1] - y) <= *radius);
            kept && !bored && self.swept.height(column, row).is_none_or(|height| height > -SCRATCH)
        };
        let mut high = vec![0_usize; across];
        let mut best: Option<(usize, [usize; 4])> = None;
        for down in 0..grid.rows / stride {
            for (nth, high) in high.iter_mut().enumerate() {
                *high = if whole(nth * stride + stride / 2, down * stride + stride / 2) { *high + 1 } else { 0 };
            }
            if let Some((cells, [from, to, tall])) = widest(&high)
                && best.is_none_or(|(most, _)| cells > most)
            {
                best = Some((cells, [from, to, down + 1 - tall, down + 1]));
            }
        }
        let (_, [left, right, low, top]) = best?;
        let side = stride as f64 * grid.cell;
        let [x, y] = grid.origin;
        let found = [
            (left as f64).mul_add(side, x) + side,
            (low as f64).mul_add(side, y) + side,
            (right as f64).mul_add(side, x) - side,
            (top as f64).mul_add(side, y) - side,
        ];
        (found[2] > found[0] && found[3] > found[1]).then_some(found)
    }
}

/// The largest rectangle under a row of columns, each so high: its cells, from which column to which, and how high.
fn widest(high: &[usize]) -> Option<(usize, [usize; 3])> {
    let mut open: Vec<(usize, usize)> = Vec::new();
    let mut best: Option<(usize, [usize; 3])> = None;
    for (nth, tall) in high.iter().copied().chain([0]).enumerate() {
        let mut from = nth;
        while let Some((start, above)) = open.pop_if(|(_, above)| *above > tall) {
            let cells = above * (nth - start);
            if best.is_none_or(|(most, _)| cells > most) {
                best = Some((cells, [start, nth, above]));
            }
            from = start;
        }
        if tall > 0 && open.last().is_none_or(|(_, above)| *above < tall) {
            open.push((from, tall));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::widest;

    /// Every rectangle tried.
    fn tried(high: &[usize]) -> usize {
        let mut most = 0;
        for from in 0..high.len() {
            for to in from + 1..=high.len() {
                most = most.max(high[from..to].iter().min().unwrap() * (to - from));
            }
        }
        most
    }

    #[test]
    fn the_widest_is_as_large_as_the_best_of_all() {
        // the textbook's own row: 2 1 5 6 2 3 holds 10
        assert_eq!(widest(&[2, 1, 5, 6, 2, 3]), Some((10, [2, 4, 5])));
        assert_eq!(widest(&[0, 0]), None);
        let mut seed = 7_u64;
        for _ in 0..500 {
            let row: Vec<usize> = (0..12)
                .map(|_| {
                    seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (seed >> 60) as usize % 7
                })
                .collect();
            assert_eq!(widest(&row).map_or(0, |(cells, _)| cells), tried(&row), "{row:?}");
        }
    }
}
