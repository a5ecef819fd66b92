//! Sorted stretches of minutes and what can be done with sets of them.

use chargehand_types::plan::{Minute, Minutes};

/// A stretch of minutes: from its first up to, not with, its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Begins.
    pub from: Minute,
    /// Ends; later than it begins.
    pub to: Minute,
}

/// Stretches of minutes in rising order that neither overlap nor touch.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Windows(Vec<Window>);

impl Windows {
    /// From stretches in any order: empty ones fall out, touching and overlapping ones become one.
    #[must_use]
    pub fn of(stretches: impl IntoIterator<Item = (Minute, Minute)>) -> Self {
        let mut sorted: Vec<_> = stretches.into_iter().filter(|(from, to)| from < to).collect();
        sorted.sort_unstable();
        let mut joined: Vec<Window> = Vec::with_capacity(sorted.len());
        for (from, to) in sorted {
            match joined.last_mut() {
                Some(last) if from <= last.to => last.to = last.to.max(to),
                _ => joined.push(Window { from, to }),
            }
        }
        Self(joined)
    }

    /// One by one, rising.
    #[must_use]
    pub fn all(&self) -> &[Window] {
        &self.0
    }

    /// Nothing in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The longest stretch; nothing when there is none.
    #[must_use]
    pub fn longest(&self) -> Minutes {
        self.0.iter().map(|w| w.to.since(w.from)).max().unwrap_or_default()
    }

    /// When the last one ends.
    #[must_use]
    pub fn end(&self) -> Minute {
        self.0.last().map_or(Minute(0), |w| w.to)
    }

    /// Does one of them hold all of that stretch?
    #[must_use]
    pub fn hold(&self, from: Minute, to: Minute) -> bool {
        let after = self.0.partition_point(|w| w.to < to);
        self.0.get(after).is_some_and(|w| w.from <= from && to <= w.to)
    }

    /// What is in either.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        Self::of(self.0.iter().chain(&other.0).map(|w| (w.from, w.to)))
    }

    /// What is left when the other's stretches are cut out.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        let mut left = Vec::new();
        for window in &self.0 {
            let mut from = window.from;
            for cut in other.0.iter().filter(|c| c.to > window.from && c.from < window.to) {
                left.push((from, cut.from));
                from = from.max(cut.to);
            }
            left.push((from, window.to));
        }
        Self::of(left)
    }

    /// Each stretch ending so much earlier; those that are not longer fall out.
    #[must_use]
    pub fn ending_earlier(&self, by: Minutes) -> Self {
        Self::of(self.0.iter().map(|w| (w.from, Minute(w.to.0.saturating_sub(by.0)))))
    }

    /// Only what lies in that stretch.
    #[must_use]
    pub fn within(&self, from: Minute, to: Minute) -> Self {
        Self::of(self.0.iter().map(|w| (w.from.max(from), w.to.min(to))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn set(stretches: &[(u32, u32)]) -> Windows {
        Windows::of(stretches.iter().map(|(a, b)| (Minute(*a), Minute(*b))))
    }

    fn minutes(windows: &Windows) -> Vec<u32> {
        windows.all().iter().flat_map(|w| w.from.0..w.to.0).collect()
    }

    #[test]
    fn touching_stretches_become_one_and_empty_ones_fall_out() {
        assert_eq!(set(&[(30, 40), (10, 20), (20, 30), (50, 50)]), set(&[(10, 40)]));
        assert_eq!(set(&[(9, 4)]).longest(), Minutes(0));
    }

    #[test]
    fn a_stretch_is_held_by_one_window_or_not_at_all() {
        let windows = set(&[(10, 20), (30, 40)]);
        assert!(windows.hold(Minute(10), Minute(20)) && windows.hold(Minute(35), Minute(40)));
        assert!(!windows.hold(Minute(15), Minute(31)) && !windows.hold(Minute(39), Minute(41)));
    }

    proptest! {
        #[test]
        fn sets_are_what_they_are_minute_by_minute(
            a in proptest::collection::vec((0u32..90, 0u32..90), 0..6),
            b in proptest::collection::vec((0u32..90, 0u32..90), 0..6),
        ) {
            let (a, b) = (set(&a), set(&b));
            let (inside_a, inside_b) = (minutes(&a), minutes(&b));
            let without: Vec<u32> = inside_a.iter().copied().filter(|m| !inside_b.contains(m)).collect();
            prop_assert_eq!(minutes(&a.without(&b)), without);
            let mut both = [inside_a, inside_b].concat();
            both.sort_unstable();
            both.dedup();
            prop_assert_eq!(minutes(&a.and(&b)), both);
        }
    }
}
