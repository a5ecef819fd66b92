//! What a program does in words of the trade: bits called, feeds, pass depths, entries, lifts that leave tabs, the order
//! of its runs.
//!
//! May live here: that one pass over a program. May not: what a sheet, a card or another revision makes of it.

mod lift;
mod remark;

pub(super) use lift::Lift;

use super::bench::Bench;
use super::reach::Reach;
use crate::program::fault::Fault;
use crate::program::motion::{Doing, Modal, Move, MoveKind, Pace, Plane, Start};
use crate::program::steps;
use crate::program::way::Way;
use chargehand_types::card::Card;
use chargehand_types::quantity::{Feed, Length, Rpm};
use lift::Lifting;
use std::collections::BTreeMap;

/// Distinct depths, feeds, runs and lifts kept: a flat-pack program has a few dozen, a relief as many as it has lines.
const MOST_KEPT: usize = 4096;
/// Lower or higher by less than this (mm) is the same height.
pub(super) const SAME: f64 = 0.01;

/// A program in words of the trade. Heights are work Z, lengths millimetres.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct CutPlan {
    /// What its comments say, in order; the first ones only.
    pub(super) remarks: Vec<String>,
    /// T words in force at a bit change or a cut, with their line; the same one twice running counts once.
    pub(super) tools: Vec<(u32, u32)>,
    /// Spindle speeds asked for, in order, each once.
    pub(super) speeds: Vec<Rpm>,
    /// Sideways feed motion by its feed.
    pub(super) feeds: BTreeMap<Feed, f64>,
    /// Straight-down feed motion by its feed.
    pub(super) plunge_feeds: BTreeMap<Feed, f64>,
    /// Level feed motion by its height.
    pub(super) levels: BTreeMap<Length, f64>,
    /// How it gets down into the wood.
    pub(super) entries: Entries,
    /// Places where the bit rises along its path and comes down again to the same depth.
    pub(super) lifts: Vec<Lift>,
    /// Straight down and straight up again, with nothing cut sideways.
    pub(super) holes: u32,
    /// Where each run begins, X and Y: a run lasts from one rapid to the next.
    pub(super) runs: Vec<[Length; 2]>,
    /// All feed motion.
    pub(super) feed: Reach,
    /// The lowest rapid that goes sideways.
    pub(super) lowest_travel: Option<f64>,
    /// Its lengths are written in inches.
    pub(super) inch: bool,
}

/// How a program gets down into the wood, one count for each descent.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Entries {
    /// Straight down.
    pub(super) plunges: u32,
    /// Along a sloping line or curve.
    pub(super) ramps: u32,
    /// Round and round.
    pub(super) helices: u32,
    /// The steepest ramp or helix, degrees.
    pub(super) steepest: f64,
}

/// The kind of one descent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Descent {
    Plunge,
    Ramp,
    Helix,
}

/// By bit the fastest feed that a card's programs cut sideways with, below the sheet's face; programs that cannot be
/// read, or are not there, count for nothing.
#[must_use]
pub fn fastest_feeds(card: &Card, programs: &BTreeMap<String, Vec<u8>>, bench: &Bench) -> BTreeMap<String, Feed> {
    let face = card.sheet.face_z(card.sheet.thickness).mm();
    let mut fastest: BTreeMap<String, Feed> = BTreeMap::new();
    for operation in &card.operations {
        let plan = programs.get(&operation.program).map(|bytes| CutPlan::read(bytes, bench.start(), Some(face)));
        let Some(feed) = plan.and_then(Result::ok).and_then(|plan| plan.feeds.keys().next_back().copied()) else {
            continue;
        };
        let known = fastest.entry(operation.bit.clone()).or_insert(feed);
        *known = feed.max(*known);
    }
    fastest
}

/// One pass.
#[derive(Default)]
struct Pass {
    plan: CutPlan,
    /// What is above it is no wood; without one, everything counts.
    face: Option<f64>,
    descending: Option<Descent>,
    lifting: Lifting,
    /// The run so far went down, and not sideways.
    only_down: bool,
    in_run: bool,
}

impl CutPlan {
    /// Reads a program; where the sheet's face (work Z) is known, motion above it is no cut.
    ///
    /// # Errors
    /// Everything in it that cannot be read.
    pub(super) fn read(bytes: &[u8], start: Start, face: Option<f64>) -> Result<Self, Vec<Fault>> {
        let mut pass = Pass { face, ..Pass::default() };
        let mut reader = steps(bytes, start);
        for step in reader.by_ref() {
            match &step.doing {
                Doing::Move(mv) => pass.moved(step.place.line, &step.modal, mv),
                Doing::BitChange { tool } => pass.tool(step.place.line, *tool),
                Doing::Spindle => pass.speed(&step.modal),
                Doing::Dwell { .. } | Doing::Coolant | Doing::Prompt { .. } | Doing::Message(_) | Doing::End => {}
            }
        }
        pass.rapid();
        if !reader.faults().is_empty() {
            return Err(reader.faults().to_vec());
        }
        pass.plan.inch = reader.facts().first_inch.is_some();
        pass.plan.remarks = remark::remarks(bytes);
        Ok(pass.plan)
    }

