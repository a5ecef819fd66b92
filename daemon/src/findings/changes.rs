//! Two revisions of a card side by side, in words of the trade: not what is written otherwise, but what is cut
//! otherwise.
//!
//! May live here: pairing what belongs together, the card as a whole. May not: which of the two came out better.

mod program;

use super::bench::Bench;
use super::cutplan::CutPlan;
use crate::shop::card::order;
use chargehand_types::card::{Card, Operation, Stores, ZZero};
use chargehand_types::change::{Change, ChangeKind};
use chargehand_types::check::{CheckReport, OperationReport};
use chargehand_types::quantity::{Length, plain};
use std::collections::BTreeMap;

/// A revision of a card, judged.
#[derive(Debug, Clone, Copy)]
pub struct Revised<'a> {
    /// The card.
    pub card: &'a Card,
    /// Program bytes by the path the card gives.
    pub programs: &'a BTreeMap<String, Vec<u8>>,
    /// What its check answered.
    pub report: &'a CheckReport,
}

/// One operation of a revision.
#[derive(Debug, Clone, Copy)]
struct Side<'a> {
    card: &'a Card,
    operation: &'a Operation,
    report: &'a OperationReport,
    bytes: &'a [u8],
}

/// What changed from one revision to another: the card first, then each operation in the order of cutting.
#[must_use]
pub fn changes(before: &Revised<'_>, after: &Revised<'_>, stores: &Stores, bench: &Bench) -> Vec<Change> {
    let mut told = Vec::new();
    sheet(before.card, after.card, &mut told);
    holddown(before.card, after.card, &mut told);
    operations(before, after, &mut told);
    for name in &after.report.order {
        if let (Some(old), Some(new)) = (side(before, name), side(after, name)) {
            operation(&old, &new, stores, bench, &mut told);
        }
    }
    told
}

fn side<'a>(of: &Revised<'a>, name: &str) -> Option<Side<'a>> {
    let operation = of.card.operations.iter().find(|o| o.name == name)?;
    let report = of.report.operations.iter().find(|o| o.name == name)?;
    let bytes = of.programs.get(&operation.program)?;
    Some(Side { card: of.card, operation, report, bytes })
}

/// A sentence of the card as a whole.
fn say(told: &mut Vec<Change>, kind: ChangeKind, says: String) {
    told.push(Change { operation: None, kind, says });
}

/// What it is now and what it was, where that differs.
fn differs(told: &mut Vec<Change>, kind: ChangeKind, what: &str, old: &str, new: &str) {
    if old != new {
        say(told, kind, format!("{what} {new}, before {old}"));
    }
}

fn sheet(old: &Card, new: &Card, told: &mut Vec<Change>) {
    let (a, b) = (&old.sheet, &new.sheet);
    let kind = ChangeKind::Sheet;
    differs(told, kind, "the material is", &a.material, &b.material);
    let size = |[x, y]: [Length; 2]| format!("{} x {} mm", plain(x.mm()), plain(y.mm()));
    differs(told, kind, "the sheet is", &size(a.size), &size(b.size));
    differs(told, kind, "its thickness is", &a.thickness.to_string(), &b.thickness.to_string());
    let zero = |z: ZZero| match z {
        ZZero::Top => "the top of the sheet",
        ZZero::Bed => "the waste board",
    };
    differs(told, kind, "Z zero is on", zero(a.z_zero), zero(b.z_zero));
    let spot = |s: chargehand_types::quantity::Spot| format!("X {}, Y {}", plain(s.x.mm()), plain(s.y.mm()));
    differs(told, kind, "its lower left corner is at", &spot(a.corner), &spot(b.corner));
    let bite = |l: Length| format!("{l} into the waste board");
    differs(told, kind, "cuts may go", &bite(a.max_bed_bite), &bite(b.max_bed_bite));
    let shift = |l: Length| l.to_string();
    differs(told, kind, "Z may be shifted by", &shift(a.z_shift_max), &shift(b.z_shift_max));
}

fn holddown(old: &Card, new: &Card, told: &mut Vec<Change>) {
    let (a, b) = (&old.holddown, &new.holddown);
    let kind = ChangeKind::HoldDown;
    differs(told, kind, "it is held by", &a.fastener, &b.fastener);
    differs(told, kind, "the air around fasteners is", &a.margin.to_string(), &b.margin.to_string());
    if a.places == b.places {
        return;
    }
    let gone = a.places.iter().filter(|p| !b.places.contains(p)).count();
    let come = b.places.iter().filter(|p| !a.places.contains(p)).count();
    let kept = b.places.len() - come;
    say(told, kind, format!("of its places {kept} are as before, {come} are new, {gone} are gone"));
}

fn operations(before: &Revised<'_>, after: &Revised<'_>, told: &mut Vec<Change>) {
    let has = |card: &Card, name: &str| card.operations.iter().any(|o| o.name == name);
    for o in after.card.operations.iter().filter(|o| !has(before.card, &o.name)) {
        say(told, ChangeKind::Operation, format!("the operation `{}` is new", o.name));
    }
    for o in before.card.operations.iter().filter(|o| !has(after.card, &o.name)) {
        say(told, ChangeKind::Operation, format!("the operation `{}` is gone", o.name));
    }
    let both = |card: &Card, other: &Card| -> Vec<String> {
        let names = order(card).into_iter().filter_map(|at| card.operations.get(at)).map(|o| o.name.clone());
        names.filter(|n| has(other, n)).collect()
    };
    let (old, new) = (both(before.card, after.card), both(after.card, before.card));
    differs(told, ChangeKind::Order, "the order is", &old.join(", then "), &new.join(", then "));
}

fn operation(old: &Side<'_>, new: &Side<'_>, stores: &Stores, bench: &Bench, told: &mut Vec<Change>) {
    let name = &new.operation.name;
    let mut say = |kind, says: String| {
        told.push(Change { operation: Some(name.clone()), kind, says: format!("`{name}` {says}") });
    };
    if old.operation.bit != new.operation.bit {
        say(ChangeKind::Bit, format!("cuts with {}, before with {}", new.operation.bit, old.operation.bit));
    }
    if old.operation.unattended != new.operation.unattended {
        let now = if new.operation.unattended { "may" } else { "may no longer" };
        say(ChangeKind::Operation, format!("{now} run with nobody beside it"));
    }
    let plan = |side: &Side<'_>| {
        let face = side.card.sheet.face_z(side.card.sheet.thickness).mm();
        CutPlan::read(side.bytes, bench.start(), Some(face)).ok().map(|plan| (plan, face))
    };
    let (Some(was), Some(is)) = (plan(old), plan(new)) else {
        if old.bytes != new.bytes {
            say(ChangeKind::Writing, "has another program, and one of the two cannot be read".to_owned());
        }
        return;
    };
    let width = |side: &Side<'_>| stores.bits.get(&side.operation.bit).map_or(0.0, |b| b.diameter.mm());
    let was = program::Known { plan: &was.0, face: was.1, width: width(old), report: old.report };
    let is = program::Known { plan: &is.0, face: is.1, width: width(new), report: new.report };
    let mut any = false;
    program::compare(&was, &is, &mut |kind, says| {
        any = true;
        say(kind, says);
    });
    if !any && old.bytes != new.bytes {
        say(ChangeKind::Writing, "is written otherwise and cuts the same".to_owned());
    }
}

#[cfg(test)]
mod tests;
