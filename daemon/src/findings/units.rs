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

/// The extents fit the sheet only if the program's numbers were in the other unit.
///
/// A program in inches whose numbers are millimetres runs 25.4 times too far. The other way round it runs within the
/// sheet, only too small, which extents alone cannot tell from a small piece of work.
pub(super) fn suspect(facts: &Facts, feed: &Reach, edges: &Edges, operation: &str, out: &mut Vec<Finding>) {
    let Some(word) = facts.first_inch else { return };
    if fits(feed, edges, 1.0) || !fits(feed, edges, 1.0 / INCH) {
        return;
    }
    out.push(told(word, operation));
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
