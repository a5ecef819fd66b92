//! The push-fed reader: chunks of text in, steps out; nothing is kept that grows with the program.

use super::block;
use super::fault::{FAULTS_KEPT, Fault, Rule};
use super::interpret::Interpreter;
use super::lex::{self, Words};
use super::motion::{Modal, Place, Start, Step};
use chargehand_types::quantity::Point;
use std::collections::VecDeque;

/// A line longer than this is cut off: it is no program line, whatever follows.
const CARRY_LONGEST: usize = 64 * 1024;
/// How much of a line an excerpt shows.
const EXCERPT_LONGEST: usize = 120;
/// How much of a file is looked at to tell that it is no program.
const LOOK: usize = 4096;

/// Reads a program in chunks.
pub struct Reader {
    machine: Interpreter,
    words: Words,
    carry: Vec<u8>,
    out: VecDeque<Step>,
    faults: Vec<Fault>,
    loose: Vec<(Place, f64)>,
    summary: Summary,
    begun: bool,
    closed: bool,
    after_cr: bool,
    nothing_yet: bool,
}

/// What is known of the program as a whole, once it is read.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Summary {
    /// Lines read.
    pub lines: u32,
    /// Blocks: lines with at least one word.
    pub blocks: u32,
    /// Where M2 or M30 stands.
    pub end: Option<Place>,
    /// A lone `%` opened it.
    pub opened: bool,
    /// A second lone `%` closed it.
    pub closed: bool,
    /// The first G20.
    pub inch: Option<Place>,
    /// The first G21.
    pub metric: Option<Place>,
    /// Faults in all, those not kept counted too.
    pub faults: u32,
    /// Arcs whose radii differ by more than NIST's tolerance.
    pub loose_arcs: u32,
}

impl Reader {
    /// A reader for a machine that stands so.
    #[must_use]
    pub fn new(start: Start) -> Self {
        Self {
            machine: Interpreter::new(start),
            words: Words::default(),
            carry: Vec::new(),
            out: VecDeque::new(),
            faults: Vec::new(),
            loose: Vec::new(),
            summary: Summary::default(),
            begun: false,
            closed: false,
            after_cr: false,
            nothing_yet: true,
        }
    }

    /// Takes the next chunk. Take all steps before the next one: what is not taken is kept.
    pub fn push(&mut self, chunk: &[u8]) {
        if !self.begun {
            self.begun = true;
            if let Some(what) = not_a_program(chunk) {
                self.closed = true;
                self.fault(Place { line: 1, column: 1 }, Rule::NotAProgram(what), b"");
            }
        }
        let mut rest = chunk;
        while let Some(end) = memchr::memchr2(b'\n', b'\r', rest) {
            let (text, after) = rest.split_at(end);
            // CR LF is one line end, also across chunks: the empty line after a CR is not counted (see `line_end`)
            let ended_by = after.first().copied();
            rest = after.get(1..).unwrap_or_default();
            if self.carry.is_empty() {
                self.line_end(text, ended_by);
            } else {
                self.extend_carry(text);
                let text = std::mem::take(&mut self.carry);
                self.line_end(&text, ended_by);
                self.carry = text;
                self.carry.clear();
            }
        }
        self.extend_carry(rest);
    }

    fn extend_carry(&mut self, text: &[u8]) {
        let room = CARRY_LONGEST.saturating_sub(self.carry.len());
        self.carry.extend_from_slice(text.get(..room.min(text.len())).unwrap_or_default());
    }

    fn line_end(&mut self, text: &[u8], ended_by: Option<u8>) {
        let after_cr = std::mem::replace(&mut self.after_cr, ended_by == Some(b'\r'));
        if after_cr && text.is_empty() && ended_by == Some(b'\n') {
            return;
        }
        self.line(text);
    }

    /// There is no more text.
    pub fn finish(&mut self) {
        if !self.carry.is_empty() {
            let text = std::mem::take(&mut self.carry);
            if !text.iter().all(|b| *b == 0) {
                self.line(&text);
            }
        }
    }

    /// The next step, if one is ready.
    pub fn next_step(&mut self) -> Option<Step> {
        self.out.pop_front()
    }

    /// The first faults, in the order of the text.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The first arcs whose radii differ by more than NIST's tolerance, with the difference in mm.
    #[must_use]
    pub fn loose_arcs(&self) -> &[(Place, f64)] {
        &self.loose
    }

    /// The words of the last line read, expressions evaluated.
    #[must_use]
    pub const fn last_words(&self) -> &Words {
        &self.words
    }

    /// Every modal group as it stands.
    #[must_use]
    pub const fn modal(&self) -> Modal {
        self.machine.modal
    }

    /// Where the bit is, in the work frame.
    #[must_use]
    pub const fn at(&self) -> Point {
        self.machine.at
    }

