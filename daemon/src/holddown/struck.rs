//! Which given places the bit comes too near to, and where in which program.
//!
//! May live here: that question. May not: severity, sentences.

use super::footing::Footing;
use crate::program::motion::Place;
use crate::sheetmap::{Clearance, Job, Nearest};
use chargehand_types::card::Fastener;
use chargehand_types::quantity::{Length, Spot};
use std::collections::BTreeMap;

/// A fastener at its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand<'a> {
    /// Work coordinates.
    pub at: Spot,
    /// What stands there.
    pub fastener: &'a Fastener,
}

/// A place too near to the cut of one operation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Struck {
    /// Which of the places, from 0.
    pub stand: usize,
    /// The operation, 0-based in the order of cutting.
    pub operation: u16,
    /// The nearest move.
    pub place: Place,
    /// First and last line of the moves that come too near.
    pub lines: [u32; 2],
    /// How many blocks.
    pub count: u32,
    /// Between the swept edge and the fastener's edge at the nearest, mm; below 0 they overlap.
    pub air: f64,
}

/// What one job sweeps below each height that was asked for.
#[derive(Debug, Default)]
pub struct Levels(BTreeMap<u64, Clearance>);

impl Levels {
    /// Below a fastener's top, mm over the sheet's face.
    pub fn below(&mut self, job: &Job, top: f64) -> &Clearance {
        // heights are not below 0, so their bits are in their order
        self.0.entry(top.to_bits()).or_insert_with(|| Clearance::for_few(job, top))
    }
}

/// Airs no farther apart than this (mm) are alike, and the earlier move is told.
const ALIKE: f64 = 1.0e-6;
/// Air this little short of the margin (mm) is the rounding of a rectangle's search, or of the card's decimals.
const ROUNDING: f64 = 1.0e-6;

/// The places that do not have the wanted air, each with every operation that comes near. A proud fastener is asked for
/// everything below its top, rapids included.
#[must_use]
pub fn struck(job: &Job, stands: &[Stand<'_>], margin: Length) -> Vec<Struck> {
    struck_by(job, stands, margin, &mut Levels::default())
}

/// The same with what is swept below each fastener's top kept from question to question.
#[must_use]
pub fn struck_by(job: &Job, stands: &[Stand<'_>], margin: Length, levels: &mut Levels) -> Vec<Struck> {
    let mut found = Vec::new();
    for (number, stand) in stands.iter().enumerate() {
        let footing = Footing::of(stand.fastener);
        if !footing.matters() {
            continue;
        }
        let clear = levels.below(job, footing.top());
        found.extend(around(job, number, stand.at, &footing, margin, clear));
    }
    found
}

/// One place: each operation that comes too near, in the order of cutting.
fn around(job: &Job, stand: usize, at: Spot, footing: &Footing, margin: Length, clear: &Clearance) -> Vec<Struck> {
    let (at, margin) = ([at.x.mm(), at.y.mm()], margin.mm() - ROUNDING);
    let mut near: Vec<Nearest> = Vec::new();
    match footing.rectangle(at) {
        Some([low, high]) => clear.near_rectangle(low, high, margin, |n| near.push(n)),
        None => {
            let half = footing.half()[0];
            clear.near(at, half + margin, |n| near.push(Nearest { air: n.air - half, stroke: n.stroke }));
        }
    }
    near.sort_by_key(|n| n.stroke);
    let mut by_operation: BTreeMap<u16, Struck> = BTreeMap::new();
    for Nearest { air, stroke } in near {
        let Some(stroke) = job.strokes.get(stroke) else { continue };
        let (place, line) = (stroke.place, stroke.place.line);
        let first = Struck { stand, operation: stroke.operation, place, lines: [line; 2], count: 0, air };
        let entry = by_operation.entry(stroke.operation).or_insert(first);
        if entry.count == 0 || entry.lines[1] != line {
            entry.count = entry.count.saturating_add(1);
        }
        entry.lines[1] = line;
        if air < entry.air - ALIKE {
            (entry.air, entry.place) = (air, place);
        }
    }
    by_operation.into_values().collect()
}
