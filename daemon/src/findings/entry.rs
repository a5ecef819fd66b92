//! Whether a bit can come straight down to where a line begins: through air and through what was cut before it alone.
//!
//! May live here: which lines can be entered. May not: how an entry is written.

use super::case::{CannotJudge, Case};
use super::sweep::sweep;
use crate::sheetmap::{Job, bite};
use chargehand_types::quantity::{Length, Point};

/// Earlier lines that are tried, at most.
const TRIED: usize = 400;

/// A line that can be entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Enterable {
    /// 1-based.
    pub line: u32,
    /// Where the bit comes down, in work coordinates.
    pub at: Point,
}

/// The way back to a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayBack {
    /// The most wood, in mm, that the bit would meet on its way down to the wanted line.
    pub bite: f64,
    /// The wanted line, or the nearest one before it, that can be entered; none when no line near it can.
    pub clear: Option<Enterable>,
}

/// What the way back to a line of an operation meets, every operation before it in the card's order done, and its own
/// lines before that one. A line that moves nothing counts as the next that does. None when nothing moves from there on.
///
/// # Errors
/// When the card names something that is not there.
pub fn way_back(case: &Case<'_>, operation: &str, wanted: u32) -> Result<Option<WayBack>, CannotJudge> {
    let Some(number) = case.in_order().iter().position(|o| o.name == operation) else { return Ok(None) };
    let job = sweep(case)?;
    let own = |at: &usize| job.strokes.get(*at).is_some_and(|s| usize::from(s.operation) == number);
    let all: Vec<usize> = (0..job.strokes.len()).filter(own).collect();
    let line = |at: usize| job.strokes.get(at).map_or(0, |s| s.place.line);
    let first = all.partition_point(|at| line(*at) < wanted);
    let Some(wanted_at) = all.get(first) else { return Ok(None) };
    let bite = met(case, &job, *wanted_at);
    let mut clear = None;
    let mut last_line = u32::MAX;
    // a line of several strokes is entered at its first
    let begins = all.get(..=first).unwrap_or_default().iter().rev().filter(|at| {
        let before = at.checked_sub(1).filter(|before| own(before)).map(line);
        before != Some(line(**at)) && std::mem::replace(&mut last_line, line(**at)) != line(**at)
    });
    for at in begins.take(TRIED) {
        if met(case, &job, *at) > case.bench.ignore_thinner.mm() {
            continue;
        }
        if let Some(stroke) = job.strokes.get(*at) {
            let [x, y, z] = stroke.way.at(0.0).map(|mm| Length::from_mm(mm).unwrap_or_default());
            // the wanted line itself, when it only sets modes before the one that moves
            let line = if at == wanted_at { wanted } else { stroke.place.line };
            clear = Some(Enterable { line, at: Point::new(x, y, z) });
        }
        break;
    }
    Ok(Some(WayBack { bite, clear }))
}

/// What the bit of a stroke meets on its way down to where the stroke begins.
fn met(case: &Case<'_>, job: &Job, at: usize) -> f64 {
    job.strokes.get(at).map_or(0.0, |stroke| bite(job, at, stroke.cutter, stroke.way.at(0.0), case.pool))
}
