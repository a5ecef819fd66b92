//! Where on the sheet things happened: stops on the bit's way, parts at their places.
//!
//! May live here: finding those places. May not: what is drawn with them.

use chargehand_types::check::Drawing;
use chargehand_types::history::SheetRecord;
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::report::{Mark, MarkOf};
use chargehand_types::stage::Grade;

/// Marks of some sheets of one revision. `parts` are the places of its parts by index, `order` the place on the card of
/// each operation in the order of cutting. What has no place is left out.
#[must_use]
pub fn marks(sheets: &[SheetRecord], drawing: &Drawing, parts: &[Spot], order: &[usize]) -> Vec<Mark> {
    let mut marks = Vec::new();
    for sheet in sheets {
        for (stop, operation) in sheet.stops.iter().zip(&sheet.stopped_in) {
            let on_card = usize::try_from(*operation).ok().and_then(|nth| order.get(nth));
            let at = on_card.zip(stop.last_line_done).and_then(|(operation, line)| on_way(drawing, *operation, line));
            marks.extend(at.map(|at| Mark { sheet: sheet.sheet.clone(), at, of: MarkOf::Stopped }));
        }
        for part in sheet.parts.iter().filter(|part| part.grade != Grade::Good) {
            let at = usize::try_from(part.index).ok().and_then(|nth| parts.get(nth));
            marks.extend(at.map(|at| Mark { sheet: sheet.sheet.clone(), at: *at, of: MarkOf::Part(part.reason) }));
        }
    }
    marks
}

/// About where the bit was at a line: on the run that holds the line, else at the end of the last run before it.
fn on_way(drawing: &Drawing, operation: usize, line: u32) -> Option<Spot> {
    let runs = || drawing.paths.iter().filter(|path| usize::try_from(path.operation) == Ok(operation));
    let run = runs().rfind(|path| path.lines[0] <= line).or_else(|| runs().next())?;
    let [first, last] = run.lines;
    let share = if last > first { f64::from(line.saturating_sub(first)) / f64::from(last - first) } else { 1.0 };
    let ends = run.points.len().checked_sub(1)?;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the points of a run")]
    let nth = (share.clamp(0.0, 1.0) * ends as f64).round() as usize;
    let [x, y] = *run.points.get(nth)?;
    Some(Spot { x: Length::from_mm(f64::from(x)).ok()?, y: Length::from_mm(f64::from(y)).ok()? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::check::CutPath;

    fn path(operation: u32, lines: [u32; 2], points: &[[f32; 2]]) -> CutPath {
        CutPath { operation, lines, through: true, points: points.to_vec() }
    }

    fn drawing() -> Drawing {
        Drawing {
            size: [Length::whole_mm(600), Length::whole_mm(1200)],
            corner: Spot::default(),
            paths: vec![
                path(0, [10, 14], &[[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [30.0, 0.0], [40.0, 0.0]]),
                path(0, [20, 20], &[[5.0, 5.0]]),
                path(1, [3, 4], &[[9.0, 9.0], [8.0, 8.0]]),
            ],
            fasteners: Vec::new(),
        }
    }

    #[test]
    fn a_line_lies_on_its_run() {
        let at = |operation, line| on_way(&drawing(), operation, line).map(|s| (s.x.mm(), s.y.mm()));
        assert_eq!(at(0, 12), Some((20.0, 0.0)), "half way along it");
        assert_eq!(at(0, 17), Some((40.0, 0.0)), "between two runs: where the last one ended");
        assert_eq!(at(0, 2), Some((0.0, 0.0)), "before the first: where it begins");
        assert_eq!(at(0, 99), Some((5.0, 5.0)));
        assert_eq!(at(1, 4), Some((8.0, 8.0)));
        assert_eq!(at(2, 4), None, "an operation that is not drawn");
    }
}
