//! Bytes in, steps out: splitting into lines, and the two faces of the reader, fed by pushes or laid over a slice.
//!
//! May live here: line ends, the byte order mark, what is kept between pushes. May not: the language.

use super::block::Block;
use super::facts::Facts;
use super::fault::{Fault, LINE_LIMIT, NoProgram, Rule};
use super::frame::Frame;
use super::interpreter::Interpreter;
use super::motion::{Modal, Start, Step};
use super::sniff::{LOOKED_AT, MARK, sniff};
use chargehand_types::quantity::Point;

/// Of a line longer than the language allows only this much is kept: enough to know that it is too long.
const KEPT_OF_A_LINE: usize = 2 * LINE_LIMIT;

/// Splits bytes into lines: LF, CR or both end one.
#[derive(Debug, Default)]
struct Splitter {
    /// Offset of the next unread byte.
    at: usize,
    /// The line before ended with CR, so that an LF right here belongs to it.
    after_cr: bool,
}

impl Splitter {
    /// An LF right after a CR belongs to the line before.
    #[inline]
    fn pass_line_feed(&mut self, bytes: &[u8]) {
        if self.after_cr && self.at < bytes.len() {
            self.after_cr = false;
            self.at += usize::from(bytes.get(self.at) == Some(&b'\n'));
        }
    }

    /// A line of this length is done, and this byte ended it.
    #[inline]
    fn pass(&mut self, length: usize, end: Option<u8>) {
        self.after_cr = end == Some(b'\r');
        self.at += length + 1;
    }

    /// The next line that has its end in `bytes`, or, with `last`, what is left.
    #[inline]
    fn next<'a>(&mut self, bytes: &'a [u8], last: bool) -> Option<&'a [u8]> {
        self.pass_line_feed(bytes);
        let rest = bytes.get(self.at..).unwrap_or_default();
        match memchr::memchr2(b'\n', b'\r', rest) {
            Some(length) => {
                self.pass(length, rest.get(length).copied());
                rest.get(..length)
            }
            None if last && !rest.is_empty() => {
                self.at = bytes.len();
                Some(rest)
            }
            None => None,
        }
    }
}

/// What stands between the bytes and the interpreter.
#[derive(Debug)]
struct Inner {
    interpreter: Interpreter,
    lines: Splitter,
    looked: bool,
    refused: bool,
    closed: bool,
}

impl Inner {
    fn new(start: Start) -> Self {
        Self {
            interpreter: Interpreter::new(start),
            lines: Splitter::default(),
            looked: false,
            refused: false,
            closed: false,
        }
    }

    #[inline(always)]
    fn next(&mut self, bytes: &[u8], last: bool) -> Option<Step> {
        if let Some(step) = self.read_plain(bytes) {
            return Some(step);
        }
        self.next_careful(bytes, last)
    }

    #[inline(never)]
    fn next_careful(&mut self, bytes: &[u8], last: bool) -> Option<Step> {
        let mut out = None;
        loop {
            if !self.interpreter.steps.is_empty() {
                return self.interpreter.steps.pop_front();
            }
            if out.is_some() || self.read_line(bytes, last, &mut out).is_none() {
                return out;
            }
        }
    }

    #[inline(always)]
    fn read_plain(&mut self, bytes: &[u8]) -> Option<Step> {
        if !self.looked || self.refused || !self.interpreter.steps.is_empty() {
            return None;
        }
        self.lines.pass_line_feed(bytes);
        let rest = bytes.get(self.lines.at..)?;
        let (step, length) = self.interpreter.read_plain(rest)?;
        self.lines.pass(length, rest.get(length).copied());
        Some(step)
    }

    #[inline]
    fn read_line(&mut self, bytes: &[u8], last: bool, out: &mut Option<Step>) -> Option<()> {
        if self.looked && !self.refused {
            self.lines.pass_line_feed(bytes);
            let rest = bytes.get(self.lines.at..).unwrap_or_default();
            if let Some(length) = self.interpreter.read_usual(rest, out) {
                self.lines.pass(length, rest.get(length).copied());
                return Some(());
            }
        }
        let line = self.next_line(bytes, last)?;
        self.interpreter.read(line, out);
        Some(())
    }

    #[inline]
    fn next_line<'a>(&mut self, bytes: &'a [u8], last: bool) -> Option<&'a [u8]> {
        if !self.looked && !self.look(bytes, last) {
            return None;
        }
        if self.refused {
            self.lines.at = bytes.len();
            return None;
        }
        let line = self.lines.next(bytes, last);
        if line.is_none() && last {
            self.close();
        }
        line
    }

    /// Looks at the first bytes once there are enough of them.
    fn look(&mut self, bytes: &[u8], last: bool) -> bool {
        if bytes.len() < LOOKED_AT && !last {
            return false;
        }
        self.looked = true;
        let head = bytes.get(..LOOKED_AT.min(bytes.len())).unwrap_or_default();
        if let Some(what) = sniff(head) {
            self.interpreter.file_fault(Rule::NoProgram(what), b"");
            self.refused = true;
        } else if bytes.starts_with(MARK) {
            self.lines.at = MARK.len();
        }
        true
    }

    /// The last line has been read.
    fn close(&mut self) {
        if !self.closed && self.interpreter.facts.blocks == 0 && self.interpreter.faults().is_empty() {
            self.interpreter.file_fault(Rule::NoProgram(NoProgram::Empty), b"");
        }
        self.closed = true;
    }
}

