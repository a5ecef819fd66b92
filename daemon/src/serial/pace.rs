//! How far the line is ahead of the wire: bytes handed to the system that cannot have been sent yet. A byte that acts
//! at once waits behind all of them, so they are kept few; the line shall not run dry either.

use chargehand_types::quantity::Tick;

/// Most bytes below us, on a line that runs in real time: 4.2 ms at 115,200 baud.
pub(in crate::serial) const MOST_BELOW: usize = 48;
/// On faster lines as many as the wire carries in this time, in microseconds: the threads on both sides wake no faster.
const WAKING_US: f64 = 1300.0;
/// Left free for a byte that asks for a report.
const ASKING: f64 = 1.0;
/// A line longer than [`MOST_BELOW`] goes out once no more than these are left.
const NEARLY_NONE: f64 = 8.0;

/// While more than this share of what may be below us still is, nothing is gained by writing or reading: the thread wakes
/// once for a few lines, not twice for each. The rest is for its being late.
const RESTS_ABOVE: f64 = 0.42;

/// The wire's clock. 8N1: ten bits a byte.
#[derive(Debug)]
pub(in crate::serial) struct Pace {
    byte_us: f64,
    most: f64,
    /// When the last byte handed over has left, in machine microseconds.
    free: f64,
    most_seen: f64,
}

impl Pace {
    /// `rate` is machine seconds a real second: the waits below us last as long in real time at any rate.
    pub fn new(baud: u32, rate: f64) -> Self {
        let byte_us = 1.0e7 / f64::from(baud.max(1));
        Self { byte_us, most: (MOST_BELOW as f64).max(WAKING_US / byte_us) * rate.max(1.0), free: 0.0, most_seen: 0.0 }
    }

    /// Bytes below us now.
    fn below(&self, now: Tick) -> f64 {
        ((self.free - now.0 as f64) / self.byte_us).max(0.0)
    }

    /// When so many more may go out; the system's own count of what it still holds goes before the reckoned one when
    /// it is larger. None: now.
    pub fn wait(&self, now: Tick, more: usize, held: usize) -> Option<Tick> {
        let below = self.below(now).max(held as f64);
        let room = (self.most - ASKING - more as f64).max(NEARLY_NONE.min(self.most));
        if below <= room {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and small")]
        let us = ((below - room) * self.byte_us).ceil() as u64;
        Some(now.after_us(us.max(1)))
    }

    /// Whether so many may go out together now, and no more than [`MOST_BELOW`] are below us then.
    pub fn takes(&self, now: Tick, bytes: usize, held: usize) -> bool {
        self.below(now).max(held as f64) + bytes as f64 + ASKING <= self.most
    }

    /// Until when the wire has enough to do; none when it is time to look.
    pub fn rest(&self, now: Tick) -> Option<Tick> {
        let more = self.below(now) - self.most * RESTS_ABOVE;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and small")]
        let us = (more * self.byte_us).ceil() as u64;
        (us > 0).then(|| now.after_us(us))
    }

    /// So many were handed over.
    pub fn wrote(&mut self, now: Tick, bytes: usize) {
        self.free = self.free.max(now.0 as f64) + self.byte_us * bytes as f64;
        self.most_seen = self.most_seen.max(self.below(now));
    }

    /// Most bytes that ever were below us.
    pub fn most_seen(&self) -> usize {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and small")]
        let most = self.most_seen.ceil() as usize;
        most
    }

    /// A new wire: nothing is on it.
    pub const fn forget(&mut self) {
        self.free = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_bytes_are_below_us() {
        let mut pace = Pace::new(115_200, 1.0);
        let mut now = Tick(1_000);
        let mut sent = 0;
        while sent < 100_000 {
            match pace.wait(now, 27, 0) {
                None => {
                    pace.wrote(now, 27);
                    sent += 27;
                }
                Some(then) => now = then,
            }
        }
        assert!(pace.most_seen() <= MOST_BELOW, "{}", pace.most_seen());
        // 8N1: 11,520 bytes a second at 115,200 baud; nothing of it is lost by waiting
        let seconds = (now.0 - 1_000) as f64 / 1e6;
        assert!((100_000.0 / seconds - 11_520.0).abs() < 11_520.0 * 0.01, "{seconds}");
    }

    #[test]
    fn short_lines_go_by_twos_and_the_wire_does_not_run_dry() {
        let mut pace = Pace::new(115_200, 1.0);
        let (mut now, mut wakes, mut lines) = (Tick(1_000), 0, 0);
        while lines < 10_000 {
            wakes += 1;
            while pace.wait(now, 14, 0).is_none() {
                pace.wrote(now, 14);
                lines += 1;
            }
            // it wakes a quarter of a millisecond late
            now = pace.rest(now).or_else(|| pace.wait(now, 14, 0)).unwrap().after_us(250);
            assert!(pace.free > now.0 as f64, "the wire stands still");
        }
        assert!(f64::from(lines) / f64::from(wakes) > 1.9, "{lines} lines, {wakes} times");
        assert!(pace.most_seen() <= MOST_BELOW);
    }

    #[test]
    fn a_long_line_goes_when_nearly_nothing_is_left() {
        let mut pace = Pace::new(115_200, 1.0);
        assert_eq!(pace.wait(Tick(0), 80, 0), None);
        pace.wrote(Tick(0), 80);
        let then = pace.wait(Tick(0), 80, 0).unwrap();
        // 72 bytes of ten bits
        assert_eq!(then, Tick(6_250));
        assert_eq!(pace.wait(then, 80, 0), None);
    }

    #[test]
    fn a_fast_line_may_have_more() {
        let pace = Pace::new(1_000_000, 1.0);
        assert_eq!(pace.wait(Tick(0), 27, 100), None);
        assert!(pace.wait(Tick(0), 27, 110).is_some());
    }

    #[test]
    fn lines_that_go_together_leave_no_more_below_us() {
        let mut pace = Pace::new(115_200, 1.0);
        assert!(pace.takes(Tick(0), 47, 0) && !pace.takes(Tick(0), 48, 0));
        assert!(pace.takes(Tick(0), 27, 20) && !pace.takes(Tick(0), 28, 20));
        pace.wrote(Tick(0), 20);
        assert!(pace.takes(Tick(0), 27, 0) && !pace.takes(Tick(0), 28, 0));
    }

    #[test]
    fn what_the_system_holds_counts() {
        let pace = Pace::new(115_200, 1.0);
        assert!(pace.wait(Tick(0), 10, 100).is_some());
        assert_eq!(pace.wait(Tick(0), 10, 37), None);
    }

    #[test]
    fn fast_time_waits_no_longer_in_real_time() {
        let mut pace = Pace::new(115_200, 20.0);
        pace.wrote(Tick(0), 900);
        assert_eq!(pace.wait(Tick(0), 59, 0), None);
        assert!(pace.wait(Tick(0), 60, 0).is_some());
    }
}
