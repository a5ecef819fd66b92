//! Looking for the switches: up first, then left and towards you; fast, back off, slow, back off.

use super::controller::{Controller, Mode, Step};
use super::motion::Pace;
use super::path::Path;
use super::speed::Vector;
use std::collections::VecDeque;

/// Speeds of the search, mm/s.
const FAST: f64 = 40.0;
/// And of the second, exact approach.
const SLOW: f64 = 2.0;
/// How far it backs off between the two, mm.
const BACK: f64 = 2.0;
/// The fault of a search that met no switch.
pub(in crate::practice) const NO_SWITCH: u16 = 9;

/// One way of a homing run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Leg {
    to: Vector,
    speed: f64,
}

impl Controller {
    /// Begins. From here on the carriage is where it truly is: it feels its way.
    pub(in crate::practice) fn home(&mut self) {
        let [x, y, _] = self.place();
        let home = self.setup.home();
        let pull = self.habits.pull_off.mm();
        let (up, back) = ([x, y, home[2]], [home[0] + BACK, home[1] + BACK, home[2] - BACK]);
        let rest = [home[0] + pull, home[1] + pull, home[2] - pull];
        let legs = [(up, FAST), (home, FAST), (back, FAST), (home, SLOW), (rest, SLOW)];
        self.planner.set_place(self.place());
        if self.stalled_at.is_none() {
            self.drift = [0.0; 3];
        }
        self.mode = Mode::Homing(legs.into_iter().map(|(to, speed)| Leg { to, speed }).collect::<VecDeque<_>>());
    }

    /// Takes the next way of a homing run once the last is gone; gives whether it is still under way.
    pub(in crate::practice) fn homes_on(&mut self) -> bool {
        if !self.planner.is_empty() {
            return true;
        }
        let Mode::Homing(legs) = &mut self.mode else { return false };
        while let Some(leg) = legs.pop_front() {
            let path = Path::straight(self.planner.at(self.now).0, leg.to);
            self.planner.add(self.now, path, Pace::Feed(leg.speed), self.tally.lines);
            if !self.planner.is_empty() {
                return true;
            }
        }
        if self.no_switch || self.stalled_at.is_some() {
            self.no_switch = false;
            self.fail(NO_SWITCH);
        } else {
            self.mode = Mode::Ready;
            self.reading.end = self.at();
        }
        false
    }

    /// Motion until contact: as far as the plate, or all of the way.
    pub(in crate::practice) fn probe(&mut self, path: Path, pace: Pace) -> Result<Step, u16> {
        if self.probe_closed() {
            return Err(4);
        }
        let (from, to) = (self.place()[2], self.place()[2] + path.to[2] - path.from[2]);
        let met = self.habits.plate.map(|plate| plate.mm()).filter(|plate| from > *plate && *plate >= to);
        let share = met.map_or(1.0, |plate| (from - plate) / (from - to));
        let length = path.length();
        let contact = path.point(length * share, length);
        // it notices at the plate and brakes behind it
        let brakes = match pace {
            Pace::Feed(speed) if met.is_some() => speed * speed / (2.0 * self.setup.accelerations[2]),
            Pace::Feed(_) | Pace::Rapid => 0.0,
        };
        let end = path.point(length * share + brakes, length);
        self.planner.add(self.now, Path::straight(path.from, end), pace, self.tally.lines);
        Ok(Step::Touched(met.map(|_| contact)))
    }
}
