//! The plainest line, which is nearly every line of a surfacing program: a straight move with axis words and perhaps
//! a feed, read in one pass without a block.
//!
//! May live here: the scan of such a line, and the move it makes when nothing special is in force. May not: any fault:
//! a line that is in any way doubtful is left unread to the careful way, which decides.

use super::interpreter::Interpreter;
use super::motion::{Doing, MotionMode, Move, MoveKind, Pace, Place, Step};
use super::moving::FARTHEST;
use super::number::Eight;
use chargehand_types::quantity::{Feed, Length, Point};

/// Nanometres in the last decimal place of a number with so many decimals; 0 where that is no whole number.
type Scale = [i64; 8];
const MILLIMETRES: Scale = [1_000_000, 100_000, 10_000, 1_000, 100, 10, 1, 0];
const INCHES: Scale = [25_400_000, 2_540_000, 254_000, 25_400, 2_540, 254, 0, 0];

/// What a plain line says: lengths in nanometres, F in nanometres a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Said {
    motion: Option<MotionMode>,
    x: Option<i64>,
    y: Option<i64>,
    z: Option<i64>,
    feed: Option<i64>,
    /// Offset of the word that asks for the motion.
    start: usize,
    /// Of the whole line, its end left out.
    length: usize,
}

/// A line is looked at in one piece of this size, its end and what follows included; the last word of a plain line
/// begins before [`LAST_WORD`].
const PIECE: usize = 96;
const LAST_WORD: usize = PIECE - 16;

/// A place in the line that is being scanned.
struct Scan<'a> {
    piece: &'a [u8; PIECE],
    at: usize,
    scale: &'a Scale,
}

/// Reads the line at the start of `bytes` if it is plain: a line number or none, G0 or G1 or none, X, Y, Z, F in this
/// order, at least one of the axes, all in capitals, only spaces between. There must be as many bytes as a piece has.
#[inline(always)]
fn scan(bytes: &[u8], scale: &Scale) -> Option<Said> {
    let mut scan = Scan { piece: bytes.first_chunk()?, at: 0, scale };
    scan.line_number()?;
    let before = scan.at;
    let motion = scan.motion()?;
    let start = if motion.is_some() { before } else { scan.at };
    let x = scan.word(b'X')?;
    let y = scan.word(b'Y')?;
    let z = scan.word(b'Z')?;
    let feed = scan.word(b'F')?;
    let length = scan.at;
    let ends = matches!(scan.piece.get(length), Some(b'\n' | b'\r'));
    let moves = x.is_some() || y.is_some() || z.is_some();
    (ends && moves).then_some(Said { motion, x, y, z, feed, start, length })
}

impl Scan<'_> {
    /// Sixteen bytes from here on, if the first is this letter.
    #[inline(always)]
    fn is(&self, letter: u8) -> Option<&[u8; 16]> {
        if self.at > LAST_WORD {
            return None;
        }
        let word: &[u8; 16] = self.piece.get(self.at..)?.first_chunk()?;
        (word[0] == letter).then_some(word)
    }

    /// Passes so many bytes and the spaces after them.
    #[inline(always)]
    fn pass(&mut self, length: usize) {
        self.at += length;
        while self.piece.get(self.at) == Some(&b' ') {
            self.at += 1;
        }
    }

    /// Passes a line number of one to five digits, if there is one.
    #[inline(always)]
    fn line_number(&mut self) -> Option<()> {
        if let Some(word) = self.is(b'N') {
            let digits = (Eight::of(word, 1)?.others().trailing_zeros() / 8) as usize;
            if !(1..=5).contains(&digits) {
                return None;
            }
            self.pass(1 + digits);
        }
        Some(())
    }

    /// G0, G1, G00, G01, if there is a G word. Another digit, or a point, is none of the words that may follow.
    #[inline(always)]
    fn motion(&mut self) -> Option<Option<MotionMode>> {
        let Some(word) = self.is(b'G') else { return Some(None) };
        let (mode, length) = match (word[1], word[2]) {
            (b'0', b'0') => (MotionMode::G0, 3),
            (b'0', b'1') => (MotionMode::G1, 3),
            (b'0', _) => (MotionMode::G0, 2),
            (b'1', _) => (MotionMode::G1, 2),
            _ => return None,
        };
        self.pass(length);
        Some(Some(mode))
    }

    /// The word of this letter, if it comes next; its value exactly.
    #[inline(always)]
    fn word(&mut self, letter: u8) -> Option<Option<i64>> {
        let Some(word) = self.is(letter) else { return Some(None) };
        let (value, length) = length(word, self.scale)?;
        self.pass(length);
        Some(Some(value))
    }
}