    /// The lowest feed motion.
    pub(super) fn lowest(&self) -> Option<f64> {
        self.feed.along(2).map(|[low, _]| low)
    }

    /// Heights at which it cuts level, highest first, those below the face only.
    pub(super) fn passes(&self, face: f64) -> Vec<Length> {
        self.levels.keys().rev().copied().filter(|z| z.mm() < face - SAME).collect()
    }

    /// Lifts that leave wood: below the face, from the depth of the lowest cut.
    pub(super) fn tabs(&self, face: f64) -> impl Iterator<Item = &Lift> {
        let floor = self.lowest().unwrap_or(face) + lift::SAME_FLOOR;
        self.lifts.iter().filter(move |l| l.top < face - SAME && l.floor <= floor)
    }
}

impl Pass {
    fn tool(&mut self, line: u32, tool: Option<u32>) {
        let Some(tool) = tool else { return };
        let tools = &mut self.plan.tools;
        if tools.last().is_none_or(|(_, last)| *last != tool) && tools.len() < MOST_KEPT {
            tools.push((line, tool));
        }
    }

    fn speed(&mut self, modal: &Modal) {
        let Some(speed) = modal.speed.filter(|s| *s > Rpm::ZERO) else { return };
        if !self.plan.speeds.contains(&speed) && self.plan.speeds.len() < MOST_KEPT {
            self.plan.speeds.push(speed);
        }
    }

    fn moved(&mut self, line: u32, modal: &Modal, mv: &Move) {
        let way = Way::of(mv);
        match mv.kind {
            MoveKind::Rapid => {
                self.rapid();
                if way.flat_length() > SAME {
                    let low = way.lowest();
                    let known = self.plan.lowest_travel.map_or(low, |l| l.min(low));
                    self.plan.lowest_travel = Some(known);
                }
            }
            MoveKind::Probe => self.rapid(),
            MoveKind::Feed | MoveKind::Arc(_) => {
                self.speed(modal);
                self.tool(line, modal.tool);
                self.plan.feed.take_all(&way.bounds());
                self.fed(mv, &way);
            }
        }
    }

    fn is_wood(&self, z: f64) -> bool {
        self.face.is_none_or(|face| z < face - SAME)
    }

    fn fed(&mut self, mv: &Move, way: &Way) {
        let (flat, rise, end) = (way.flat_length(), way.rise(), way.end()[2]);
        if !self.in_run {
            self.in_run = true;
            self.only_down = true;
            if self.plan.runs.len() < MOST_KEPT {
                self.plan.runs.push([mv.from.x, mv.from.y]);
            }
        }
        self.only_down &= flat <= SAME;
        if self.is_wood(way.lowest()) {
            self.book(mv, flat, rise);
            self.descend(mv, flat, rise);
        }
        let (plan, lifting) = (&mut self.plan, &mut self.lifting);
        if let Some(lift) = lifting.fed(way, flat, end)
            && plan.lifts.len() < MOST_KEPT
        {
            plan.lifts.push(lift);
        }
    }

    /// Feeds and levels.
    fn book(&mut self, mv: &Move, flat: f64, rise: f64) {
        let add = |map: &mut BTreeMap<Feed, f64>, feed: Feed, length: f64| {
            if map.len() < MOST_KEPT || map.contains_key(&feed) {
                *map.entry(feed).or_insert(0.0) += length;
            }
        };
        if let Pace::Feed(feed) = mv.pace {
            if flat > SAME {
                add(&mut self.plan.feeds, feed, flat);
            } else if rise < -SAME {
                add(&mut self.plan.plunge_feeds, feed, -rise);
            }
        }
        let upright = matches!(mv.kind, MoveKind::Arc(arc) if arc.plane != Plane::Xy);
        if mv.from.z == mv.to.z && flat > SAME && !upright {
            let levels = &mut self.plan.levels;
            if levels.len() < MOST_KEPT || levels.contains_key(&mv.to.z) {
                *levels.entry(mv.to.z).or_insert(0.0) += flat;
            }
        }
    }

    /// Descents: one that goes on in the same manner is one.
    fn descend(&mut self, mv: &Move, flat: f64, rise: f64) {
        if rise >= -SAME {
            self.descending = None;
            return;
        }
        let kind = match mv.kind {
            _ if flat <= SAME => Descent::Plunge,
            MoveKind::Arc(_) => Descent::Helix,
            _ => Descent::Ramp,
        };
        let entries = &mut self.plan.entries;
        if self.descending != Some(kind) {
            match kind {
                Descent::Plunge => entries.plunges += 1,
                Descent::Ramp => entries.ramps += 1,
                Descent::Helix => entries.helices += 1,
            }
        }
        if kind != Descent::Plunge {
            entries.steepest = entries.steepest.max((-rise).atan2(flat).to_degrees());
        }
        self.descending = Some(kind);
    }

    /// A rapid ends the run.
    fn rapid(&mut self) {
        if self.in_run && self.only_down && self.descending == Some(Descent::Plunge) {
            self.plan.holes += 1;
        }
        self.in_run = false;
        self.descending = None;
        self.lifting = Lifting::default();
    }
}

#[cfg(test)]
mod tests;