/// Reads a program that comes in pieces.
///
/// Push bytes, then draw steps until there are none, and so on; `finish`, then draw the rest. Between pushes it keeps
/// an unfinished line and the steps of one block, nothing that grows with the program.
#[derive(Debug)]
pub struct Reader {
    inner: Inner,
    kept: Vec<u8>,
    finished: bool,
}

impl Reader {
    /// Before the first byte.
    #[must_use]
    pub fn new(start: Start) -> Self {
        Self { inner: Inner::new(start), kept: Vec::new(), finished: false }
    }

    /// More of the program.
    pub fn push(&mut self, bytes: &[u8]) {
        let done = std::mem::take(&mut self.inner.lines.at).min(self.kept.len());
        self.kept.drain(..done);
        self.cut_long_line();
        self.kept.extend_from_slice(bytes);
    }

    /// An unfinished line that is too long already is kept only so far as to say so.
    fn cut_long_line(&mut self) {
        if self.inner.looked && self.kept.len() > KEPT_OF_A_LINE && memchr::memchr2(b'\n', b'\r', &self.kept).is_none()
        {
            self.kept.truncate(KEPT_OF_A_LINE);
        }
    }

    /// That was all of it.
    pub fn finish(&mut self) {
        self.finished = true;
    }

    /// The next thing the program makes happen, as far as what was pushed tells.
    #[allow(clippy::should_implement_trait, reason = "more may come after nothing: it is no iterator")]
    #[inline(always)]
    pub fn next(&mut self) -> Option<Step> {
        self.inner.next(&self.kept, self.finished)
    }

    /// Reads the next line whole: its words, and everything it makes happen into `steps` (emptied first). For what
    /// needs the writing as well as the motion; not to be mixed with [`Reader::next`].
    pub fn next_block(&mut self, steps: &mut Vec<Step>) -> Option<BlockRead<'_>> {
        let line = self.inner.next_line(&self.kept, self.finished)?;
        steps.clear();
        let faults = self.inner.interpreter.faults().len();
        let mut out = None;
        let interpreter = &mut self.inner.interpreter;
        interpreter.read(line, &mut out);
        steps.extend(interpreter.steps.drain(..));
        steps.extend(out);
        let good = interpreter.faults().len() == faults;
        let now = (Modal { shift: interpreter.frame.shift(), ..interpreter.modal }, interpreter.frame.base());
        let (modal, base) = interpreter.before_end.take().unwrap_or(now);
        let (frame, at) = (&interpreter.frame, interpreter.at);
        Some(BlockRead { line: interpreter.line, text: line, block: &interpreter.block, good, modal, base, at, frame })
    }

    /// What is wrong so far, in order; at most [`super::fault::MOST_FAULTS`].
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        self.inner.interpreter.faults()
    }

    /// Lines read.
    #[must_use]
    pub fn lines(&self) -> u32 {
        self.inner.interpreter.facts.lines
    }

    /// What was seen so far.
    #[must_use]
    pub fn facts(&self) -> &Facts {
        &self.inner.interpreter.facts
    }

    /// Every modal group after the lines read.
    #[must_use]
    pub fn modal(&self) -> Modal {
        Modal { shift: self.inner.interpreter.frame.shift(), ..self.inner.interpreter.modal }
    }

    /// Where the bit is after the lines read, in the work frame.
    #[must_use]
    pub fn at(&self) -> Point {
        self.inner.interpreter.at
    }

    /// How programmed coordinates lie after the lines read.
    #[must_use]
    pub fn frame(&self) -> &Frame {
        &self.inner.interpreter.frame
    }
}

/// One line as [`Reader::next_block`] gives it.
#[derive(Debug)]
pub struct BlockRead<'a> {
    /// 1-based.
    pub line: u32,
    /// Its bytes.
    pub text: &'a [u8],
    /// Its words.
    pub block: &'a Block,
    /// It broke no rule.
    pub good: bool,
    /// Every modal group after it, but before M2 or M30 sets any back: as its own motion has them.
    pub modal: Modal,
    /// What its programmed coordinates count from, in the work frame.
    pub base: Point,
    /// Where the bit is after it, in the work frame.
    pub at: Point,
    /// How programmed coordinates lie after it.
    pub frame: &'a Frame,
}

/// Reads a program that lies in memory (or is mapped) whole.
#[derive(Debug)]
pub struct Steps<'a> {
    inner: Inner,
    bytes: &'a [u8],
}

/// Everything a program makes happen, one step after the other. Nothing is copied.
#[must_use]
pub fn steps(bytes: &[u8], start: Start) -> Steps<'_> {
    Steps { inner: Inner::new(start), bytes }
}

impl Iterator for Steps<'_> {
    type Item = Step;

    #[inline(always)]
    fn next(&mut self) -> Option<Step> {
        self.inner.next(self.bytes, true)
    }
}

impl Steps<'_> {
    /// What is wrong so far, in order; at most [`super::fault::MOST_FAULTS`].
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        self.inner.interpreter.faults()
    }

    /// Lines read.
    #[must_use]
    pub fn lines(&self) -> u32 {
        self.inner.interpreter.facts.lines
    }

    /// What was seen so far.
    #[must_use]
    pub fn facts(&self) -> &Facts {
        &self.inner.interpreter.facts
    }

    /// Every modal group after the lines read.
    #[must_use]
    pub fn modal(&self) -> Modal {
        Modal { shift: self.inner.interpreter.frame.shift(), ..self.inner.interpreter.modal }
    }

    /// Where the bit is after the lines read, in the work frame.
    #[must_use]
    pub fn at(&self) -> Point {
        self.inner.interpreter.at
    }
}