/// The value of a word in nanometres, exactly, and the word's length: at least one digit, at most seven. What stands
/// after it is looked at as the next word; a digit or a point is none.
#[inline(always)]
fn length(word: &[u8; 16], scale: &Scale) -> Option<(i64, usize)> {
    let sign = usize::from(word[1] == b'-');
    let eight = Eight::of(word, 1 + sign)?;
    let others = eight.others();
    let point = (others.trailing_zeros() / 8) as usize;
    let (digits, decimals, count, end) = if point < 8 && eight.at(point) == b'.' {
        let end = ((others & (others - 1)).trailing_zeros() / 8) as usize;
        (eight.without(point), end - point - 1, end - 1, end)
    } else {
        (eight, 0, point, point)
    };
    // with seven digits at most there are seven decimals at most
    if !(1..=7).contains(&count) {
        return None;
    }
    let one = *scale.get(decimals)?;
    if one == 0 {
        return None;
    }
    #[allow(clippy::cast_possible_wrap, reason = "at most seven digits; the sign is 0 or 1")]
    let (size, sign_bit) = (digits.first(count) as i64 * one, sign as i64);
    Some(((size ^ -sign_bit) + sign_bit, 1 + sign + end))
}

impl Interpreter {
    /// Whether nothing is in force that a plain line would have to heed.
    #[inline(always)]
    fn is_settled(&self) -> bool {
        matches!(self.modal.motion, MotionMode::G0 | MotionMode::G1)
            && !self.modal.inverse_time
            && !self.over
            && !self.zeros
            && self.unsure == 0
            && self.frame.is_known()
    }

    /// Reads the line at the start of `bytes` if it is plain: its step and its length. Otherwise nothing has changed.
    #[inline(always)]
    pub(super) fn read_plain(&mut self, bytes: &[u8]) -> Option<(Step, usize)> {
        if !self.is_settled() {
            return None;
        }
        let said = scan(bytes, if self.modal.inch { &INCHES } else { &MILLIMETRES })?;
        let base = if self.modal.incremental { self.at } else { self.frame.base() };
        // what wraps is as far out as what is refused below
        let place = |value: Option<i64>, base: Length, at: Length| value.map_or(at, |v| Length(base.0.wrapping_add(v)));
        let to = Point {
            x: place(said.x, base.x, self.at.x),
            y: place(said.y, base.y, self.at.y),
            z: place(said.z, base.z, self.at.z),
        };
        let far = |place: Length| place.0.wrapping_add(FARTHEST).cast_unsigned() > 2 * FARTHEST.cast_unsigned();
        if far(to.x) | far(to.y) | far(to.z) {
            return None;
        }
        if let Some(feed) = said.feed {
            if feed < 0 {
                return None;
            }
            self.modal.feed = (feed > 0).then_some(Feed(feed));
        }
        if let Some(mode) = said.motion {
            self.modal.motion = mode;
        }
        let (kind, pace) = if self.modal.motion == MotionMode::G0 {
            (MoveKind::Rapid, Pace::Rapid)
        } else {
            (MoveKind::Feed, self.modal.feed.map_or(Pace::Unset, Pace::Feed))
        };
        self.count();
        self.facts.blocks += 1;
        self.named |= u8::from(said.x.is_some()) | u8::from(said.y.is_some()) << 1 | u8::from(said.z.is_some()) << 2;
        let from = std::mem::replace(&mut self.at, to);
        #[allow(clippy::cast_possible_truncation, reason = "a plain line is shorter than a piece")]
        let place = Place { line: self.line, column: said.start as u32 + 1 };
        let made = Move { kind, from, to, pace, named: self.named, of_cycle: false };
        Some((Step { place, doing: Doing::Move(made), modal: self.modal }, said.length))
    }
}
