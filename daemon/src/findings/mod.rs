//! Room `findings`: a card, its programs and the shop in; what is wrong with them out, worst first, with what each
//! operation comes to.
//!
//! May live here: every rule a card is judged by, the card's revision, what a signature covers, the plain drawing.
//! May not: reading programs or cards, timing, what a person does about a finding.

mod advice;
mod bench;
mod bounds;
mod case;
mod cause;
mod changes;
mod corners;
mod cutplan;
mod cutting;
mod draft;
mod drawing;
mod entry;
mod excerpt;
mod fingerprint;
mod fitness;
mod hanging;
mod holding;
mod judge;
mod left;
mod loose;
mod material;
mod operation;
mod picture;
mod places;
mod plan;
mod reach;
mod revision;
mod sequence;
mod sweep;
mod tally;
mod text;
mod through;
mod trace;
mod units;
mod window;

pub use bench::{Bench, Spindle};
pub use case::{CannotJudge, Case};
pub use changes::{Revised, changes};
pub use corners::check_corners;
pub use cutplan::fastest_feeds;
pub use cutting::{ChipRange, chip_load, chip_range, feed_for};
pub use draft::{CannotDraft, Drafted, Wanted, draft};
pub use drawing::draw;
pub use entry::{Enterable, WayBack, way_back};
pub use judge::{Judged, JudgedOperation, check, is_searched};
pub use left::left;
pub use places::{Airs, measure};
pub use plan::{Question, hold_down, holes, one_more};
pub use revision::revision;
pub use sweep::{sweep, sweep_of};

#[cfg(test)]
mod tests;
