//! One block: a line of the program taken apart into words, settings and a comment (NISTIR 6556 3.3).
//!
//! May live here: the block and its parse, which checks everything that one line alone can break: numbers, letters,
//! repeats, modal groups. May not: what the words do, and anything that outlives the line but parameters.

use super::code::{G, GROUPS, Group, M, M_GROUPS, MGroup};
use super::expression;
use super::fault::{Foreign, LINE_LIMIT, Rule};
use super::number::{Decimal, is_blank, malformed, scan};
use super::parameters::Parameters;
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

/// A rule broken, and the offsets of what breaks it.
pub type Broken = (Rule, Range<usize>);

/// Takes a line apart. The block holds what was read even when a rule is broken.
///
/// # Errors
/// The first rule the line breaks by itself.
#[inline]
pub fn parse(line: &[u8], parameters: &Parameters, block: &mut Block) -> Result<(), Broken> {
    block.forget();
    if line.len() > LINE_LIMIT {
        return Err((Rule::LineTooLong, LINE_LIMIT..LINE_LIMIT + 1));
    }
    let mut at = skip_blanks(line, 0);
    if line.get(at) == Some(&b'/') {
        block.deletable = true;
        at = skip_blanks(line, at + 1);
    }
    if matches!(line.get(at), Some(b'N' | b'n')) {
        at = line_number(line, at)?;
    }
    while let Some(&byte) = line.get(at) {
        let letter = byte & 0xDF;
        at = if letter.is_ascii_uppercase() && byte.is_ascii_alphabetic() {
            word(line, at, letter, parameters, block)?
        } else if is_blank(byte) {
            at + 1
        } else {
            other(line, at, byte, parameters, block)?
        };
    }
    Ok(())
}

#[inline]
fn skip_blanks(line: &[u8], mut at: usize) -> usize {
    while line.get(at).copied().is_some_and(is_blank) {
        at += 1;
    }
    at
}

fn line_number(line: &[u8], start: usize) -> Result<usize, Broken> {
    let mut at = start + 1;
    let mut digits = 0;
    while let Some(&byte) = line.get(at) {
        if byte.is_ascii_digit() {
            digits += 1;
        } else if !is_blank(byte) {
            break;
        }
        at += 1;
    }
    if !(1..=5).contains(&digits) || matches!(line.get(at), Some(b'.' | b'-' | b'+')) {
        return Err((Rule::LineNumber, start..at.max(start + 1)));
    }
    Ok(at)
}

#[inline]
fn word(line: &[u8], start: usize, letter: u8, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    let at = skip_blanks(line, start + 1);
    let (value, end) = match line.get(at) {
        Some(b'0'..=b'9' | b'.' | b'-' | b'+') => match scan(line, at) {
            Ok(read) => read,
            Err((rule, end)) => return Err((rule, start..end)),
        },
        _ => computed(line, start, at, letter, parameters)?,
    };
    if letter == b'G' {
        put_g(block, value, start..end)?;
    } else if letter == b'M' {
        put_m(block, value, start..end)?;
    } else if Letters::of(b"DFHIJKLPQRSTXYZ").0 & (1 << (letter - b'A')) == 0 {
        return uncommon(line, start, letter, end, block);
    } else {
        let bit = 1 << (letter - b'A');
        if block.present.0 & bit != 0 {
            return Err((Rule::LetterTwice(letter.into()), start..end));
        }
        block.present.0 |= bit;
        if let Some(slot) = block.values.get_mut(usize::from(letter - b'A')) {
            *slot = value;
        }
    }
    if let Some(slot) = block.words.get_mut(block.count) {
        #[allow(clippy::cast_possible_truncation, reason = "a line has at most LINE_LIMIT bytes")]
        let (start, end) = (start as u16, end as u16);
        *slot = Word { letter, value, start, end };
        block.count += 1;
    }
    Ok(end)
}

