//! The serial line's own time: a byte takes ten bits of baud, each way.

use chargehand_types::quantity::Tick;
use std::collections::VecDeque;

/// One direction of the line.
#[derive(Debug)]
pub(in crate::practice) struct Pacing {
    us_a_byte: f64,
    /// When the line is free again, in microseconds.
    free: f64,
    on_the_way: VecDeque<(u64, u8)>,
}

impl Pacing {
    pub fn new(baud: u32) -> Self {
        Self { us_a_byte: 1.0e7 / f64::from(baud.max(1)), free: 0.0, on_the_way: VecDeque::new() }
    }

    /// Puts bytes on the line now.
    pub fn put(&mut self, now: Tick, bytes: &[u8]) {
        self.free = self.free.max(now.0 as f64);
        for &byte in bytes {
            self.free += self.us_a_byte;
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "ticks are positive and far from the end"
            )]
            self.on_the_way.push_back((self.free as u64, byte));
        }
    }

    /// The next byte that has arrived by now, with its time.
    pub fn take(&mut self, now: Tick) -> Option<(Tick, u8)> {
        let &(at, byte) = self.on_the_way.front()?;
        if at > now.0 {
            return None;
        }
        self.on_the_way.pop_front();
        Some((Tick(at), byte))
    }

    /// When the next byte arrives.
    pub fn next(&self) -> Option<Tick> {
        self.on_the_way.front().map(|(at, _)| Tick(*at))
    }

    /// Everything on the way is lost.
    pub fn clear(&mut self) {
        self.on_the_way.clear();
    }
}