    /// What is added to a programmed coordinate to get the work frame.
    #[must_use]
    pub fn offset(&self) -> Point {
        self.machine.offset()
    }

    /// Whether the program has said that it ends.
    #[must_use]
    pub const fn ended(&self) -> bool {
        self.machine.ended || self.closed
    }

    /// What is known of the program as a whole.
    #[must_use]
    pub const fn summary(&self) -> Summary {
        let [inch, metric] = self.machine.unit_words;
        Summary { inch, metric, ..self.summary }
    }

    fn line(&mut self, text: &[u8]) {
        self.summary.lines = self.summary.lines.saturating_add(1);
        let line = self.summary.lines;
        let text = if line == 1 { text.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(text) } else { text };
        if self.closed || self.is_percent(text) || self.machine.ended {
            return;
        }
        if let Err((column, rule)) = lex::line(text, &self.machine.parameters, &mut self.words) {
            self.nothing_yet = false;
            return self.fault(place(line, column), rule, text);
        }
        if self.words.is_blank() && self.words.comment.is_none() {
            return;
        }
        self.nothing_yet = false;
        if !self.words.is_blank() {
            self.summary.blocks = self.summary.blocks.saturating_add(1);
        }
        let done =
            block::sort(&self.words).and_then(|b| self.machine.block(line, text, &self.words, &b, &mut self.out));
        if let Err((column, rule)) = done {
            return self.fault(place(line, column), rule, text);
        }
        if let Some(differ) = self.machine.loose {
            self.summary.loose_arcs = self.summary.loose_arcs.saturating_add(1);
            if self.loose.len() < FAULTS_KEPT {
                self.loose.push((Place { line, column: 1 }, differ));
            }
        }
        if self.machine.ended && self.summary.end.is_none() {
            self.summary.end = Some(Place { line, column: 1 });
        }
    }

    /// A lone `%`: opens the program as its first line, closes it later (3.3: what follows is ignored).
    fn is_percent(&mut self, text: &[u8]) -> bool {
        let mut inside = text.iter().filter(|b| !b.is_ascii_whitespace());
        if inside.next() != Some(&b'%') || inside.next().is_some() {
            return false;
        }
        if self.nothing_yet && !self.summary.opened {
            self.summary.opened = true;
        } else {
            self.summary.closed = true;
            self.closed = true;
        }
        self.nothing_yet = false;
        true
    }

    fn fault(&mut self, place: Place, rule: Rule, text: &[u8]) {
        self.summary.faults = self.summary.faults.saturating_add(1);
        if self.faults.len() < FAULTS_KEPT {
            let shown = text.get(..EXCERPT_LONGEST.min(text.len())).unwrap_or_default();
            let text = String::from_utf8_lossy(shown)
                .chars()
                .map(|c| if c.is_control() && c != '\t' { '?' } else { c })
                .collect();
            self.faults.push(Fault { place, rule, text });
        }
    }
}

fn place(line: u32, column: usize) -> Place {
    Place { line, column: u32::try_from(column).unwrap_or(u32::MAX).saturating_add(1) }
}

/// What a file is, if it is plainly no program.
fn not_a_program(chunk: &[u8]) -> Option<&'static str> {
    const KNOWN: &[(&[u8], &str)] = &[
        (b"\xFF\xFE", "it is UTF-16 text; save it as plain text"),
        (b"\xFE\xFF", "it is UTF-16 text; save it as plain text"),
        (b"%PDF", "it is a PDF document"),
        (b"\x89PNG", "it is a picture"),
        (b"\xFF\xD8\xFF", "it is a picture"),
        (b"GIF8", "it is a picture"),
        (b"PK\x03\x04", "it is a packed archive"),
        (b"\x7FELF", "it is a machine program"),
    ];
    let head = chunk.get(..LOOK.min(chunk.len())).unwrap_or_default();
    if let Some((_, what)) = KNOWN.iter().find(|(magic, _)| head.starts_with(magic)) {
        return Some(what);
    }
    let text_end = head.iter().rposition(|b| *b != 0).map_or(0, |i| i + 1);
    let odd = head.iter().take(text_end).filter(|b| **b < 9 || (**b > 13 && **b < 32)).count();
    (odd * 20 > text_end).then_some("it holds bytes that no text has")
}

/// All steps of a whole text. What does not read is left out; ask a [`Reader`] for the faults.
pub fn steps(text: &[u8], start: Start) -> impl Iterator<Item = Step> + '_ {
    let mut reader = Reader::new(start);
    let mut chunks = text.chunks(64 * 1024);
    let mut finished = false;
    std::iter::from_fn(move || {
        loop {
            if let Some(step) = reader.next_step() {
                return Some(step);
            }
            match chunks.next() {
                Some(chunk) => reader.push(chunk),
                None if finished => return None,
                None => {
                    reader.finish();
                    finished = true;
                }
            }
        }
    })
}
