//! Seconds to the end of each line: four bytes a line.

use super::Timed;
use chargehand_types::quantity::Seconds;

/// Seconds from the program's start to the end of each of its lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineTimes {
    at_end: Vec<f32>,
    total: f64,
}

impl LineTimes {
    /// Adds the next time; lines come in order.
    pub fn add(&mut self, timed: Timed) {
        let line = timed.line as usize;
        #[allow(clippy::cast_possible_truncation, reason = "a week of seconds is exact to 0.04 s in an f32")]
        while self.at_end.len() < line {
            self.at_end.push(self.total as f32);
        }
        self.total += timed.seconds;
        #[allow(clippy::cast_possible_truncation, reason = "as above")]
        if let Some(last) = self.at_end.last_mut() {
            *last = self.total as f32;
        }
    }

    /// All of it.
    #[must_use]
    pub fn total(&self) -> Seconds {
        Seconds::of(self.total)
    }

    /// To the end of a line (1-based); everything for a line beyond the last.
    #[must_use]
    pub fn to_end_of(&self, line: u32) -> Seconds {
        match (line as usize).checked_sub(1) {
            None => Seconds::ZERO,
            Some(i) => Seconds::of(self.at_end.get(i).map_or(self.total, |s| f64::from(*s))),
        }
    }
}
