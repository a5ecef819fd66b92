//! Whether a program's numbers make sense in the unit it says.
//!
//! May live here: `suspect-units`. May not: any other rule on places.

use super::bounds::Edges;
use super::cause::bare;
use super::reach::Reach;
use crate::program::Facts;
use crate::program::motion::Place;
use chargehand_types::finding::{Code, Finding};

/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// A cut may miss the sheet or the waste board by this much (mm) and still be meant for it: that is another finding.
const SLACK: f64 = 25.0;
/// A cut that ends this near the underside (mm) is meant to go through.
const THROUGH: f64 = 0.6;

/// The extents fit the sheet only if the program's numbers were in the other unit.
///
/// A program in inches whose numbers are millimetres runs 25.4 times too far. The other way round it runs within the
/// sheet, only too small, which extents alone cannot tell from a small piece of work: that is told only of a program
/// without any unit word whose cut would reach the underside, and stay on the sheet, in inches.
pub(super) fn suspect(facts: &Facts, feed: &Reach, edges: &Edges, operation: &str, out: &mut Vec<Finding>) {
    out.extend(suspected(facts, feed, edges).map(|word| told(word, operation)));
}

/// Whether nothing else about the places of this program can be believed.
pub(super) fn is_suspect(facts: &Facts, feed: &Reach, edges: &Edges) -> bool {
    suspected(facts, feed, edges).is_some()
}

/// The unit word that is suspected, or where it should stand.
fn suspected(facts: &Facts, feed: &Reach, edges: &Edges) -> Option<Place> {
    match (facts.first_inch, facts.first_mm) {
        (Some(word), _) if !fits(feed, edges, 1.0) && fits(feed, edges, 1.0 / INCH) => Some(word),
        (None, None) if fits(feed, edges, INCH) && goes_through_in_inches(feed, edges) => {
            Some(Place { line: 1, column: 1 })
        }
        _ => None,
    }
}

/// Reaches the underside in inches, and as it is read not even a tenth of the way.
fn goes_through_in_inches(feed: &Reach, edges: &Edges) -> bool {
    let Some([lowest, _]) = feed.along(2) else { return false };
    let off = lowest * INCH - edges.bottom;
    let depth = (edges.face - lowest) / (edges.face - edges.bottom);
    off.abs() <= THROUGH && depth > 0.0 && depth < 0.1
}

fn told(word: Place, operation: &str) -> Finding {
    let mut found = bare(Code::SuspectUnits, operation);
    found.line = Some(word.line);
    found.column = Some(word.column);
    found.lines = Some([word.line; 2]);
    found
}

/// Whether the feed motion would fit the sheet by its size, wherever it lies, and by its depth.
fn fits(feed: &Reach, edges: &Edges, scale: f64) -> bool {
    let wide_enough = edges.sheet.iter().enumerate().all(|(axis, [low, high])| {
        feed.along(axis).is_none_or(|[least, most]| (most - least) * scale <= high - low + SLACK)
    });
    let deep_enough = feed.along(2).is_none_or(|[least, _]| least * scale >= edges.bottom - SLACK);
    wide_enough && deep_enough
}
