//! What stays in force from line to line: modal groups, work systems, shifts, and where the planned motion ends.

use super::path::{minus, part, plus, put};
use super::speed::Vector;

/// Axis letters in order.
pub(in crate::practice) const AXES: [u8; 3] = [b'X', b'Y', b'Z'];

/// The motion in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Motion {
    Rapid,
    Feed,
    Clockwise,
    CounterClockwise,
    Probe,
    /// G80.
    Off,
}

/// Modal groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Modes {
    pub motion: Motion,
    /// First and second axis of the plane, and the third.
    pub plane: [usize; 3],
    pub inch: bool,
    pub incremental: bool,
    pub inverse: bool,
    /// mm/s; none: never set.
    pub feed: Option<f64>,
    /// rpm.
    pub speed: f64,
    pub turning: Turning,
    pub mist: bool,
    pub flood: bool,
    pub tool: u16,
    /// From 0: G54.
    pub system: usize,
}

/// The spindle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Turning {
    Off,
    Clockwise,
    CounterClockwise,
}

impl Modes {
    /// As after a start.
    pub const fn fresh() -> Self {
        Self {
            motion: Motion::Rapid,
            plane: [0, 1, 2],
            inch: false,
            incremental: false,
            inverse: false,
            feed: None,
            speed: 0.0,
            turning: Turning::Off,
            mist: false,
            flood: false,
            tool: 0,
            system: 0,
        }
    }

    /// mm in one unit.
    pub const fn unit(&self) -> f64 {
        if self.inch { 25.4 } else { 1.0 }
    }

    /// As after M2 and M30 (NISTIR 6556 3.6.1).
    pub const fn ended(&mut self) {
        self.motion = Motion::Feed;
        self.plane = [0, 1, 2];
        self.incremental = false;
        self.inverse = false;
        self.turning = Turning::Off;
        self.mist = false;
        self.flood = false;
        self.system = 0;
    }
}

/// Everything the reading of a line depends on and may change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Reading {
    pub modes: Modes,
    /// Origins of G54 to G59 in machine coordinates; kept through restarts.
    pub systems: [Vector; 6],
    /// G92.
    pub shift: Vector,
    /// Where G28 and G30 go; kept through restarts.
    pub places: [Vector; 2],
    /// Where the planned motion ends, machine coordinates.
    pub end: Vector,
}

impl Reading {
    pub const fn new(at: Vector) -> Self {
        Self { modes: Modes::fresh(), systems: [[0.0; 3]; 6], shift: [0.0; 3], places: [at; 2], end: at }
    }

    /// Work zero in machine coordinates.
    pub fn offset(&self) -> Vector {
        plus(self.systems.get(self.modes.system).copied().unwrap_or_default(), self.shift)
    }

    /// A programmed coordinate as machine coordinate.
    pub fn machine(&self, axis: usize, value: f64, from: Vector, frame: Frame) -> f64 {
        let value = value * self.modes.unit();
        match frame {
            Frame::Machine => value,
            Frame::Work if self.modes.incremental => part(from, axis) + value,
            Frame::Work => part(self.offset(), axis) + value,
        }
    }

    /// Sets an origin: `L2` to the value, `L20` so that the end of motion reads the value.
    pub fn set_origin(&mut self, system: usize, axis: usize, value: f64, reads: Reads) -> Result<(), u16> {
        let value = value * self.modes.unit();
        let here = part(minus(self.end, self.shift), axis);
        let origin = self.systems.get_mut(system).ok_or(29_u16)?;
        put(
            origin,
            axis,
            match reads {
                Reads::Origin => value,
                Reads::Here => here - value,
            },
        );
        Ok(())
    }

    /// G92: the end of motion reads the value, by a shift of every system.
    pub fn set_shift(&mut self, axis: usize, value: f64) {
        let origin = self.systems.get(self.modes.system).copied().unwrap_or_default();
        let shift = part(minus(self.end, origin), axis) - value * self.modes.unit();
        put(&mut self.shift, axis, shift);
    }
}

/// What a coordinate is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Frame {
    Work,
    /// G53.
    Machine,
}

/// What the value of a G10 says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Reads {
    Origin,
    Here,
}
