//! One block: a line of the program taken apart into words, settings and a comment (NISTIR 6556 3.3).
//!
//! May live here: the block, and the rules about repeats and modal groups. May not: the scan of a line, what the words
//! do, anything that outlives the line.

use super::code::{G, GROUPS, Group, M, M_GROUPS, MGroup};
use super::fault::{Foreign, Rule};
use super::number::Decimal;
use std::ops::Range;

/// The letters that words begin with, as bits of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Letters(pub u32);

impl Letters {
    /// X, Y, Z.
    pub const AXES: Self = Self::of(b"XYZ");

    /// The set of these capital letters.
    #[must_use]
    pub const fn of(letters: &[u8]) -> Self {
        let mut set = 0;
        let mut n = 0;
        while n < letters.len() {
            set |= 1 << (letters[n] - b'A');
            n += 1;
        }
        Self(set)
    }

    /// Whether any letter is in both.
    #[must_use]
    #[inline]
    pub const fn any(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// The letters of this set that are not in the other.
    #[must_use]
    #[inline]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The letters of either.
    #[must_use]
    #[inline]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The first letter of the set in the alphabet.
    #[must_use]
    pub fn first(self) -> Option<u8> {
        (self.0 != 0).then(|| b'A' + (self.0.trailing_zeros() as u8))
    }
}

/// One word as it stands in the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Word {
    /// A capital letter.
    pub letter: u8,
    /// Its value.
    pub value: Decimal,
    /// Offset of its letter in the line.
    pub start: u16,
    /// Offset past its value.
    pub end: u16,
}

/// A line has at most this many words: each letter once, G once a group, M four times.
const MOST_WORDS: usize = 48;
/// M words a line may have (NISTIR 6556 3.3.4).
const MOST_M: u8 = 4;

/// A rule broken, and the offsets of what breaks it.
pub type Broken = (Rule, Range<usize>);

/// What a line says.
#[derive(Debug, Clone)]
pub struct Block {
    words: [Word; MOST_WORDS],
    count: usize,
    present: Letters,
    values: [Decimal; 26],
    g: [G; GROUPS],
    g_at: [u8; GROUPS],
    g_set: u16,
    m: [M; M_GROUPS],
    m_at: [u8; M_GROUPS],
    m_set: u8,
    m_count: u8,
    /// Parameter settings in the order written, in force once the line is read.
    pub settings: Vec<(u16, f64)>,
    /// Offsets of the last comment's text, brackets or semicolon left out.
    pub comment: Option<Range<usize>>,
    /// That comment began with a semicolon, which is an extension of the language.
    pub semicolon: bool,
    /// The line began with `/`.
    pub deletable: bool,
    /// A program number stood on the line, and is not used.
    pub numbered: bool,
    /// The rest of the line is zero bytes.
    pub zeros: bool,
}

impl Default for Block {
    fn default() -> Self {
        Self {
            words: [Word::default(); MOST_WORDS],
            count: 0,
            present: Letters::default(),
            values: [Decimal::default(); 26],
            g: [G::G0; GROUPS],
            g_at: [0; GROUPS],
            g_set: 0,
            m: [M::M0; M_GROUPS],
            m_at: [0; M_GROUPS],
            m_set: 0,
            m_count: 0,
            settings: Vec::new(),
            comment: None,
            semicolon: false,
            deletable: false,
            numbered: false,
            zeros: false,
        }
    }
}

impl Block {
    /// The words in the order written; line numbers and program numbers are left out.
    #[must_use]
    #[inline]
    pub fn words(&self) -> &[Word] {
        self.words.get(..self.count).unwrap_or_default()
    }

    /// The letters there are, G and M left out.
    #[must_use]
    #[inline]
    pub fn letters(&self) -> Letters {
        self.present
    }

    /// Whether the letter is there.
    #[must_use]
    #[inline]
    pub fn has(&self, letter: u8) -> bool {
        self.present.0 & (1 << (letter - b'A')) != 0
    }

    /// The letter's value, if it is there.
    #[must_use]
    #[inline]
    pub fn get(&self, letter: u8) -> Option<Decimal> {
        if self.has(letter) { self.values.get(usize::from(letter - b'A')).copied() } else { None }
    }

    /// The G word of a group.
    #[must_use]
    #[inline]
    pub fn g(&self, group: Group) -> Option<G> {
        if self.g_set & (1 << group as u16) == 0 { None } else { self.g.get(group as usize).copied() }
    }

    /// The M word of a group.
    #[must_use]
    #[inline]
    pub fn m(&self, group: MGroup) -> Option<M> {
        if self.m_set & (1 << group as u8) == 0 { None } else { self.m.get(group as usize).copied() }
    }

    /// No G word but perhaps one of motion, no M word.
    #[must_use]
    #[inline]
    pub fn only_moves(&self) -> bool {
        self.g_set & !(1 << Group::Motion as u16) == 0 && self.m_set == 0
    }

    /// Where the G word of a group stands.
    #[must_use]
    pub fn g_columns(&self, group: Group) -> Range<usize> {
        self.g(group).and(self.g_at.get(group as usize)).map_or(0..1, |n| self.columns_of((*n).into()))
    }

    /// Where the M word of a group stands.
    #[must_use]
    pub fn m_columns(&self, group: MGroup) -> Range<usize> {
        self.m(group).and(self.m_at.get(group as usize)).map_or(0..1, |n| self.columns_of((*n).into()))
    }

