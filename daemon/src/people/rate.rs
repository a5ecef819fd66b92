//! How much is taken from one place: a bucket that fills again, and addresses that showed wrong tokens.
//!
//! May live here: counting against machine time. May not: what is counted.

use super::tries::wait_after;
use chargehand_types::quantity::Tick;
use std::collections::BTreeMap;
use std::net::IpAddr;

/// Addresses that are remembered; the one that was heard of longest ago makes room.
const ADDRESSES_AT_MOST: usize = 256;

/// So many at once, and one more every so often.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowance {
    /// At once.
    pub burst: u32,
    /// Milliseconds to one more.
    pub every_ms: u64,
}

/// A bucket that is full at first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bucket {
    left: u32,
    filled: Tick,
}

impl Bucket {
    /// A full one.
    #[must_use]
    pub const fn full(allowance: Allowance, now: Tick) -> Self {
        Self { left: allowance.burst, filled: now }
    }

    /// Takes one out, if there is one.
    pub fn take(&mut self, allowance: Allowance, now: Tick) -> bool {
        let every_us = allowance.every_ms.saturating_mul(1000).max(1);
        let more = now.us_since(self.filled) / every_us;
        self.filled = self.filled.after_us(more.saturating_mul(every_us));
        self.left = self.left.saturating_add(u32::try_from(more).unwrap_or(u32::MAX)).min(allowance.burst);
        let there = self.left > 0;
        self.left = self.left.saturating_sub(1);
        there
    }
}

/// Addresses that showed wrong tokens. After a few no token of theirs is looked at for a while, and longer each time.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Addresses(BTreeMap<IpAddr, Wrong>);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Wrong {
    times: u32,
    last: Tick,
    until: Tick,
}

impl Addresses {
    /// Whole seconds, rounded up, for which no token from an address is looked at; none when it is.
    #[must_use]
    pub fn shut_for(&self, from: IpAddr, now: Tick) -> Option<u64> {
        let left = self.0.get(&from)?.until.us_since(now);
        (left > 0).then(|| left.div_ceil(1_000_000))
    }

    /// A wrong token came from there.
    pub fn was_wrong(&mut self, from: IpAddr, now: Tick) {
        if !self.0.contains_key(&from) && self.0.len() >= ADDRESSES_AT_MOST {
            let oldest = self.0.iter().min_by_key(|(_, w)| w.last).map(|(a, _)| *a);
            oldest.map(|a| self.0.remove(&a));
        }
        let known = self.0.entry(from).or_insert(Wrong { times: 0, last: now, until: now });
        known.times = known.times.saturating_add(1);
        known.last = now;
        if let Some(wait) = wait_after(known.times) {
            known.until = now.after_ms(u64::try_from(wait.as_millis()).unwrap_or(u64::MAX));
        }
    }

    /// The right one came from there.
    pub fn was_right(&mut self, from: IpAddr) {
        self.0.remove(&from);
    }
}
