//! Seconds to the end of every source line, in four bytes a line.
//!
//! May live here: the running sum and the two questions asked of it. May not: how a move's time is found.

use super::clockwork::Timed;
use chargehand_types::quantity::Seconds;

/// Machine seconds from the program's start to the end of each of its lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineTimes {
    /// By line, the first at 0.
    until: Vec<f32>,
    sum: f64,
}

impl LineTimes {
    /// Counts a move. Moves come in the program's order; one of an earlier line counts for the latest.
    pub fn add(&mut self, timed: Timed) {
        let index = timed.line.max(1) as usize - 1;
        self.reach(index);
        self.sum += timed.seconds.value();
        let sum = self.sum;
        if let Some(last) = self.until.last_mut() {
            #[expect(clippy::cast_possible_truncation, reason = "four bytes a line are kept")]
            let short = sum as f32;
            *last = short;
        }
    }

    /// Fills up to the program's last line: what follows the last move takes no time.
    #[must_use]
    pub fn closed(mut self, lines: u32) -> Self {
        if let Some(last) = (lines as usize).checked_sub(1) {
            self.reach(last);
        }
        self.until.shrink_to_fit();
        self
    }

    /// Seconds from the start to the end of a line; 0 before the first, the whole past the last.
    #[must_use]
    pub fn until(&self, line: u32) -> Seconds {
        let at = (line as usize).min(self.until.len());
        let found = at.checked_sub(1).and_then(|i| self.until.get(i));
        Seconds::of(found.map_or(0.0, |s| f64::from(*s)))
    }

    /// Seconds between the ends of two lines.
    #[must_use]
    pub fn between(&self, from: u32, to: u32) -> Seconds {
        Seconds::of((self.until(to) - self.until(from)).value().max(0.0))
    }

    /// The whole program.
    #[must_use]
    pub fn total(&self) -> Seconds {
        Seconds::of(self.sum)
    }

    /// The line being run after this many seconds, from 1; 0 for an empty program.
    #[must_use]
    pub fn line_at(&self, seconds: Seconds) -> u32 {
        let before = self.until.partition_point(|s| f64::from(*s) <= seconds.value());
        u32::try_from((before + 1).min(self.until.len())).unwrap_or(u32::MAX)
    }

    /// Lines known.
    #[must_use]
    pub fn lines(&self) -> u32 {
        u32::try_from(self.until.len()).unwrap_or(u32::MAX)
    }

    fn reach(&mut self, index: usize) {
        if self.until.len() <= index {
            let last = self.until.last().copied().unwrap_or(0.0);
            self.until.resize(index + 1, last);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times() -> LineTimes {
        let mut t = LineTimes::default();
        for (line, seconds) in [(3, 1.5), (4, 0.5), (4, 0.25), (7, 2.0)] {
            t.add(Timed { line, seconds: Seconds::of(seconds) });
        }
        t.closed(9)
    }

    #[test]
    fn lines_know_when_they_end() {
        let t = times();
        let ends: Vec<f64> = (0..=10).map(|line| t.until(line).value()).collect();
        assert_eq!(ends, [0.0, 0.0, 0.0, 1.5, 2.25, 2.25, 2.25, 4.25, 4.25, 4.25, 4.25]);
        assert_eq!(t.lines(), 9);
        assert_eq!(t.between(3, 7).value(), 2.75);
    }

    #[test]
    fn seconds_find_their_line() {
        let t = times();
        assert_eq!(t.line_at(Seconds::of(0.0)), 3);
        assert_eq!(t.line_at(Seconds::of(1.6)), 4);
        assert_eq!(t.line_at(Seconds::of(3.0)), 7);
        assert_eq!(t.line_at(Seconds::of(99.0)), 9);
        assert_eq!(LineTimes::default().line_at(Seconds::of(1.0)), 0);
    }
}