    /// Where the word of a letter stands.
    #[must_use]
    pub fn columns(&self, letter: u8) -> Range<usize> {
        self.words().iter().find(|w| w.letter == letter).map_or(0..1, |w| w.start.into()..w.end.into())
    }

    /// The column, from 1, of the word that asks for a motion: its G word, else the first axis word.
    #[must_use]
    #[inline]
    pub fn motion_column(&self) -> u32 {
        if self.g(Group::Motion).is_some() {
            return self.g_columns(Group::Motion).start as u32 + 1;
        }
        self.columns_of_axis().start as u32 + 1
    }

    /// Where the first axis word stands.
    #[must_use]
    pub fn columns_of_axis(&self) -> Range<usize> {
        let axis = |w: &&Word| matches!(w.letter, b'X' | b'Y' | b'Z');
        self.words().iter().find(axis).map_or(0..1, |w| w.start.into()..w.end.into())
    }

    /// No words.
    #[must_use]
    #[inline]
    pub fn is_bare(&self) -> bool {
        self.count == 0
    }

    /// Nothing but motion in the modes in force, and perhaps its feed.
    #[must_use]
    #[inline]
    pub fn is_plain(&self) -> bool {
        self.only_moves()
            && self.comment.is_none()
            && self.settings.is_empty()
            && !self.present.any(Letters::of(b"ST"))
            && !self.deletable
            && !self.zeros
    }

    /// Adds a word in the order written.
    #[inline]
    pub(super) fn push(&mut self, letter: u8, value: Decimal, start: usize, end: usize) {
        if let Some(slot) = self.words.get_mut(self.count) {
            #[allow(clippy::cast_possible_truncation, reason = "a line has at most LINE_LIMIT bytes")]
            let (start, end) = (start as u16, end as u16);
            *slot = Word { letter, value, start, end };
            self.count += 1;
        }
    }

    /// Notes the value of a letter that may stand once.
    #[inline]
    pub(super) fn put(&mut self, letter: u8, value: Decimal) -> Result<(), Rule> {
        let bit = 1 << (letter - b'A');
        if self.present.0 & bit != 0 {
            return Err(Rule::LetterTwice(letter.into()));
        }
        self.present.0 |= bit;
        if let Some(slot) = self.values.get_mut(usize::from(letter - b'A')) {
            *slot = value;
        }
        Ok(())
    }

    /// Notes the value of a word that is about to be pushed, if it breaks no rule.
    #[inline]
    pub(super) fn put_usual(&mut self, letter: u8, value: Decimal) -> bool {
        match letter {
            b'G' => self.put_usual_g(value),
            b'M' => self.put_m(value).is_ok(),
            _ => {
                let index = letter - b'A';
                let new = self.present.0 & (1 << index) == 0;
                self.present.0 |= 1 << index;
                if let Some(slot) = self.values.get_mut(usize::from(index)) {
                    *slot = value;
                }
                new
            }
        }
    }

    #[inline]
    fn put_usual_g(&mut self, value: Decimal) -> bool {
        let Some(code) = G::from_number(value) else { return false };
        let index = code.group() as usize;
        let new = self.g_set & (1 << index) == 0;
        self.g_set |= 1 << index;
        if let (Some(slot), Some(place)) = (self.g.get_mut(index), self.g_at.get_mut(index)) {
            *slot = code;
            *place = self.count as u8;
        }
        new
    }

    /// Notes a G word that is about to be pushed.
    pub(super) fn put_g(&mut self, value: Decimal) -> Result<(), Rule> {
        let code = G::from_number(value).ok_or(Rule::UnknownG(value))?;
        let group = code.group();
        if let Some(first) = self.g(group) {
            return Err(Rule::SameGroup { group, first, second: code });
        }
        let index = group as usize;
        self.g_set |= 1 << index;
        if let (Some(slot), Some(place)) = (self.g.get_mut(index), self.g_at.get_mut(index)) {
            *slot = code;
            *place = self.count as u8;
        }
        Ok(())
    }

    /// Notes an M word that is about to be pushed.
    pub(super) fn put_m(&mut self, value: Decimal) -> Result<(), Rule> {
        let Some(code) = M::from_number(value) else {
            let flow = matches!(value.whole(), Some(98 | 99));
            return Err(if flow { Rule::Foreign(Foreign::Flow) } else { Rule::UnknownM(value) });
        };
        let group = code.group();
        if let Some(first) = self.m(group) {
            return Err(Rule::SameMGroup { group, first, second: code });
        }
        self.m_count += 1;
        if self.m_count > MOST_M {
            return Err(Rule::TooManyM);
        }
        let index = group as usize;
        self.m_set |= 1 << index;
        if let (Some(slot), Some(place)) = (self.m.get_mut(index), self.m_at.get_mut(index)) {
            *slot = code;
            *place = self.count as u8;
        }
        Ok(())
    }

    fn columns_of(&self, word: usize) -> Range<usize> {
        self.words.get(word).map_or(0..1, |w| w.start.into()..w.end.into())
    }

    /// Makes it say nothing.
    pub(super) fn forget(&mut self) {
        self.count = 0;
        self.present = Letters::default();
        self.g_set = 0;
        self.m_set = 0;
        self.m_count = 0;
        self.settings.clear();
        self.comment = None;
        self.semicolon = false;
        self.deletable = false;
        self.numbered = false;
        self.zeros = false;
    }
}
