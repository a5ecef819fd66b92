//! Revisions of a card side by side: what changed, and which signatures still stand.

use super::programs::Texts;
use super::work::JudgedCard;
use crate::findings::{self, Bench, Revised};
use crate::ledger::fold::card::SignedFinding;
use chargehand_types::SCHEMA;
use chargehand_types::card::Stores;
use chargehand_types::change::{CardChanges, Signature};
use chargehand_types::problem::Problem;

/// A numbered revision with the signatures it has.
pub struct Numbered<'a> {
    /// From 1.
    pub number: u32,
    /// As judged.
    pub judged: &'a JudgedCard,
}

/// What changed from one to the other; `signed` are the signatures of the earlier one.
///
/// # Errors
/// When a stored program cannot be read.
pub fn between(
    before: &Numbered<'_>,
    after: &Numbered<'_>,
    signed: &[SignedFinding],
    stores: &Stores,
    bench: &Bench,
) -> Result<CardChanges, Problem> {
    let side = |of: &Numbered<'_>| (of.number, of.judged.revision().clone());
    let (earlier, later) = (before.judged.programs.all()?, after.judged.programs.all()?);
    Ok(CardChanges {
        schema: SCHEMA,
        card: after.judged.card.name.clone(),
        before: side(before),
        after: side(after),
        changes: findings::changes(&revised(before.judged, &earlier), &revised(after.judged, &later), stores, bench),
        signatures: signed.iter().map(|s| signature(s, before.judged, after.judged)).collect(),
    })
}

fn revised<'a>(judged: &'a JudgedCard, programs: &'a Texts) -> Revised<'a> {
    Revised { card: &judged.card, programs, report: &judged.judged.report }
}

/// A signature stands where the later check finds the very thing that was signed.
fn signature(signed: &SignedFinding, before: &JudgedCard, after: &JudgedCard) -> Signature {
    let of = |judged: &JudgedCard| {
        judged.judged.report.findings.iter().find(|f| f.fingerprint == signed.fingerprint).cloned()
    };
    let by = signed.by.as_ref().map(|actor| actor.who.to_string());
    Signature { code: signed.code, operation: of(before).and_then(|f| f.operation), by, stands: of(after).is_some() }
}
