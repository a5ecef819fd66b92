//! Pieces: what they are called, and which of them lie loose beside a cut that goes on.
//!
//! May live here: `part-loose`, the report of pieces. May not: what tabs hold.

use super::cause::bare;
use super::material::Ground;
use crate::sheetmap::Tab;
use chargehand_types::check::{LineOf, PieceReport, TabReport, TabStyle};
use chargehand_types::finding::{Code, Finding, Severity, Unit};
use chargehand_types::quantity::{Area, Length};

/// A cut nearer than this to a loose piece can catch it, mm.
const BESIDE: f64 = 0.5;
/// A piece no larger (mm2) and no longer (mm) than this, shut in on all sides by its own cut, is not thrown (common
/// practice, no source).
const SMALL: f64 = 150.0;
const SHORT: f64 = 20.0;

/// One finding for each piece that comes loose in this operation while cutting beside it goes on.
pub(super) fn findings(ground: &Ground<'_>, number: u16, operation: &str, out: &mut Vec<Finding>) {
    for (piece, region) in ground.map.regions().iter().enumerate() {
        let Some(at) = region.loose.map(|stroke| stroke as usize) else { continue };
        let Some(stroke) = ground.job.strokes.get(at).filter(|s| s.operation == number) else { continue };
        let goes_on = ground.strokes().skip(at + 1).find(|(later, s)| {
            let cuts = !s.rapid && s.way.lowest() < ground.job.face;
            cuts && ground.map.comes_near(ground.job, piece, *later, BESIDE)
        });
        let Some((_, later)) = goes_on else { continue };
        let mut found = bare(Code::PartLoose, operation);
        let [left, low, right, high] = region.bounds;
        let shut_in = region.area_then <= SMALL && (right - left).max(high - low) <= SHORT;
        if shut_in {
            found.severity = Severity::Sign;
        }
        found.line = Some(stroke.place.line);
        found.column = Some(stroke.place.column);
        found.lines = Some([stroke.place.line; 2]);
        found.measured = Some((region.area_then * 10.0).round() / 10.0);
        found.unit = Some(Unit::Mm2);
        found.place = Some([region.centroid[0], region.centroid[1], ground.job.face]);
        found.facts.piece = name_of(ground, piece);
        let other = ground.order.get(usize::from(later.operation)).copied().unwrap_or_default();
        found.facts.goes_on = Some(format!("{other} line {}", later.place.line));
        out.push(found);
    }
}

/// The name the card gives a piece.
pub(super) fn name_of(ground: &Ground<'_>, piece: usize) -> Option<String> {
    let inside = |at: &chargehand_types::quantity::Spot| ground.map.piece_at([at.x.mm(), at.y.mm()]) == Some(piece);
    let named = ground.case.card.named_parts.iter().find(|part| part.at.iter().any(inside));
    named.map(|part| part.name.clone())
}

/// Every piece as it is told.
pub(super) fn report(ground: &Ground<'_>) -> Vec<PieceReport> {
    let of = |(piece, region): (usize, &crate::sheetmap::Region)| PieceReport {
        name: name_of(ground, piece),
        area_mm2: Area::of(region.area),
        centroid: region.centroid.map(length),
        loose_at: region.loose.and_then(|stroke| line_of(ground, stroke)),
        tabs: region.tabs.iter().filter_map(|tab| ground.map.tabs().get(*tab)).map(tab_report).collect(),
    };
    ground.map.regions().iter().enumerate().map(of).collect()
}

fn line_of(ground: &Ground<'_>, stroke: u32) -> Option<LineOf> {
    let stroke = ground.job.strokes.get(stroke as usize)?;
    let operation = (*ground.order.get(usize::from(stroke.operation))?).to_owned();
    Some(LineOf { operation, line: stroke.place.line })
}

fn tab_report(tab: &Tab) -> TabReport {
    TabReport {
        at: tab.at.map(length),
        width: length(tab.width),
        width_top: length(tab.width_top),
        height: length(tab.height),
        section_mm2: Area::of(tab.section),
        style: if tab.ramped { TabStyle::Ramped } else { TabStyle::Square },
    }
}

/// Figures of a map are told in thousandths.
fn length(mm: f64) -> Length {
    Length::from_mm((mm * 1000.0).round() / 1000.0).unwrap_or(Length::ZERO)
}
