//! What the controller was told last of everything that stays in force, and how far back in the bytes sent.
//!
//! May live here: the rule of one window. May not: words, lines, what a controller understands.

use crate::program::code::{GROUPS, Group};
use crate::program::frame::Axis;

/// Something that stays in force once written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lasting {
    /// The G word of a group.
    Of(Group),
    /// F.
    Feed,
    /// S.
    Speed,
}

impl Lasting {
    const COUNT: usize = GROUPS + 2;

    const fn slot(self) -> usize {
        match self {
            Self::Of(group) => group as usize,
            Self::Feed => GROUPS,
            Self::Speed => GROUPS + 1,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Set {
    value: i64,
    /// Bytes sent up to the end of the line that set it.
    ends: u64,
}

/// What stands.
#[derive(Debug)]
pub struct Standing {
    lasting: [Option<Set>; Lasting::COUNT],
    /// Where the line ended that last moved each axis.
    axes: [Option<u64>; 3],
    sent: u64,
    window: u64,
}

impl Standing {
    /// Nothing is known to stand. A window of nothing is that of an answered-line flow.
    pub const fn new(window: u64) -> Self {
        Self { lasting: [None; Lasting::COUNT], axes: [None; 3], sent: 0, window }
    }

    /// A refused line is skipped while the next ones already wait. So a word may be left out only if the line that
    /// set it ended more than one window back: only then has that line been answered.
    const fn is_answered(&self, ends: u64) -> bool {
        self.sent - ends >= self.window
    }

    /// Whether this value was the last one written.
    pub fn is(&self, what: Lasting, value: i64) -> bool {
        self.get(what).is_some_and(|set| set.value == value)
    }

    /// Whether this value stands and may be left out.
    pub fn holds(&self, what: Lasting, value: i64) -> bool {
        self.get(what).is_some_and(|set| set.value == value && self.is_answered(set.ends))
    }

    /// Whether an axis stands where the last line that named it went, and need not be named again.
    pub fn axis_holds(&self, axis: Axis) -> bool {
        self.axes.get(axis as usize).copied().flatten().is_some_and(|ends| self.is_answered(ends))
    }

    /// A line of so many bytes, its end counted, was written; what it set is noted after it.
    pub const fn count(&mut self, bytes: u64) {
        self.sent += bytes;
    }

    /// The line just counted set this. Saying it again makes it no newer: the first line that said it counts.
    pub fn note(&mut self, what: Lasting, value: i64) {
        if !self.is(what, value)
            && let Some(slot) = self.lasting.get_mut(what.slot())
        {
            *slot = Some(Set { value, ends: self.sent });
        }
    }

    /// The line just counted moved this axis, or named it where it stood already.
    pub fn note_axis(&mut self, axis: Axis, moved: bool) {
        if let Some(slot) = self.axes.get_mut(axis as usize)
            && (moved || slot.is_none())
        {
            *slot = Some(self.sent);
        }
    }

    /// This is no longer known.
    pub fn forget(&mut self, what: Lasting) {
        if let Some(slot) = self.lasting.get_mut(what.slot()) {
            *slot = None;
        }
    }

    /// Where the axes stand is no longer known by their coordinates.
    pub const fn forget_axes(&mut self) {
        self.axes = [None; 3];
    }

    /// Nothing is known any more: a person, or the shop's own commands, come in between.
    pub const fn forget_all(&mut self) {
        self.lasting = [None; Lasting::COUNT];
        self.axes = [None; 3];
    }

    fn get(&self, what: Lasting) -> Option<Set> {
        self.lasting.get(what.slot()).copied().flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_stands_after_a_window() {
        let mut standing = Standing::new(100);
        standing.count(20);
        standing.note(Lasting::Feed, 5);
        standing.count(99);
        assert!(standing.is(Lasting::Feed, 5) && !standing.holds(Lasting::Feed, 5));
        standing.note(Lasting::Feed, 5);
        standing.count(1);
        assert!(standing.holds(Lasting::Feed, 5) && !standing.holds(Lasting::Feed, 6));
    }
}
