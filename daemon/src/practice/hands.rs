//! What acts at once: the bytes that pass everything, and what a person does at the machine itself.

use super::controller::{Controller, Mode, RECEIVE_BUFFER};
use super::motion::{Hold, Overrides};
use super::path::minus;
use super::setup::{IdleHold, Wire};
use super::trace::seconds;
use chargehand_types::quantity::{Length, Tick};

/// Overrides of feed and spindle stay within these per cent.
const OVERRIDE: std::ops::RangeInclusive<u16> = 10..=200;

/// What a person does at the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// Presses the hold button.
    HoldButton,
    /// Presses the button that goes on.
    ResumeButton,
    /// Opens the door.
    OpenDoor,
    /// Closes it.
    CloseDoor,
    /// Takes the power from the drives (the red button); the controller counts on.
    DrivesOff,
    /// Gives it back.
    DrivesOn,
    /// Lays the touch plate so that its face is at this machine Z.
    LayPlate(Length),
    /// Takes it away.
    TakePlate,
    /// Closes the plate's wire by hand: plate to bit.
    TouchWire,
    /// Opens it.
    LeaveWire,
    /// Makes the bit slip by so much along its axis: below zero, out of the collet; or the carriage lose steps there.
    Slip(Length),
}

/// The door.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Door {
    Closed,
    Open,
    /// Closed again; waits for the button that goes on.
    Waits,
}

impl Controller {
    /// Somebody does something at the machine.
    pub fn hand(&mut self, now: Tick, hand: Hand) {
        self.advance(now);
        self.now = self.now.max(seconds(now));
        self.do_hand(hand);
        self.work();
    }

    pub(in crate::practice) fn do_hand(&mut self, hand: Hand) {
        match hand {
            Hand::HoldButton => self.hold(),
            Hand::ResumeButton => self.resume(),
            Hand::OpenDoor => {
                self.door = Door::Open;
                if matches!(self.mode, Mode::Ready) {
                    self.planner.brake(self.now);
                }
            }
            Hand::CloseDoor if self.door == Door::Open => self.door = Door::Waits,
            Hand::CloseDoor => {}
            Hand::DrivesOff => self.stalled_at = Some(self.place()),
            Hand::DrivesOn => {
                if let Some(at) = self.stalled_at.take() {
                    self.drift = minus(at, self.at());
                }
            }
            Hand::LayPlate(z) => self.habits.plate = Some(z),
            Hand::TakePlate => self.habits.plate = None,
            Hand::TouchWire => self.wire_closed = true,
            Hand::LeaveWire => self.wire_closed = false,
            Hand::Slip(by) => self.drift[2] += by.mm(),
        }
    }

    /// Whether the plate's wire is closed.
    pub(in crate::practice) fn probe_closed(&self) -> bool {
        self.wire_closed || self.habits.plate.is_some_and(|z| self.place()[2] <= z.mm() + 1.0e-6)
    }

    /// A byte has arrived.
    pub(in crate::practice) fn byte(&mut self, byte: u8) {
        if matches!(self.mode, Mode::Booting(_)) {
            return;
        }
        self.tally.bytes += 1;
        if self.habits.wire == Wire::Numbered {
            return self.receive(byte);
        }
        match byte {
            b'?' => self.report(),
            b'!' => self.hold(),
            b'~' => self.resume(),
            0x18 => self.reset(),
            0x84 => self.do_hand(Hand::OpenDoor),
            0x85 => self.end_nudge(),
            0x90..=0x9D => self.override_by(byte),
            0x80.. => {}
            _ => self.receive(byte),
        }
    }

    fn receive(&mut self, byte: u8) {
        if self.received.len() >= RECEIVE_BUFFER {
            self.tally.overrun += 1;
        } else {
            self.received.push_back(byte);
            self.tally.fullest = self.tally.fullest.max(self.received.len());
        }
    }

    fn hold(&mut self) {
        if !matches!(self.mode, Mode::Ready) {
            return;
        }
        let idle = self.planner.is_empty() && self.steps.is_empty() && self.received.is_empty() && self.line.is_empty();
        if self.nudging {
            self.end_nudge();
        } else if !idle || self.habits.idle_hold == IdleHold::Taken {
            self.planner.brake(self.now);
        }
    }

    fn resume(&mut self) {
        if self.door == Door::Open {
            return;
        }
        self.door = Door::Closed;
        if self.planner.hold() == Hold::Held {
            self.planner.resume(self.now);
        }
    }

    /// What was given up does not run on once the door is closed; an open one still holds.
    pub(in crate::practice) fn mind_door(&mut self) {
        match self.door {
            Door::Open => self.planner.brake(self.now),
            Door::Waits => self.door = Door::Closed,
            Door::Closed => {}
        }
    }

    /// A hand move brakes and is given up.
    fn end_nudge(&mut self) {
        if self.nudging {
            self.planner.brake(self.now);
        }
    }

    fn override_by(&mut self, byte: u8) {
        let [feed, rapid, speed] = &mut self.overrides;
        match byte {
            0x90 => *feed = 100,
            0x91 => *feed = (*feed + 10).min(*OVERRIDE.end()),
            0x92 => *feed = feed.saturating_sub(10).max(*OVERRIDE.start()),
            0x93 => *feed = (*feed + 1).min(*OVERRIDE.end()),
            0x94 => *feed = feed.saturating_sub(1).max(*OVERRIDE.start()),
            0x95 => *rapid = 100,
            0x96 => *rapid = 50,
            0x97 => *rapid = 25,
            0x99 => *speed = 100,
            0x9A => *speed = (*speed + 10).min(*OVERRIDE.end()),
            0x9B => *speed = speed.saturating_sub(10).max(*OVERRIDE.start()),
            0x9C => *speed = (*speed + 1).min(*OVERRIDE.end()),
            0x9D => *speed = speed.saturating_sub(1).max(*OVERRIDE.start()),
            _ => {}
        }
        self.apply_overrides();
    }

    /// Feeds are set to so much per cent.
    pub(in crate::practice) fn feed_at(&mut self, per_cent: u16) {
        self.overrides[0] = per_cent.clamp(*OVERRIDE.start(), *OVERRIDE.end());
        self.apply_overrides();
    }

    pub(in crate::practice) fn apply_overrides(&mut self) {
        let [feed, rapid, _] = self.overrides.map(|percent| f64::from(percent) / 100.0);
        self.planner.override_to(self.now, Overrides { feed, rapid });
    }
}
