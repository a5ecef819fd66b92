//! The lines of a re-entry: up, spindle, over, down, and every mode as it was.

use super::Passage;
use super::entry::{CannotEnter, Entered, Entry};
use super::standing::{Lasting, Standing};
use super::writer::{Before, Writer};
use crate::program::code::{G, M};
use crate::program::frame::Axis;
use crate::program::motion::{Modal, Move, MoveKind, Pace, Turning};
use crate::program::number::Decimal;
use crate::program::way::Way;
use chargehand_types::quantity::{Feed, Length, Point};

impl Writer {
    /// Writes the entry to the block that comes next. `zero` is what is added to a programmed coordinate before it.
    ///
    /// # Errors
    /// When the controller keeps something of the lines before by itself.
    pub fn enter(&mut self, entry: &Entry, before: Before, zero: Point, plunge: Feed) -> Result<Entered, CannotEnter> {
        if super::mode_words::cycle_word(before.modal.motion).is_some_and(|code| self.known.g(code)) {
            return Err(CannotEnter::InCycle(entry.line));
        }
        (self.line, self.part) = (entry.line, 0);
        self.begun = true;
        self.standing = Standing::new(self.window);
        // millimetres, absolute, G54 and no shift, whatever stood before
        let plain = Modal { system: 1, ..Modal::default() };
        self.begin(Before { modal: plain, at: entry.from, base: Point::default() });
        let up = Point { z: entry.from.z.max(entry.travel_z), ..entry.from };
        self.go(entry.from, up, None);
        self.spindle_up(entry, before.modal);
        let over = Point { z: up.z, ..before.at };
        self.go(up, over, None);
        let near = Point { z: entry.near_z.max(before.at.z), ..before.at };
        self.go(over, near, None);
        self.go(near, before.at, Some(plunge));
        self.coolant(before);
        // the plunge's feed is none of the program's, and may be in other units
        self.standing.forget(Lasting::Feed);
        self.modes(self.draft(), before);
        self.shift(before, zero);
        let lines = self.made.iter().cloned().collect();
        Ok(Entered { at: before.at, modal: before.modal, lines })
    }

    /// One straight of it, in millimetres and G90.
    fn go(&mut self, from: Point, to: Point, feed: Option<Feed>) {
        if from == to {
            return;
        }
        let mut draft = self.draft();
        draft.g(if feed.is_some() { G::G1 } else { G::G0 }, &self.standing);
        for axis in Axis::ALL {
            if axis.of(&from) != axis.of(&to) {
                draft.word(axis.letter(), Decimal::of_length(axis.of(&to), false), None);
                draft.names(axis, true);
            }
        }
        if let Some(feed) = feed {
            let value = Decimal::of_length(Length(feed.0), false);
            draft.lasting(Lasting::Feed, b'F', value, None, &self.standing);
        }
        let (kind, pace) = match feed {
            Some(feed) => (MoveKind::Feed, Pace::Feed(feed)),
            None => (MoveKind::Rapid, Pace::Rapid),
        };
        let made = Move { kind, from, to, pace, named: 7, of_cycle: false };
        self.write(draft, Passage::One(Way::of(&made)));
    }

    /// The spindle turns as it did, and has come up to speed.
    fn spindle_up(&mut self, entry: &Entry, modal: Modal) {
        let mut draft = self.draft();
        if let Some(speed) = modal.speed {
            let value = Decimal(speed.0.saturating_mul(1_000_000));
            draft.lasting(Lasting::Speed, b'S', value, None, &self.standing);
        }
        match modal.turning {
            Turning::Off => {}
            Turning::Clockwise => draft.m(M::M3),
            Turning::CounterClockwise => draft.m(M::M4),
        }
        self.write(draft, Passage::Still);
        let seconds = entry.spin_up.value();
        if modal.turning != Turning::Off && seconds > 0.0 {
            let mut draft = self.draft();
            draft.g(G::G4, &self.standing);
            draft.word(b'P', Decimal::from_f64(seconds).unwrap_or_default(), None);
            self.write(draft, Passage::Dwells(seconds));
        }
    }

    fn coolant(&mut self, before: Before) {
        let mut draft = self.draft();
        for (on, code) in [(before.modal.mist, M::M7), (before.modal.flood, M::M8)] {
            if on && self.known.m(code) {
                draft.m(code);
            }
        }
        self.write(draft, Passage::Still);
    }

    /// A G92 shift, as the G92 that makes it here.
    fn shift(&mut self, before: Before, zero: Point) {
        if before.modal.shift == Point::default() {
            return;
        }
        let mut draft = self.draft();
        draft.g(G::G92, &self.standing);
        let reads = before.at - zero;
        for axis in Axis::ALL {
            draft.word(axis.letter(), Decimal::of_length(axis.of(&reads), before.modal.inch), None);
        }
        self.write(draft, Passage::Still);
        self.standing.forget_axes();
    }

    /// What is written here is a few short words: within any controller's line.
    fn write(&mut self, draft: super::draft::Draft, passage: Passage) {
        if draft.is_empty() {
            return;
        }
        let bytes = draft.finish(&mut self.standing);
        self.make(bytes, passage, super::Then::Goes);
    }
}
