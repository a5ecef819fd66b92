//! A sheet that is not equally thick everywhere: judged where it is thickest and where it is thinnest.
//!
//! May live here: joining the two answers. May not: any rule.

use super::case::{CannotJudge, Case};
use super::judge::{Judged, check, check_once};
use chargehand_types::finding::Finding;
use chargehand_types::quantity::Length;

/// Judges a card over a sheet measured at its corners. What goes through is decided by the thickest reading, which is
/// the report's thickness; what only the thinnest shows (the waste board, a skin) is told beside it.
///
/// # Errors
/// When the card names something that is not there.
pub fn check_corners(case: &Case<'_>, corners: &[Length]) -> Result<Judged, CannotJudge> {
    let (Some(thinnest), Some(thickest)) = (corners.iter().min(), corners.iter().max()) else {
        return check(case);
    };
    let mut judged = check(&Case { thickness: Some(*thickest), ..*case })?;
    if thinnest == thickest {
        return Ok(judged);
    }
    let thin = check_once(&Case { thickness: Some(*thinnest), ..*case }, false)?.report;
    let report = &mut judged.report;
    let mark = |f: &Finding| (f.code, f.operation.clone(), f.line);
    for finding in thin.findings {
        if !report.findings.iter().any(|known| mark(known) == mark(&finding)) {
            report.findings.push(finding);
        }
    }
    let place = |f: &Finding| report.order.iter().position(|o| Some(o) == f.operation.as_ref());
    let mut findings = std::mem::take(&mut report.findings);
    findings.sort_by_key(|f| (f.severity, f.code, place(f), f.line));
    report.findings = findings;
    report.straight_through = report.straight_through.zip(thin.straight_through).map(|(thick, thin)| thick && thin);
    for told in thin.advice {
        if !report.advice.contains(&told) {
            report.advice.push(told);
        }
    }
    Ok(judged)
}
