//! Canned cycles G81 to G86 and G89: what one block unfolds to (NISTIR 6556 3.5.16).
//!
//! May live here: the plan of a cycle as a list of doings. May not: words, modal state, emitting steps.
//! G87 and G88 are refused by the interpreter: one needs a spindle that stops at an angle, the other a person's hand.

use super::fault::Rule;
use super::frame::Axis;
use super::motion::{MotionMode, Plane};
use chargehand_types::quantity::{Length, Point};

/// G83 comes back down to this far above the last depth. The standard says "just above".
pub const BACK_OFF: Length = Length(250_000);
/// Doings one block may unfold to.
pub const MOST: u32 = 20_000;

/// Numbers that stay in force while the same cycle does, as programmed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sticky {
    /// The bottom.
    pub z: Option<Length>,
    /// The retract plane.
    pub r: Option<Length>,
    /// A peck.
    pub q: Option<Length>,
    /// A dwell in seconds.
    pub p: Option<f64>,
}

/// A cycle with every number settled, in the work frame.
#[derive(Debug, Clone, Copy)]
pub struct Cycle {
    /// Which.
    pub mode: MotionMode,
    /// The plane; holes go along its third axis.
    pub plane: Plane,
    /// Where the bit is.
    pub from: Point,
    /// The first hole along the plane's first two axes, at any depth.
    pub hole: Point,
    /// From one repeat to the next (G91); nothing in G90.
    pub step: Point,
    /// Height of the retract plane.
    pub r: Length,
    /// The bottom.
    pub z: Length,
    /// A peck, above zero where the cycle pecks.
    pub peck: Length,
    /// Seconds at the bottom.
    pub dwell: f64,
    /// How many times.
    pub repeats: u32,
    /// G99: back to R only.
    pub to_r: bool,
}

/// One thing a cycle does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part {
    /// A rapid to here.
    Rapid(Point),
    /// A feed to here.
    Feed(Point),
    /// A dwell.
    Dwell(f64),
    /// The spindle stops.
    Stop,
    /// The spindle turns again as before.
    Restart,
    /// The spindle turns the other way.
    Reverse,
}

impl Cycle {
    /// Everything the cycle does, in order.
    ///
    /// # Errors
    /// When R lies below the bottom, or the parts would be too many.
    pub fn parts(&self) -> Result<Vec<Part>, Rule> {
        if self.r < self.z {
            return Err(Rule::CycleUpsideDown { r: self.r, z: self.z });
        }
        if u64::from(self.repeats) * self.parts_of_a_hole() > u64::from(MOST) {
            return Err(Rule::CycleTooLong(MOST));
        }
        let depth = self.axis();
        let clear = if self.to_r { self.r } else { self.r.max(depth.of(&self.from)) };
        let mut run = Run { parts: Vec::new(), at: self.from, depth, clear };
        if depth.of(&self.from) < self.r {
            run.rapid(self.r);
        }
        let mut hole = self.hole;
        for _ in 0..self.repeats {
            run.over(hole);
            run.rapid(self.r);
            self.body(&mut run);
            hole = hole + self.step;
        }
        Ok(run.parts)
    }

    fn axis(&self) -> Axis {
        self.plane.axes()[2]
    }

    fn parts_of_a_hole(&self) -> u64 {
        let deep = (self.r - self.z).0.unsigned_abs();
        let pecks = if self.mode == MotionMode::G83 { deep / self.peck.0.unsigned_abs().max(1) } else { 0 };
        pecks.saturating_mul(3).saturating_add(8)
    }

    fn body(&self, run: &mut Run) {
        match self.mode {
            MotionMode::G82 => {
                run.feed(self.z);
                run.parts.push(Part::Dwell(self.dwell));
                run.rapid(run.clear);
            }
            MotionMode::G83 => self.pecks(run),
            MotionMode::G84 => {
                run.feed(self.z);
                run.parts.push(Part::Reverse);
                run.feed(run.clear);
                run.parts.push(Part::Restart);
            }
            MotionMode::G85 => {
                run.feed(self.z);
                run.feed(run.clear);
            }
            MotionMode::G86 => {
                run.feed(self.z);
                run.parts.extend([Part::Dwell(self.dwell), Part::Stop]);
                run.rapid(run.clear);
                run.parts.push(Part::Restart);
            }
            MotionMode::G89 => {
                run.feed(self.z);
                run.parts.push(Part::Dwell(self.dwell));
                run.feed(run.clear);
            }
            _ => {
                run.feed(self.z);
                run.rapid(run.clear);
            }
        }
    }

    /// Feed down by Q, up to the clear level, back to just above the last depth, and so on.
    fn pecks(&self, run: &mut Run) {
        let mut depth = self.r;
        loop {
            depth = (depth - self.peck).max(self.z);
            run.feed(depth);
            run.rapid(run.clear);
            if depth <= self.z {
                return;
            }
            run.rapid((depth + BACK_OFF).min(run.clear));
        }
    }
}

struct Run {
    parts: Vec<Part>,
    at: Point,
    depth: Axis,
    clear: Length,
}

impl Run {
    fn rapid(&mut self, height: Length) {
        if self.depth.of(&self.at) != height {
            *self.depth.of_mut(&mut self.at) = height;
            self.parts.push(Part::Rapid(self.at));
        }
    }

    fn feed(&mut self, height: Length) {
        if self.depth.of(&self.at) != height {
            *self.depth.of_mut(&mut self.at) = height;
            self.parts.push(Part::Feed(self.at));
        }
    }

    fn over(&mut self, hole: Point) {
        let height = self.depth.of(&self.at);
        let mut to = hole;
        *self.depth.of_mut(&mut to) = height;
        if to != self.at {
            self.at = to;
            self.parts.push(Part::Rapid(to));
        }
    }
}
