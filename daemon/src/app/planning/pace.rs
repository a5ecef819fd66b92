//! A number of evaluations, cut short by the clock.
#![allow(clippy::disallowed_methods, reason = "app is where a clock is read")]

use crate::dayplan::Pace;
use std::time::{Duration, Instant};

/// So many evaluations, but no longer than that.
pub struct Limited {
    evaluations: u64,
    until: Instant,
    cut: bool,
}

impl Limited {
    /// From now on.
    pub fn new(evaluations: u64, longest: Duration) -> Self {
        Self { evaluations: evaluations.max(1), until: Instant::now() + longest, cut: false }
    }
}

impl Pace for Limited {
    fn spent(&mut self, evaluations: u64) -> f64 {
        let spent = evaluations as f64 / self.evaluations as f64;
        self.cut = spent < 1.0 && Instant::now() >= self.until;
        if self.cut { 1.0 } else { spent }
    }

    fn cut_short(&self) -> bool {
        self.cut
    }
}
