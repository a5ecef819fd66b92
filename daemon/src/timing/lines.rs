//! Seconds to the end of every source line, in four bytes a line; of a very long program, of evenly spaced lines, with
//! those between them reckoned in step.
//!
//! May live here: the running sum and the questions asked of it. May not: how a move's time is found.

use super::clockwork::Timed;
use chargehand_types::quantity::Seconds;

/// Lines whose end is kept at most: a program of any length takes no more than 256 KiB.
const KEPT_MOST: usize = 64 * 1024;

/// Machine seconds from the program's start to the end of each of its lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineTimes {
    /// Ends of every so many lines: of the lines `every`, twice `every`, and so on.
    until: Vec<f32>,
    /// How many lines from one kept end to the next, as a power of two.
    every: u32,
    /// Lines known.
    lines: u32,
    sum: f64,
}

impl LineTimes {
    /// Counts a move. Moves come in the program's order; one of an earlier line counts for the latest.
    pub fn add(&mut self, timed: Timed) {
        self.reach(timed.line.max(1));
        self.sum += timed.seconds.value();
        if self.lines.is_multiple_of(self.step())
            && let Some(last) = self.until.last_mut()
        {
            *last = short(self.sum);
        }
    }

    /// Fills up to the program's last line: what follows the last move takes no time.
    #[must_use]
    pub fn closed(mut self, lines: u32) -> Self {
        self.reach(lines);
        self.until.shrink_to_fit();
        self
    }

    /// Seconds from the start to the end of a line; 0 before the first, the whole past the last.
    #[must_use]
    pub fn until(&self, line: u32) -> Seconds {
        if line >= self.lines {
            return Seconds::of(f64::from(short(self.sum)));
        }
        let (block, over) = (line / self.step(), line % self.step());
        let (from, to) = self.ends(block);
        let wide = self.step().min(self.lines - block * self.step());
        Seconds::of(from + (to - from) * f64::from(over) / f64::from(wide.max(1)))
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
        let block = u32::try_from(before).unwrap_or(u32::MAX);
        let (from, to) = self.ends(block);
        let share = if to > from { ((seconds.value() - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of one step")]
        let over = (share * f64::from(self.step())) as u32;
        let line = block.saturating_mul(self.step()).saturating_add(over.min(self.step() - 1)).saturating_add(1);
        line.min(self.lines)
    }

    /// Lines known.
    #[must_use]
    pub const fn lines(&self) -> u32 {
        self.lines
    }

    /// Lines from one kept end to the next.
    const fn step(&self) -> u32 {
        1 << self.every
    }

    /// Seconds at the two ends of so manieth step, from 0.
    fn ends(&self, block: u32) -> (f64, f64) {
        let kept = |at: usize| self.until.get(at).map(|s| f64::from(*s));
        let at = block as usize;
        let from = at.checked_sub(1).map_or(Some(0.0), kept);
        (from.unwrap_or(self.sum), kept(at).unwrap_or_else(|| f64::from(short(self.sum))))
    }

    /// Every line before this one has ended, and this one has begun.
    fn reach(&mut self, line: u32) {
        while self.lines < line {
            let next = (self.lines / self.step()).saturating_add(1).saturating_mul(self.step());
            self.lines = next.min(line);
            if self.lines == next {
                self.until.push(short(self.sum));
                self.thin();
            }
        }
    }

    /// Every other end is let go of once there are too many.
    fn thin(&mut self) {
        if self.until.len() > KEPT_MOST && self.every < 30 {
            let mut odd = true;
            self.until.retain(|_| {
                odd = !odd;
                odd
            });
            self.every += 1;
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "four bytes a line are kept")]
const fn short(seconds: f64) -> f32 {
    seconds as f32
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

    /// Lines of different times: a long program's are as those added up one by one, but for the step they lie in.
    #[test]
    fn a_long_program_takes_no_more_room_and_tells_the_same() {
        let lines = 1_000_000_u32;
        let mut t = LineTimes::default();
        let mut ends = vec![0.0];
        let mut sum = 0.0;
        for line in 1..=lines {
            let seconds = 0.01 + f64::from(line % 7) * 0.001;
            sum += seconds;
            ends.push(sum);
            t.add(Timed { line, seconds: Seconds::of(seconds) });
        }
        let t = t.closed(lines + 3);
        assert!(t.until.len() <= KEPT_MOST && t.until.capacity() <= 2 * KEPT_MOST, "{}", t.until.len());
        assert_eq!((t.lines(), t.total().value()), (lines + 3, sum));
        let step = f64::from(t.step()) * 0.016;
        for line in [0, 1, 15, 16, 17, 4_711, 65_536, 65_537, 500_003, 999_999, 1_000_000] {
            let (told, true_end) = (t.until(line).value(), ends[line as usize]);
            assert!((told - true_end).abs() < step, "line {line}: {told} and {true_end}");
            let found = t.line_at(Seconds::of(true_end + 0.001));
            assert!(found.abs_diff(line + 1) <= 2 * t.step(), "after line {line}: {found}");
        }
    }
}
