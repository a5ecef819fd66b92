//! In which order the operations are cut: what goes through comes after what does not, and an outside after what lies
//! inside it, so that nothing is worked on once it may be loose.
//!
//! May live here: that order. May not: what each leaves.

use super::asking::{Asking, wrong};
use super::{CannotDraft, Sketch};
use chargehand_types::card::Leaves;

/// An operation lies inside another when it stays this far (mm) within it on every side.
const INSIDE: f64 = 1.0;

/// How far along the work an operation belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// Leaves the sheet whole.
    Surface,
    /// Only holes.
    Holes,
    /// Parts something from the sheet.
    Parting,
}

/// Brings them into order and says which come after which.
pub(super) fn sort(asking: &mut Asking<'_>, mut sketches: Vec<Sketch>) -> Result<Vec<Sketch>, CannotDraft> {
    if let Some(said) = asking.said("order") {
        return as_said(said, sketches);
    }
    let mut done: Vec<Sketch> = Vec::new();
    while !sketches.is_empty() {
        let is_free = |s: &Sketch| sketches.iter().all(|other| !comes_before(other, s));
        let next = sketches.iter().position(is_free).unwrap_or(0);
        let mut sketch = sketches.remove(next);
        let before: Vec<&Sketch> = done.iter().filter(|d| comes_before(d, &sketch)).collect();
        sketch.after = before.iter().map(|d| d.name.clone()).collect();
        done.push(sketch);
    }
    for sketch in done.iter().filter(|s| !s.after.is_empty()) {
        let list: Vec<String> = sketch.after.iter().map(|a| format!("`{a}`")).collect();
        asking.assume(format!("`{}` comes after {}", sketch.name, list.join(" and ")));
    }
    Ok(done)
}

/// The order a person gave: each after the one before.
fn as_said(said: &str, mut sketches: Vec<Sketch>) -> Result<Vec<Sketch>, CannotDraft> {
    let all: Vec<String> = sketches.iter().map(|s| s.name.clone()).collect();
    let why = || format!("every operation once, with commas between: {}", all.join(","));
    let mut done: Vec<Sketch> = Vec::new();
    for name in said.split(',').map(str::trim) {
        let at = sketches.iter().position(|s| s.name == name).ok_or_else(|| wrong("order", said, &why()))?;
        let mut sketch = sketches.remove(at);
        sketch.after = done.last().map(|d| d.name.clone()).into_iter().collect();
        done.push(sketch);
    }
    if sketches.is_empty() { Ok(done) } else { Err(wrong("order", said, &why())) }
}

fn rank(sketch: &Sketch) -> Rank {
    let runs = u32::try_from(sketch.plan.runs.len()).unwrap_or(u32::MAX);
    match sketch.leaves.map(|l| l.leaves) {
        Some(Leaves::Pocket) => Rank::Surface,
        _ if sketch.plan.holes >= runs => Rank::Holes,
        _ => Rank::Parting,
    }
}

/// Whether `a` has to be cut before `b`.
fn comes_before(a: &Sketch, b: &Sketch) -> bool {
    let (first, second) = (rank(a), rank(b));
    if second != Rank::Parting {
        return false;
    }
    first < Rank::Parting || lies_inside(a, b)
}

fn lies_inside(a: &Sketch, b: &Sketch) -> bool {
    [0, 1].into_iter().all(|axis| match (a.plan.feed.along(axis), b.plan.feed.along(axis)) {
        (Some([low, high]), Some([from, to])) => low >= from + INSIDE && high <= to - INSIDE,
        _ => false,
    })
}