/// A value that is no plain number.
#[cold]
fn computed(
    line: &[u8],
    start: usize,
    at: usize,
    letter: u8,
    parameters: &Parameters,
) -> Result<(Decimal, usize), Broken> {
    match line.get(at) {
        Some(b'[' | b'#') => {}
        Some(b'<') if letter == b'O' => {
            return Err((Rule::Foreign(Foreign::Flow), start..line.len()));
        }
        // a function's name and not the next word: "XSIN[30]", "X SIN [30]"
        Some(byte) if byte.is_ascii_alphabetic() && is_function(line, at) => {}
        Some(_) | None if "BCDEFHIJKLOPQRSTUVWXYZAGM".contains(char::from(letter)) => {
            return Err((Rule::NoNumber(letter.into()), start..start + 1));
        }
        _ => return Err((Rule::LineNumber, start..start + 1)),
    }
    let (value, end) = expression::value(line, at, parameters).map_err(|(rule, end)| (rule, at..end))?;
    let decimal = Decimal::from_f64(value).ok_or((Rule::NumberTooLarge, start..end))?;
    Ok((decimal, end))
}

/// Two letters in a row are a function's name.
fn is_function(line: &[u8], at: usize) -> bool {
    let next = skip_blanks(line, at + 1);
    line.get(next).is_some_and(u8::is_ascii_alphabetic)
}

fn put_g(block: &mut Block, value: Decimal, columns: Range<usize>) -> Result<(), Broken> {
    let Some(code) = G::from_number(value) else {
        return Err((Rule::UnknownG(value), columns));
    };
    let group = code.group();
    if let Some(first) = block.g(group) {
        return Err((Rule::SameGroup { group, first, second: code }, columns));
    }
    let (index, n) = (group as usize, block.count);
    block.g_set |= 1 << index;
    if let (Some(slot), Some(place)) = (block.g.get_mut(index), block.g_at.get_mut(index)) {
        #[allow(clippy::cast_possible_truncation, reason = "at most MOST_WORDS")]
        (*slot = code, *place = n as u8);
    }
    Ok(())
}

fn put_m(block: &mut Block, value: Decimal, columns: Range<usize>) -> Result<(), Broken> {
    let Some(code) = M::from_number(value) else {
        let flow = matches!(value.whole(), Some(98 | 99));
        let rule = if flow { Rule::Foreign(Foreign::Flow) } else { Rule::UnknownM(value) };
        return Err((rule, columns));
    };
    let group = code.group();
    if let Some(first) = block.m(group) {
        return Err((Rule::SameMGroup { group, first, second: code }, columns));
    }
    block.m_count += 1;
    if block.m_count > 4 {
        return Err((Rule::TooManyM, columns));
    }
    let (index, n) = (group as usize, block.count);
    block.m_set |= 1 << index;
    if let (Some(slot), Some(place)) = (block.m.get_mut(index), block.m_at.get_mut(index)) {
        #[allow(clippy::cast_possible_truncation, reason = "at most MOST_WORDS")]
        (*slot = code, *place = n as u8);
    }
    Ok(())
}

/// Letters that are no words here: rotary axes, program numbers, and what no word begins with.
#[cold]
fn uncommon(line: &[u8], start: usize, letter: u8, end: usize, block: &mut Block) -> Result<usize, Broken> {
    let rule = match letter {
        b'A' | b'B' | b'C' => Rule::Foreign(Foreign::Rotary(letter.into())),
        b'N' => Rule::LineNumber,
        b'O' => {
            let alone = block.words().is_empty() && !block.numbered;
            let rest = skip_blanks(line, end);
            if alone && matches!(line.get(rest), None | Some(b'(' | b';')) {
                block.numbered = true;
                return Ok(end);
            }
            Rule::Foreign(Foreign::Flow)
        }
        _ => Rule::UnknownLetter(letter.into()),
    };
    Err((rule, start..end))
}

