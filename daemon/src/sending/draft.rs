//! One line for the controller while it is being written.
//!
//! May live here: how words become bytes, and what of them stays in force. May not: which words are written.

use super::standing::{Lasting, Standing};
use crate::program::code::{G, Group, M};
use crate::program::frame::Axis;
use crate::program::number::{Decimal, is_blank};

/// Whether lines are written short.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Writing {
    /// No blanks, no zeros that say nothing, no repeated word that stands.
    Short,
    /// Words as the program has them, a blank between.
    AsWritten,
}

/// A value that no program can ask for.
const NEVER_WRITTEN: i64 = i64::MIN;

/// A line being written.
#[derive(Debug)]
pub struct Draft {
    bytes: Vec<u8>,
    writing: Writing,
    sets: Vec<(Lasting, i64)>,
    axes: Vec<(Axis, bool)>,
}

impl Draft {
    /// An empty line.
    pub fn new(writing: Writing) -> Self {
        Self { bytes: Vec::with_capacity(32), writing, sets: Vec::new(), axes: Vec::new() }
    }

    /// Whether nothing was written.
    pub fn is_empty(&self) -> bool {
        self.bytes.is_empty()
    }

    fn letter(&mut self, letter: u8) {
        if self.writing == Writing::AsWritten && !self.bytes.is_empty() {
            self.bytes.push(b' ');
        }
        self.bytes.push(letter);
    }

    /// A word with a value. `source` is how the program wrote the word, where it did with a plain number.
    pub fn word(&mut self, letter: u8, value: Decimal, source: Option<&[u8]>) {
        self.letter(letter);
        match source {
            Some(text) if self.writing == Writing::AsWritten && is_plain(text) => {
                self.bytes.extend(text.iter().skip(1).copied().filter(|b| !is_blank(*b)));
            }
            _ => value.write(&mut self.bytes),
        }
    }

    /// A G word, unless it stands already and lines are written short.
    pub fn g(&mut self, code: G, standing: &Standing) {
        let value = i64::from(code.tenths());
        let lasting = Lasting::Of(code.group());
        if code.group() != Group::Once {
            if self.writing == Writing::Short && standing.holds(lasting, value) {
                return;
            }
            self.sets.push((lasting, value));
        }
        let tenths = Decimal(value * (crate::program::number::BILLION / 10));
        self.word(b'G', tenths, None);
    }

    /// An M word.
    pub fn m(&mut self, code: M) {
        self.word(b'M', Decimal(i64::from(code.tenths()) * (crate::program::number::BILLION / 10)), None);
    }

    /// F or S, unless it stands already and lines are written short.
    pub fn lasting(&mut self, what: Lasting, letter: u8, value: Decimal, source: Option<&[u8]>, standing: &Standing) {
        if self.writing == Writing::Short && standing.holds(what, value.0) {
            return;
        }
        self.anew(what, letter, value, source);
    }

    /// F or S, whatever stands.
    pub fn anew(&mut self, what: Lasting, letter: u8, value: Decimal, source: Option<&[u8]>) {
        self.sets.push((what, value.0));
        self.word(letter, value, source);
    }

    /// F for this line only: what stood of it stands no longer.
    pub fn once(&mut self, what: Lasting, letter: u8, value: Decimal, source: Option<&[u8]>) {
        self.sets.push((what, NEVER_WRITTEN));
        self.word(letter, value, source);
    }

    /// Notes that the line names an axis, and whether it moves it.
    pub fn names(&mut self, axis: Axis, moves: bool) {
        self.axes.push((axis, moves));
    }

    /// The line is done: its bytes, and what it sets is noted.
    pub fn finish(self, standing: &mut Standing) -> Vec<u8> {
        standing.count(self.bytes.len() as u64 + 1);
        for (what, value) in self.sets {
            if what == Lasting::Of(Group::Units) && !standing.is(what, value) {
                standing.forget(Lasting::Feed);
            }
            standing.note(what, value);
        }
        for (axis, moved) in self.axes {
            standing.note_axis(axis, moved);
        }
        self.bytes
    }

    /// How long it is, its end not counted.
    pub fn len(&self) -> usize {
        self.bytes.len()
    }
}

/// A word written with a number and nothing computed.
fn is_plain(word: &[u8]) -> bool {
    word.iter().skip(1).all(|b| b.is_ascii_digit() || b"+-. \t".contains(b))
}
