//! The one clock: machine time, counted from the daemon's start at a rate (1 on a real port, 20 in practice), or set
//! by whoever drives the shop by hand.

use crate::link::wire::TickSource;
use chargehand_types::quantity::Tick;
use chrono::{DateTime, Utc};
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The only source of ticks.
#[derive(Debug)]
pub struct MachineClock {
    passes: Passes,
    rate: f64,
}

/// How time passes.
#[derive(Debug)]
enum Passes {
    /// By itself.
    Since(Instant),
    /// As it is set.
    ByHand {
        /// Machine time.
        tick: AtomicU64,
        /// Microseconds since 1970 that the wall clock shows at tick 0.
        wall: AtomicI64,
    },
}

impl MachineClock {
    /// Starts counting at a rate of machine seconds a real second. What is no usable rate becomes 1.
    #[must_use]
    pub fn starting(rate: f64) -> Self {
        let rate = if rate.is_finite() && rate > 0.0 { rate } else { 1.0 };
        #[allow(clippy::disallowed_methods, reason = "this is the one clock")]
        let begun = Instant::now();
        Self { passes: Passes::Since(begun), rate }
    }

    /// One that stands until it is set, with this on the wall at tick 0.
    #[must_use]
    pub const fn by_hand(wall: DateTime<Utc>) -> Self {
        let wall = AtomicI64::new(wall.timestamp_micros());
        Self { passes: Passes::ByHand { tick: AtomicU64::new(0), wall }, rate: 1.0 }
    }

    /// Sets machine time; never back. A clock that passes by itself is left alone.
    pub fn set(&self, to: Tick) {
        if let Passes::ByHand { tick, .. } = &self.passes {
            tick.fetch_max(to.0, Ordering::SeqCst);
        }
    }

    /// Moves the hands of the wall clock, forth or back, and leaves machine time alone. A clock that passes by itself is
    /// left alone.
    pub fn shift_wall(&self, by: chrono::Duration) {
        if let Passes::ByHand { wall, .. } = &self.passes {
            wall.fetch_add(by.num_microseconds().unwrap_or_default(), Ordering::SeqCst);
        }
    }

    /// What the wall clock shows.
    #[must_use]
    pub fn wall(&self) -> DateTime<Utc> {
        match &self.passes {
            #[allow(clippy::disallowed_methods, reason = "the wall clock is read here, once an event")]
            Passes::Since(_) => Utc::now(),
            Passes::ByHand { tick, wall } => {
                let passed = i64::try_from(tick.load(Ordering::SeqCst)).unwrap_or(i64::MAX);
                let us = wall.load(Ordering::SeqCst).saturating_add(passed);
                DateTime::from_timestamp_micros(us).unwrap_or_default()
            }
        }
    }
}

impl TickSource for MachineClock {
    fn now(&self) -> Tick {
        let real = match &self.passes {
            Passes::Since(begun) => begun.elapsed().as_secs_f64(),
            Passes::ByHand { tick, .. } => return Tick(tick.load(Ordering::SeqCst)),
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "non-negative and far from the end")]
        Tick((real * self.rate * 1.0e6) as u64)
    }

    fn real_until(&self, tick: Tick) -> Duration {
        if let Passes::ByHand { .. } = self.passes {
            // it does not come by waiting
            return Duration::from_secs(3600);
        }
        let machine_us = tick.us_since(self.now());
        // a far-off tick would overflow a Duration; an hour is as good as never for whoever waits
        Duration::try_from_secs_f64((machine_us as f64 / 1.0e6 / self.rate).min(3600.0)).unwrap_or_default()
    }

    fn rate(&self) -> f64 {
        self.rate
    }
}
