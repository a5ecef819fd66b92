//! Time in motion and time held, kept apart: a sheet's record needs both.

use chargehand_types::quantity::{Seconds, Tick};

/// What the operation is doing while it is timed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// In motion or dwell.
    Cutting,
    /// Held, or waiting for a person.
    Held,
}

/// Times one operation in machine time.
#[derive(Debug, Clone, Copy)]
pub struct Stopwatch {
    doing: Doing,
    since: Tick,
    cutting_us: u64,
    held_us: u64,
}

impl Stopwatch {
    /// Starts, cutting.
    #[must_use]
    pub const fn start(now: Tick) -> Self {
        Self { doing: Doing::Cutting, since: now, cutting_us: 0, held_us: 0 }
    }

    /// From here on it does this.
    pub const fn turn(&mut self, doing: Doing, now: Tick) {
        let passed = now.us_since(self.since);
        match self.doing {
            Doing::Cutting => self.cutting_us += passed,
            Doing::Held => self.held_us += passed,
        }
        self.doing = doing;
        self.since = now;
    }

    /// Time cutting and time held, up to now.
    #[must_use]
    pub fn read(&self, now: Tick) -> (Seconds, Seconds) {
        let mut copy = *self;
        copy.turn(self.doing, now);
        (Seconds::of(copy.cutting_us as f64 / 1.0e6), Seconds::of(copy.held_us as f64 / 1.0e6))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cutting_and_held_are_kept_apart() {
        let mut w = Stopwatch::start(Tick(0));
        w.turn(Doing::Held, Tick(3_000_000));
        w.turn(Doing::Cutting, Tick(5_000_000));
        let (cut, held) = w.read(Tick(9_000_000));
        assert_eq!((cut.value(), held.value()), (7.0, 2.0));
    }
}