/// Comments, settings, and what means nothing.
#[cold]
fn other(line: &[u8], start: usize, byte: u8, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    match byte {
        b'(' => comment(line, start, block),
        b';' => {
            block.comment = Some(start + 1..line.len());
            block.semicolon = true;
            Ok(line.len())
        }
        b'#' => setting(line, start, parameters, block),
        0 | 0x1A if line.iter().skip(start).all(|b| matches!(b, 0 | 0x1A | b' ')) => {
            block.zeros = true;
            Ok(line.len())
        }
        0 => Err((Rule::ZeroBytes, start..start + 1)),
        b'0'..=b'9' | b'.' | b'+' | b'-' => Err((Rule::NoLetter, start..malformed(line, start).1)),
        b'%' => Err((Rule::Percent, start..start + 1)),
        _ => Err((stray(line, start), start..start + 1)),
    }
}

fn stray(line: &[u8], at: usize) -> Rule {
    let rest = String::from_utf8_lossy(line.get(at..).unwrap_or_default());
    Rule::Stray(rest.chars().next().unwrap_or('\u{FFFD}'))
}

fn comment(line: &[u8], start: usize, block: &mut Block) -> Result<usize, Broken> {
    let inside = line.get(start + 1..).unwrap_or_default();
    let Some(length) = memchr::memchr(b')', inside) else {
        return Err((Rule::CommentOpen, start..line.len()));
    };
    if let Some(nested) = memchr::memchr(b'(', inside.get(..length).unwrap_or_default()) {
        return Err((Rule::CommentNested, start + 1 + nested..start + 2 + nested));
    }
    block.comment = Some(start + 1..start + 1 + length);
    block.semicolon = false;
    Ok(start + length + 2)
}

fn setting(line: &[u8], start: usize, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    let placed = |(rule, end): (Rule, usize)| (rule, start..end);
    let (number, at) = expression::value(line, start + 1, parameters).map_err(placed)?;
    let index = Parameters::index(number).and_then(Parameters::settable).map_err(|rule| (rule, start..at))?;
    if line.get(at) != Some(&b'=') {
        return Err((Rule::Expected('='), at..at + 1));
    }
    let (value, end) = expression::value(line, at + 1, parameters).map_err(placed)?;
    block.settings.push((index, value));
    Ok(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Block, Rule> {
        let mut block = Block::default();
        parse(text.as_bytes(), &Parameters::default(), &mut block).map_err(|(rule, _)| rule)?;
        Ok(block)
    }

    #[test]
    fn blanks_mean_nothing() {
        // NISTIR 6556 3.3.1
        let block = read("g0x +0. 12 34y 7").unwrap();
        assert_eq!(block.g(Group::Motion), Some(G::G0));
        assert_eq!(block.get(b'X'), Some(Decimal(123_400_000)));
        assert_eq!(block.get(b'Y'), Some(Decimal(7_000_000_000)));
    }

    #[test]
    fn columns_are_the_words_own() {
        let block = read("N10 G1 X10 (now) Y-5").unwrap();
        assert_eq!(block.motion_column(), 5);
        assert_eq!(block.columns(b'Y'), 17..20);
        assert_eq!(block.comment, Some(12..15));
    }

    #[test]
    fn program_numbers_stand_alone() {
        assert!(read("O1001 (plant stand)").unwrap().numbered);
        for text in ["O100 sub", "O<name> call", "O100 if [1]", "O1 G1 X1"] {
            assert_eq!(read(text).unwrap_err(), Rule::Foreign(Foreign::Flow), "{text}");
        }
    }

    #[test]
    fn settings_wait_for_the_line() {
        // NISTIR 6556 3.3.3: the last of two settings wins, both after every value is read
        let block = read("#1=50 #2=[#1/4] X#1").unwrap();
        assert_eq!(block.settings, [(1, 50.0), (2, 0.0)]);
        assert_eq!(block.get(b'X'), Some(Decimal(0)));
    }
}
