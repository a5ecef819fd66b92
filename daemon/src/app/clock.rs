//! The one clock: machine time, counted from the daemon's start at a rate (1 on a real port, 20 in practice).

use crate::link::wire::TickSource;
use chargehand_types::quantity::Tick;
use std::time::{Duration, Instant};

/// The only source of ticks.
#[derive(Debug)]
pub struct MachineClock {
    begun: Instant,
    rate: f64,
}

impl MachineClock {
    /// Starts counting at a rate of machine seconds a real second. What is no usable rate becomes 1.
    #[must_use]
    pub fn starting(rate: f64) -> Self {
        let rate = if rate.is_finite() && rate > 0.0 { rate } else { 1.0 };
        #[allow(clippy::disallowed_methods, reason = "this is the one clock")]
        let begun = Instant::now();
        Self { begun, rate }
    }
}

impl TickSource for MachineClock {
    fn now(&self) -> Tick {
        let real = self.begun.elapsed().as_secs_f64();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "non-negative and far from the end")]
        Tick((real * self.rate * 1.0e6) as u64)
    }

    fn real_until(&self, tick: Tick) -> Duration {
        let machine_us = tick.us_since(self.now());
        // a far-off tick would overflow a Duration; an hour is as good as never for whoever waits
        Duration::try_from_secs_f64((machine_us as f64 / 1.0e6 / self.rate).min(3600.0)).unwrap_or_default()
    }

    fn rate(&self) -> f64 {
        self.rate
    }
}
