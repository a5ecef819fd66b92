//! What is left of a sheet once its parts are off: the largest rectangle that can be cut from again.
//!
//! May live here: which pieces are taken off and how small a rest is thrown away. May not: the search itself.

use super::case::{CannotJudge, Case};
use super::sweep::sweep;
use crate::sheetmap::{Least, SheetMap};
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::record::Left;

/// A rest whose shorter side is less is not worth a place on the shelf, mm (common practice, no source).
const WORTH_KEEPING: f64 = 120.0;
/// Wood round a fastener's hole that is not counted on, mm (common practice, no source).
const ROUND_A_HOLE: f64 = 8.0;

/// The largest rectangle that no cut and no fastener touched; none where it is too small to keep. Pieces that the card
/// names are taken off, and every piece where it names none.
///
/// # Errors
/// When the card names something that is not there.
pub fn left(case: &Case<'_>, fasteners: &[Spot]) -> Result<Option<Left>, CannotJudge> {
    let job = sweep(case)?;
    let limits = &case.bench.limits_set;
    let map = SheetMap::of(&job, Least { depth: limits.ignore_thinner, piece: limits.small_piece }, &[], case.pool);
    let parts = case.card.named_parts.iter().flat_map(|part| &part.at);
    let named: Vec<usize> = parts.filter_map(|at| map.piece_at([at.x.mm(), at.y.mm()])).collect();
    let taken = |piece: usize| named.is_empty() || named.contains(&piece);
    let holes: Vec<([f64; 2], f64)> = fasteners.iter().map(|at| ([at.x.mm(), at.y.mm()], ROUND_A_HOLE)).collect();
    let Some([x0, y0, x1, y1]) = map.largest_left(taken, &holes) else { return Ok(None) };
    if (x1 - x0).min(y1 - y0) < WORTH_KEEPING {
        return Ok(None);
    }
    let whole = |mm: f64| Length::from_mm(mm.floor()).unwrap_or(Length::ZERO);
    let at = Spot { x: Length::from_mm(x0).unwrap_or_default(), y: Length::from_mm(y0).unwrap_or_default() };
    Ok(Some(Left { at, size: [whole(x1 - x0), whole(y1 - y0)] }))
}
