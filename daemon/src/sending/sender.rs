//! The push-fed sender: program text in, [`SentLine`]s out.
//!
//! May live here: feeding the reader and the writer, faults. May not: how a block is written.

use super::SentLine;
use super::entry::{CannotEnter, Entered, Entry, PLUNGE};
use super::writer::{Before, Writer};
use crate::program::fault::{Fault, MOST_FAULTS};
use crate::program::motion::{Doing, Move, MoveKind, Pace, Start, Step};
use crate::program::{Facts, Reader};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Feed, Length};

/// Turns a program into the lines that are sent.
///
/// Push bytes, then draw lines until there are none, and so on; `finish`, then draw the rest. Nothing it keeps grows
/// with the program. Once anything is wrong with the program no more lines come, but it is read on for its faults.
#[derive(Debug)]
pub struct Sender {
    reader: Reader,
    writer: Writer,
    steps: Vec<Step>,
    faults: Vec<Fault>,
    stopped: bool,
    /// Lines before that of the entry are read and not sent.
    entry: Option<Entry>,
    entered: Option<Entered>,
    cannot_enter: Option<CannotEnter>,
    /// The slowest feed straight down so far.
    plunge: Option<Feed>,
}

impl Sender {
    /// A sender for a machine that stands so. `face_z` is the sheet's upper face in the work frame: a rapid that
    /// rises through it is a lift.
    #[must_use]
    pub fn new(start: Start, understands: Understands, face_z: Length) -> Self {
        Self {
            reader: Reader::new(start),
            writer: Writer::new(&understands, face_z),
            steps: Vec::new(),
            faults: Vec::new(),
            stopped: false,
            entry: None,
            entered: None,
            cannot_enter: None,
            plunge: None,
        }
    }

    /// A sender that goes on with a program at one of its lines.
    #[must_use]
    pub fn entering(start: Start, understands: Understands, face_z: Length, entry: Entry) -> Self {
        Self { entry: Some(entry), ..Self::new(start, understands, face_z) }
    }

    /// The entry, once its lines were made.
    #[must_use]
    pub const fn entered(&self) -> Option<&Entered> {
        self.entered.as_ref()
    }

    /// Why the wanted line cannot be entered; no lines come then.
    #[must_use]
    pub const fn cannot_enter(&self) -> Option<&CannotEnter> {
        self.cannot_enter.as_ref()
    }

    /// More of the program.
    pub fn push(&mut self, bytes: &[u8]) {
        self.reader.push(bytes);
    }

    /// That was all of it.
    pub fn finish(&mut self) {
        self.reader.finish();
    }

    /// The next line to be sent, if what was pushed tells it.
    pub fn next_line(&mut self) -> Option<SentLine> {
        loop {
            if let Some(line) = self.writer.made.pop_front() {
                return Some(line);
            }
            self.read_block()?;
        }
    }

    fn read_block(&mut self) -> Option<()> {
        let before = Before { modal: self.reader.modal(), at: self.reader.at(), base: self.reader.frame().base() };
        let (zero, shops) = (self.reader.frame().base(), self.reader.frame().is_the_shops());
        let read = self.reader.next_block(&mut self.steps)?;
        let (line, text) = (read.line, read.text);
        self.stopped |= !read.good;
        if let Some(entry) = self.entry {
            if self.stopped {
                self.cannot_enter.get_or_insert(CannotEnter::Unreadable(line));
            } else if line < entry.line || read.block.is_bare() {
                self.plunge = slowest(self.plunge, &self.steps);
                return Some(());
            } else if !shops {
                self.cannot_enter = Some(CannotEnter::OriginsSet(entry.line));
            } else {
                self.entry = None;
                match self.writer.enter(&entry, before, zero, self.plunge.unwrap_or(PLUNGE)) {
                    Ok(entered) => self.entered = Some(entered),
                    Err(why) => self.cannot_enter = Some(why),
                }
            }
            self.stopped |= self.cannot_enter.is_some();
        }
        if read.good
            && let Err((rule, columns)) = self.writer.block(&read, before, &self.steps)
        {
            self.stopped = true;
            if self.faults.len() < MOST_FAULTS {
                self.faults.push(Fault::new(line, columns, rule, text));
            }
        }
        if self.stopped {
            self.writer.made.clear();
        }
        Some(())
    }

    /// What can be neither sent nor adapted; at most [`MOST_FAULTS`].
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// What the reader found wrong.
    #[must_use]
    pub fn reading_faults(&self) -> &[Fault] {
        self.reader.faults()
    }

    /// What was seen of the program so far.
    #[must_use]
    pub fn facts(&self) -> &Facts {
        self.reader.facts()
    }

    /// Lines read.
    #[must_use]
    pub fn lines_read(&self) -> u32 {
        self.reader.lines()
    }
}

/// The slowest feed straight down, these steps included.
fn slowest(so_far: Option<Feed>, steps: &[Step]) -> Option<Feed> {
    let plunges = steps.iter().filter_map(|step| match step.doing {
        Doing::Move(Move { kind: MoveKind::Feed, from, to, pace: Pace::Feed(feed), .. })
            if from.x == to.x && from.y == to.y && to.z < from.z =>
        {
            Some(feed)
        }
        _ => None,
    });
    plunges.chain(so_far).min()
}

/// The lines of a program that lies in memory.
#[derive(Debug)]
pub struct Lines<'a> {
    sender: Sender,
    rest: &'a [u8],
    finished: bool,
}

/// How much of a program in memory is copied at a time.
const PIECE: usize = 16 * 1024;

/// Every line that is sent for a program, in order.
#[must_use]
pub fn lines(bytes: &[u8], start: Start, understands: Understands, face_z: Length) -> Lines<'_> {
    Lines { sender: Sender::new(start, understands, face_z), rest: bytes, finished: false }
}

impl Iterator for Lines<'_> {
    type Item = SentLine;

    fn next(&mut self) -> Option<SentLine> {
        loop {
            if let Some(line) = self.sender.next_line() {
                return Some(line);
            }
            if self.finished {
                return None;
            }
            let (piece, rest) = self.rest.split_at(PIECE.min(self.rest.len()));
            self.rest = rest;
            if piece.is_empty() {
                self.finished = true;
                self.sender.finish();
            } else {
                self.sender.push(piece);
            }
        }
    }
}

impl Lines<'_> {
    /// The sender behind it: faults, facts.
    #[must_use]
    pub const fn sender(&self) -> &Sender {
        &self.sender
    }
}
