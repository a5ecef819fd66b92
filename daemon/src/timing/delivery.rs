//! When each block is done, where the line that brings it may be the slower part.
//!
//! May live here: arrival over the wire, the window of bytes in flight, the planner's places. May not: the bytes
//! themselves, how long a motion takes, real time.

use super::wire::wire_time;
use chargehand_types::quantity::Seconds;
use std::collections::VecDeque;

/// The way a block takes to the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way {
    /// Bits a second on the wire; 0 where there is none.
    pub baud: u32,
    /// Bytes that may be in flight: sent and not yet taken in. 0 where each line waits for the one before.
    pub window: u64,
    /// Blocks the controller keeps beside the line it is reading: a profile's `planner_blocks`.
    pub planner_blocks: u16,
}

/// A block's line on its way.
#[derive(Debug, Clone, Copy)]
struct InFlight {
    bytes: u64,
    taken: f64,
}

/// Follows a program's lines over the wire, one after the other.
///
/// A line is sent once those in flight leave room for it, and takes its bytes' time. The controller takes it in when
/// it has arrived whole and the planner has a place. A block is done at `max(done before, taken in) + its motion`.
#[derive(Debug)]
pub struct Delivery {
    way: Way,
    in_flight: VecDeque<InFlight>,
    bytes: u64,
    /// When each of the newest blocks was done; as many as the planner holds.
    done: VecDeque<f64>,
    /// When the line before had left.
    sent: f64,
    /// When the line before was taken in.
    taken: f64,
    waited: f64,
}

impl Delivery {
    /// Before the first line.
    #[must_use]
    pub fn new(way: Way) -> Self {
        Self { way, in_flight: VecDeque::new(), bytes: 0, done: VecDeque::new(), sent: 0.0, taken: 0.0, waited: 0.0 }
    }

    /// The next line, its end counted, and what its motion takes: when it is done, from the program's start.
    pub fn line(&mut self, bytes: u64, motion: Seconds) -> Seconds {
        let room = self.room_for(bytes);
        self.sent = self.sent.max(room) + wire_time(bytes, self.way.baud).value();
        self.taken = self.taken.max(self.sent).max(self.place_free());
        self.in_flight.push_back(InFlight { bytes, taken: self.taken });
        self.bytes += bytes;
        let before = self.done.back().copied().unwrap_or(0.0);
        self.waited += (self.taken - before).max(0.0);
        let done = before.max(self.taken) + motion.value();
        if self.done.len() >= usize::from(self.way.planner_blocks.max(1)) {
            self.done.pop_front();
        }
        self.done.push_back(done);
        Seconds::of(done)
    }

    /// How long the machine stood with nothing to do, waiting for a line.
    #[must_use]
    pub fn waited(&self) -> Seconds {
        Seconds::of(self.waited)
    }

    /// When so many bytes may follow those in flight.
    fn room_for(&mut self, bytes: u64) -> f64 {
        let mut since = 0.0;
        while self.bytes + bytes > self.way.window {
            let Some(oldest) = self.in_flight.pop_front() else { break };
            self.bytes -= oldest.bytes;
            since = oldest.taken;
        }
        since
    }

    /// When the planner has a place for one more block.
    fn place_free(&self) -> f64 {
        let full = self.done.len() >= usize::from(self.way.planner_blocks.max(1));
        self.done.front().copied().filter(|_| full).unwrap_or(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WAY: Way = Way { baud: 115_200, window: 127, planner_blocks: 15 };

    fn run(way: Way, lines: u32, bytes: u64, motion: f64) -> (f64, f64) {
        let mut delivery = Delivery::new(way);
        let mut last = 0.0;
        for _ in 0..lines {
            last = delivery.line(bytes, Seconds::of(motion)).value();
        }
        (last, delivery.waited().value())
    }

    #[test]
    fn long_moves_wait_for_the_first_line_only() {
        // 8N1: 27 bytes at 115 200 baud take 2.3438 ms (trade-facts 7.1)
        let (done, waited) = run(WAY, 1000, 27, 0.1);
        assert!((done - (100.0 + 0.002_343_8)).abs() < 1.0e-6, "{done}");
        assert!((waited - 0.002_343_8).abs() < 1.0e-6);
    }

    #[test]
    fn short_moves_are_as_slow_as_their_bytes() {
        // 1000 lines of 27 bytes need 2.34375 s of wire and only 1 s of motion
        let (done, waited) = run(WAY, 1000, 27, 0.001);
        assert!((done - (2.343_75 + 0.001)).abs() < 1.0e-9, "{done}");
        assert!(waited > 1.3);
    }

    #[test]
    fn without_a_wire_only_motion_counts() {
        assert_eq!(run(Way { baud: 0, ..WAY }, 10, 27, 0.5), (5.0, 0.0));
    }

    #[test]
    fn a_full_planner_keeps_a_stretch_of_short_moves_going() {
        // 15 places and a window of four lines are there ahead of the 20 short moves: 19 arrive while the long one runs
        let mut delivery = Delivery::new(WAY);
        let first = delivery.line(27, Seconds::of(1.0)).value();
        let mut last = first;
        for _ in 0..18 {
            last = delivery.line(27, Seconds::of(0.000_1)).value();
        }
        assert!((last - (first + 0.001_8)).abs() < 1.0e-9, "{last} after {first}");
        // from here on the wire is what counts
        for _ in 0..100 {
            last = delivery.line(27, Seconds::of(0.000_1)).value();
        }
        assert!(last - first > 90.0 * 0.002_343_75, "{last}");
    }

    #[test]
    fn a_window_of_nothing_is_line_by_line() {
        // the next line leaves when the one before is taken in, which with places free is on arrival: the same here
        let (lockstep, _) = run(Way { window: 0, ..WAY }, 1000, 27, 0.001);
        let (windowed, _) = run(WAY, 1000, 27, 0.001);
        assert!((lockstep - windowed).abs() < 1.0e-9);
        // but lines that wait at the machine while a long motion keeps its only place come at once after it
        let short_after_long = |window| {
            let mut delivery = Delivery::new(Way { window, planner_blocks: 1, ..WAY });
            let motions = (0..50).flat_map(|_| [0.02, 0.000_1, 0.000_1, 0.000_1]);
            motions.map(|motion| delivery.line(27, Seconds::of(motion)).value()).last().unwrap()
        };
        let (alone, ahead) = (short_after_long(0), short_after_long(127));
        assert!(alone > ahead + 0.1, "{alone} {ahead}");
    }
}
