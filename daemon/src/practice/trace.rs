//! What was truly run, for tests and measurements.

use super::motion::{Pace, Ran};
use super::path::plus;
use super::speed::Vector;
use chargehand_types::quantity::{Feed, Length, Point, Tick};
use std::collections::VecDeque;

/// A motion that was run, or as much of it as was. Places are where the carriage truly was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// The line received that asked for it, from 1.
    pub line: u64,
    /// Start, machine coordinates.
    pub from: Point,
    /// End, machine coordinates.
    pub to: Point,
    /// None: straight.
    pub round: Option<Round>,
    /// None: as fast as it goes.
    pub feed: Option<Feed>,
    /// When it began.
    pub begun: Tick,
    /// When it ended.
    pub ended: Tick,
}

/// The circle of a motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Round {
    /// X 0, Y 1, Z 2: first and second axis of the plane, and the third.
    pub axes: [usize; 3],
    /// Along the first and second axis.
    pub centre: [Length; 2],
    /// Radius.
    pub radius: Length,
    /// Radians, counter-clockwise positive.
    pub sweep: f64,
}

/// Sums over the whole life of a machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Whole lines received.
    pub lines: u64,
    /// Bytes received, those that act at once included.
    pub bytes: u64,
    /// Bytes lost because the receive buffer was full.
    pub overrun: u64,
    /// Most bytes that ever waited in the receive buffer.
    pub fullest: usize,
    /// Motions taken.
    pub motions: u64,
    /// Times that motion ran out while nothing was left to read: it was starved, or the work was done.
    pub ran_dry: u64,
}

/// The last motions, as many as are wanted.
#[derive(Debug)]
pub(in crate::practice) struct Trace {
    most: usize,
    motions: VecDeque<Motion>,
}

impl Trace {
    pub const fn new(most: usize) -> Self {
        Self { most, motions: VecDeque::new() }
    }

    pub const fn motions(&self) -> &VecDeque<Motion> {
        &self.motions
    }

    pub fn add(&mut self, ran: &Ran, drift: Vector) {
        if self.most == 0 {
            return;
        }
        while self.motions.len() >= self.most {
            self.motions.pop_front();
        }
        let round = ran.path.turn.map(|turn| Round {
            axes: turn.axes,
            centre: turn.centre.map(length),
            radius: length(turn.radius),
            sweep: turn.sweep,
        });
        let feed = match ran.pace {
            Pace::Rapid => None,
            Pace::Feed(speed) => Feed::from_unit(speed * 60.0).ok(),
        };
        self.motions.push_back(Motion {
            line: ran.line,
            from: point(plus(ran.path.from, drift)),
            to: point(plus(ran.path.to, drift)),
            round,
            feed,
            begun: tick(ran.begun),
            ended: tick(ran.ended),
        });
    }
}

/// A coordinate of a machine; those are far from the end of the type.
fn length(mm: f64) -> Length {
    Length::from_mm(mm).unwrap_or_default()
}

pub(in crate::practice) fn point(at: Vector) -> Point {
    Point::new(length(at[0]), length(at[1]), length(at[2]))
}

/// Seconds of a tick.
pub(in crate::practice) fn seconds(tick: Tick) -> f64 {
    tick.0 as f64 / 1.0e6
}

/// The first tick not before a time.
pub(in crate::practice) fn tick(seconds: f64) -> Tick {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a cast from f64 saturates")]
    Tick((seconds * 1.0e6).ceil().max(0.0) as u64)
}
