//! The report of its state, as the wire has it.

use super::controller::{Controller, Mode, RECEIVE_BUFFER};
use super::hands::Door;
use super::motion::Hold;
use super::speed::Vector;
use std::fmt::Write;

/// The work zero stands in every report so many after the last, and whenever it changed.
const OFFSET_EVERY: u32 = 10;

impl Controller {
    pub(in crate::practice) fn report(&mut self) {
        if matches!(self.mode, Mode::Homing(_)) && !self.habits.reports_while_homing {
            return;
        }
        let line = self.report_text();
        if std::mem::take(&mut self.garble_report) {
            self.say_garbled(&line);
        } else {
            self.say(&line);
        }
    }

    fn report_text(&mut self) -> String {
        let (at, speed) = self.planner.at(self.now);
        let room = RECEIVE_BUFFER.saturating_sub(self.received.len());
        let mut text = format!("<{}|MPos:{}|Bf:{},{room}", self.word(), three(at), self.planner.room());
        let spindle = self.switched.speed * f64::from(self.overrides[2]) / 100.0;
        // writing to a text cannot fail
        let _ = write!(text, "|FS:{:.0},{spindle:.0}", speed * 60.0);
        let pins = self.pins();
        if !pins.is_empty() {
            let _ = write!(text, "|Pn:{pins}");
        }
        let offset = self.reading.offset();
        if self.told_offset != Some(offset) || self.reports >= OFFSET_EVERY {
            let _ = write!(text, "|WCO:{}", three(offset));
            self.told_offset = Some(offset);
            self.reports = 0;
        } else if self.told_overrides != self.overrides {
            let [feed, rapid, speed] = self.overrides;
            let _ = write!(text, "|Ov:{feed},{rapid},{speed}");
            self.told_overrides = self.overrides;
        }
        self.reports += 1;
        text.push('>');
        text
    }

    fn word(&self) -> &'static str {
        let hold = self.planner.hold();
        match (&self.mode, self.door) {
            (Mode::Alarm | Mode::Booting(_), _) => "Alarm",
            (Mode::Homing(_), _) => "Home",
            (Mode::Checking, _) => "Check",
            (Mode::Failing(_), _) => "Hold:1",
            (Mode::Ready, Door::Open | Door::Waits) if hold == Hold::Braking => "Door:2",
            (Mode::Ready, Door::Open) => "Door:1",
            (Mode::Ready, Door::Waits) => "Door:0",
            (Mode::Ready, Door::Closed) => match hold {
                Hold::Held => "Hold:0",
                Hold::Braking => "Hold:1",
                Hold::No if self.nudging => "Jog",
                Hold::No if self.planner.is_empty() && self.steps.is_empty() => "Idle",
                Hold::No => "Run",
            },
        }
    }

    fn pins(&self) -> String {
        let mut pins = String::new();
        if self.probe_closed() {
            pins.push('P');
        }
        if self.door == Door::Open {
            pins.push('D');
        }
        pins
    }
}

/// Three coordinates, to the micrometre.
pub(in crate::practice) fn three(v: Vector) -> String {
    // adding nothing to a rounded number turns -0 into 0
    let [x, y, z] = v.map(|c| (c * 1000.0).round() / 1000.0 + 0.0);
    format!("{x:.3},{y:.3},{z:.3}")
}
