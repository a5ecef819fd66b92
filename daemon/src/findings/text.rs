//! What is wrong with a program as text: what cannot be read or sent, loose arcs, a missing end.
//!
//! May live here: faults and facts of the reader told as findings. May not: reading.

use super::cause::{Cause, against, bare};
use crate::program::fault::{Fault, Kind};
use crate::program::{Facts, Rule};
use chargehand_types::finding::{Code, Finding, Unit};

/// One finding for each rule broken, however often it is.
pub(super) fn faults(faults: &[Fault], operation: &str, out: &mut Vec<Finding>) {
    let mut rules: Vec<(&Fault, Cause)> = Vec::new();
    for fault in faults {
        let known = rules.iter_mut().find(|(first, _)| same(&first.rule, &fault.rule));
        if let Some((_, cause)) = known {
            cause.seen(fault.place, None);
        } else {
            let mut cause = Cause::default();
            cause.seen(fault.place, None);
            rules.push((fault, cause));
        }
    }
    for (fault, cause) in &rules {
        let code = match fault.kind() {
            Kind::Unreadable => Code::Unreadable,
            Kind::NotForThisController => Code::NotForThisController,
        };
        let Some(mut found) = cause.finding(code, operation) else { continue };
        found.facts.rule = Some(fault.rule.to_string());
        found.facts.hint = Some(fault.hint().to_owned());
        found.facts.excerpt = Some(fault.excerpt());
        out.push(found);
    }
}

fn same(a: &Rule, b: &Rule) -> bool {
    a.to_string() == b.to_string()
}

/// Arcs looser than the standard allows.
pub(super) fn loose_arcs(facts: &Facts, operation: &str, out: &mut Vec<Finding>) {
    let Some(arcs) = facts.loose_arcs else { return };
    let mut found = against(bare(Code::LooseArc, operation), arcs.allowed.mm(), Unit::Mm);
    found.line = Some(arcs.worst.line);
    found.column = Some(arcs.worst.column);
    found.lines = Some([arcs.first.line, arcs.last.line]);
    found.count = arcs.count;
    found.measured = Some(arcs.apart.mm());
    out.push(found);
}

/// A program that does not say where it ends.
pub(super) fn end(facts: &Facts, operation: &str, out: &mut Vec<Finding>) {
    if facts.ends_well() {
        return;
    }
    let mut found = bare(Code::NoEnd, operation);
    found.line = Some(facts.lines);
    found.lines = Some([facts.lines; 2]);
    out.push(found);
}
