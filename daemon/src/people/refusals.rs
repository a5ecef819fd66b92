//! What was refused: the last ones, and which are written down. A flood of one kind never hides another.
//!
//! May live here: the list and its bounds, its text. May not: the file.

use super::rate::{Allowance, Bucket};
use chargehand_types::people::{RefusalKind, Refused};
use chargehand_types::quantity::Tick;
use std::collections::{HashMap, VecDeque};

/// Refusals kept.
pub const KEPT: usize = 500;
/// Of each kind so many are written at once, and one more every ten seconds.
const WRITTEN: Allowance = Allowance { burst: 30, every_ms: 10_000 };
/// Characters of what was asked, or from where, that are kept.
const TEXT_AT_MOST: usize = 160;

/// The refusals.
#[derive(Debug, Clone, Default)]
pub struct Refusals {
    last: VecDeque<Refused>,
    buckets: HashMap<RefusalKind, (Bucket, u32)>,
}

impl Refusals {
    /// Those that a file of an earlier daemon holds, one JSON document a line; lines that are none are passed over.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let mut refusals = Self::default();
        for refused in text.lines().filter_map(|l| serde_json::from_str(l).ok()) {
            refusals.keep(refused);
        }
        refusals
    }

    /// Their text, one line each.
    #[must_use]
    pub fn text(&self) -> String {
        self.last.iter().filter_map(|r| serde_json::to_string(r).ok()).map(|l| l + "\n").collect()
    }

    fn keep(&mut self, refused: Refused) {
        if self.last.len() >= KEPT {
            self.last.pop_front();
        }
        self.last.push_back(refused);
    }

    /// Takes one in, and answers it as it is to be written down; none while there is no room for its kind.
    pub fn note(&mut self, mut refused: Refused, now: Tick) -> Option<Refused> {
        let (bucket, left_out) = self.buckets.entry(refused.kind).or_insert_with(|| (Bucket::full(WRITTEN, now), 0));
        if !bucket.take(WRITTEN, now) {
            *left_out = left_out.saturating_add(1);
            return None;
        }
        refused.left_out = std::mem::take(left_out);
        refused.asked = short(&refused.asked);
        refused.from = short(&refused.from);
        self.keep(refused.clone());
        Some(refused)
    }

    /// Oldest first.
    #[must_use]
    pub fn all(&self) -> Vec<Refused> {
        self.last.iter().cloned().collect()
    }
}

fn short(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).take(TEXT_AT_MOST).collect()
}
