//! What a signature covers: a short name for a finding that changes with anything that makes it another one.
//!
//! May live here: which facts count. May not: signatures themselves.

use super::revision::Sum;
use chargehand_types::card::{Bit, Material};
use chargehand_types::finding::{Code, Finding};
use chargehand_types::id::Revision;

/// Hex digits of a fingerprint: 80 bits, far beyond the findings one shop will ever sign.
const DIGITS: usize = 20;

/// What the findings of one operation rest on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grounds<'a> {
    pub(super) revision: &'a Revision,
    /// Names of the operations in the order they are cut.
    pub(super) order: &'a [String],
    pub(super) bit: &'a Bit,
    pub(super) material: &'a Material,
}

/// Over revision, code, operation, lines, limit, place, order, and the bit and material values used.
///
/// Figures measured do not count: a sheet a hair thinner needs no new signature for the same finding.
pub(super) fn fingerprint(finding: &Finding, grounds: &Grounds<'_>) -> String {
    let mut sum = Sum::default();
    sum.text(&grounds.revision.0);
    sum.text(&finding.code.to_string());
    sum.text(finding.operation.as_deref().unwrap_or_default());
    sum.text(&format!("{:?}", finding.lines));
    sum.text(&format!("{:?} {:?}", finding.limit, finding.unit));
    sum.text(&format!("{:?}", finding.place));
    for name in grounds.order {
        sum.text(name);
    }
    let bit = grounds.bit;
    sum.text(&format!("{:?} {} {} {:?}", bit.kind, bit.diameter, bit.flutes, bit.tool));
    if matches!(finding.code, Code::ChipLoadLow | Code::ChipLoadHigh) {
        sum.text(&format!("{:?} {:?}", finding.facts.rpm, finding.facts.range));
        sum.text(&format!("{:?}", grounds.material.chip_load));
    }
    let mut hex = sum.hex();
    hex.truncate(DIGITS);
    hex
}
