//! The order question: which operations of a card have to keep their places, asked by judging the card again with two
//! of them the other way round.
//!
//! May live here: which orders are tried, and what that says. May not: any rule that is asked about.

use super::case::{CannotJudge, Case};
use super::judge::{Judged, check_once};
use crate::shop::card::order;
use chargehand_types::card::Card;
use chargehand_types::check::Precedence;
use chargehand_types::finding::{Code, Finding, Severity};
use std::collections::BTreeMap;

/// Cards of more operations are not asked about: every pair is a check of its own.
const ASKED: usize = 8;

/// How often each finding comes in an operation.
type Shape = BTreeMap<(Severity, Code, Option<String>), usize>;

/// Pairs that have to stay as the card cuts them, beside what its `after` says: the other way round something would be
/// found that is not found now, and most often a part would lie loose.
///
/// A pair farther apart is asked about with the pairs already known kept, and those between may move along: a pair too
/// many may be told, never one too few of those asked.
///
/// # Errors
/// When the card names something that is not there.
pub(super) fn precedence(case: &Case<'_>, judged: &Judged) -> Result<Vec<Precedence>, CannotJudge> {
    let own = order(case.card);
    if own.len() > ASKED {
        return Ok(Vec::new());
    }
    let known = shape(&judged.report.findings);
    let mut kept = case.card.clone();
    let mut found = Vec::new();
    for apart in 1..own.len() {
        for (first, second) in own.iter().zip(own.iter().skip(apart)) {
            let Some(other) = swapped(&kept, *first, *second) else { continue };
            let again = check_once(&Case { card: &other, ..*case }, false)?;
            let Some(reason) = worse(&known, &again.report.findings) else { continue };
            let name = |at: usize| case.card.operations.get(at).map(|o| o.name.clone()).unwrap_or_default();
            found.push(Precedence { first: name(*first), then: name(*second), otherwise: reason.means.clone() });
            if let Some(operation) = kept.operations.get_mut(*second) {
                operation.after.push(name(*first));
            }
        }
    }
    Ok(found)
}

fn shape(findings: &[Finding]) -> Shape {
    let mut shape = Shape::new();
    for f in findings.iter().filter(|f| f.severity != Severity::Tells) {
        *shape.entry((f.severity, f.code, f.operation.clone())).or_default() += 1;
    }
    shape
}

/// The first finding, worst first, that an order has and the card's own has not.
fn worse<'a>(known: &Shape, findings: &'a [Finding]) -> Option<&'a Finding> {
    let mut left = known.clone();
    findings.iter().filter(|f| f.severity != Severity::Tells).find(|f| {
        let key = (f.severity, f.code, f.operation.clone());
        left.get_mut(&key).and_then(|count| count.checked_sub(1).map(|less| *count = less)).is_none()
    })
}

/// The card with one operation made to wait for another that came later; none where that makes a circle.
fn swapped(card: &Card, first: usize, second: usize) -> Option<Card> {
    let mut other = card.clone();
    let later = other.operations.get(second)?.name.clone();
    other.operations.get_mut(first)?.after.push(later);
    let places = order(&other);
    let place = |of: usize| places.iter().position(|at| *at == of);
    let waits = |at: usize| other.operations.get(at).map_or(&[][..], |o| o.after.as_slice());
    let stands = |(number, at): (usize, &usize)| {
        waits(*at)
            .iter()
            .all(|name| places.iter().take(number).any(|b| other.operations.get(*b).is_some_and(|o| o.name == *name)))
    };
    (place(second) < place(first) && places.iter().enumerate().all(stands)).then_some(other)
}
