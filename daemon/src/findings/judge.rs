//! A card judged: its operations in the order they are cut, then everything found, worst first.
//!
//! May live here: the whole of a check. May not: single rules.

use super::case::{CannotJudge, Case};
use super::fingerprint::{Grounds, fingerprint};
use super::fitness::Wear;
use super::holding::Holding;
use super::material::Ground;
use super::operation::{Read, read};
use super::reach::Reach;
use super::revision::revision;
use super::sequence::precedence;
use super::trace::Trace;
use super::window::window;
use super::{advice, picture, plan};
use crate::timing::{LineTimes, wire_time};
use chargehand_types::SCHEMA;
use chargehand_types::check::{CheckReport, OperationReport};
use chargehand_types::finding::{Code, Finding};
use chargehand_types::quantity::{Metres, Seconds};
use std::collections::BTreeMap;

/// Everything a check knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What is answered.
    pub report: CheckReport,
    /// What the daemon keeps beside it: one for each operation, in the card's order.
    pub operations: Vec<JudgedOperation>,
}

/// What the daemon needs to know of an operation while it runs.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedOperation {
    /// Its name.
    pub name: String,
    /// Motion and dwell.
    pub seconds: Seconds,
    /// Seconds from its start to the end of every line.
    pub times: LineTimes,
    /// Feed motion below the face.
    pub cut: Metres,
    /// Of it, by the key of the bit that is in (a program may change it).
    pub cut_by_bit: BTreeMap<String, Metres>,
}

/// Cards of more moves are not searched for their working window: a check of them takes too long to be asked so often.
const SEARCHED: u64 = 30_000;

/// Whether a card's working window is searched.
#[must_use]
pub fn is_searched(report: &CheckReport) -> bool {
    report.operations.iter().map(|o| o.moves).sum::<u64>() <= SEARCHED
}

/// Judges a card.
///
/// # Errors
/// When the card names something that is not there. What is wrong inside a program is no error but a finding.
pub fn check(case: &Case<'_>) -> Result<Judged, CannotJudge> {
    let mut judged = check_once(case, true)?;
    if case.window && is_searched(&judged.report) {
        judged.report.window = Some(window(case, &judged)?);
        judged.report.precedence = precedence(case, &judged)?;
    }
    Ok(judged)
}

/// The check itself, without asking how far its answer holds; `whole` with the proposal of its hold-down.
pub(super) fn check_once(case: &Case<'_>, whole: bool) -> Result<Judged, CannotJudge> {
    for place in &case.card.holddown.places {
        case.fastener(place)?;
    }
    let material = case.material()?;
    let operations = case.in_order();
    let mut wear = Wear::new(case);
    let mut reads = Vec::with_capacity(operations.len());
    let mut trace = Trace::new(case);
    for operation in &operations {
        reads.push(read(case, operation, &mut wear, &mut trace)?);
    }
    let ground = Ground::of(case, &trace, &reads);
    let order: Vec<String> = operations.iter().map(|o| o.name.clone()).collect();
    let revision = revision(case.card, case.programs);
    let mut needed = Reach::default();
    reads.iter().for_each(|read| needed.join(&read.tally.all));
    let holding = Holding::new(case, &trace.job, &reads, &ground.map)?;
    let holddown = if whole { Some(plan::brief(case, &trace.job, &reads, &ground.map)?) } else { None };
    let (mut findings, mut advice) = (Vec::new(), Vec::new());
    for (number, read) in (0..).zip(&reads) {
        let grounds = Grounds { revision: &revision, order: &order, bit: read.meant.bit, material };
        let mut found = Vec::new();
        read.findings(case, &needed, &mut found);
        ground.findings(read, &mut found);
        holding.findings(number, read, &mut found);
        advice::clean_cut(case, read, &found, &mut advice);
        findings.extend(found.into_iter().map(|f| named(f, &grounds)));
        read.advice(&mut advice);
        ground.advice(read, &mut advice);
    }
    advice::pieces(&ground, &findings, &mut advice);
    findings.sort_by_key(|f| (f.severity, f.code, place_in(&order, f), f.line));
    reads.sort_by_key(|read| case.card.operations.iter().position(|o| o.name == read.operation.name));
    let report = CheckReport {
        schema: SCHEMA,
        card: case.card.name.clone(),
        revision,
        thickness: case.thickness(),
        order,
        straight_through: advice::is_known(&findings).then(|| findings.iter().all(|f| f.code != Code::PartLoose)),
        pieces: ground.pieces(),
        picture: picture::picture(&ground),
        findings,
        advice,
        operations: reads.iter().map(|read| report_of(read, case)).collect(),
        holddown,
        window: None,
        precedence: Vec::new(),
    };
    Ok(Judged { report, operations: reads.into_iter().map(kept_of).collect() })
}

fn named(mut finding: Finding, grounds: &Grounds<'_>) -> Finding {
    finding.fingerprint = fingerprint(&finding, grounds);
    finding.told()
}

fn place_in(order: &[String], finding: &Finding) -> Option<usize> {
    let name = finding.operation.as_ref()?;
    order.iter().position(|o| o == name)
}

fn report_of(read: &Read<'_>, case: &Case<'_>) -> OperationReport {
    OperationReport {
        name: read.operation.name.clone(),
        bit: read.operation.bit.clone(),
        lines: read.facts.lines,
        moves: read.tally.moves,
        cut_m: Metres::of(read.tally.cut / 1000.0),
        rapid_m: Metres::of(read.tally.rapid / 1000.0),
        seconds: read.times.total(),
        wire_seconds: wire_time(read.sent, case.bench.baud),
        extents: read.tally.all.extents(),
        cut_extents: read.tally.below.extents(),
    }
}

fn kept_of(read: Read<'_>) -> JudgedOperation {
    let metres = |mm: f64| Metres::of(mm / 1000.0);
    JudgedOperation {
        name: read.operation.name.clone(),
        seconds: read.times.total(),
        cut: metres(read.tally.cut),
        cut_by_bit: read.tally.by_bit.iter().map(|(key, mm)| (key.clone(), metres(*mm))).collect(),
        times: read.times,
    }
}
