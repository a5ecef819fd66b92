//! The push-fed sender: program text in, [`SentLine`]s out.

use super::written::{Word, length, short, words};
use super::{SentLine, Then};
use crate::program::Reader;
use crate::program::frame::Axis;
use crate::program::motion::{Doing, Modal, Move, MoveKind, Plane, Start, Step};
use crate::shop::understands::{Understands, code};
use chargehand_types::quantity::{Length, Point};
use std::collections::VecDeque;

/// Faults kept.
const FAULTS_KEPT: usize = 100;

/// Turns a program into the lines that are sent.
pub struct Sender {
    reader: Reader,
    understands: Understands,
    face_z: Length,
    steps: Vec<Step>,
    out: VecDeque<SentLine>,
    faults: Vec<Unsendable>,
    sent_bytes: u64,
    modal_words: Vec<Standing>,
}

/// A modal word as last written: its group, its text, and where it ended in the bytes sent.
struct Standing {
    group: u8,
    text: String,
    ends: u64,
}

impl Sender {
    /// A sender for a machine that stands so. `face_z` is the sheet's upper face in the work frame: a rapid that
    /// rises through it is a lift.
    #[must_use]
    pub fn new(start: Start, understands: Understands, face_z: Length) -> Self {
        Self {
            reader: Reader::new(start),
            understands,
            face_z,
            steps: Vec::new(),
            out: VecDeque::new(),
            faults: Vec::new(),
            sent_bytes: 0,
            modal_words: Vec::new(),
        }
    }

    /// Takes the next chunk of text.
    pub fn push(&mut self, chunk: &[u8]) {
        self.reader.push(chunk);
        self.read();
    }

    /// There is no more text.
    pub fn finish(&mut self) {
        self.reader.finish();
        self.read();
    }

    /// The next line to be sent, if one is ready.
    pub fn next_line(&mut self) -> Option<SentLine> {
        self.out.pop_front()
    }

    /// What can be neither sent nor adapted.
    #[must_use]
    pub fn faults(&self) -> &[Unsendable] {
        &self.faults
    }

    fn read(&mut self) {
        loop {
            let before = self.reader.modal();
            let mut steps = std::mem::take(&mut self.steps);
            let Some(read) = self.reader.next_block(&mut steps) else {
                self.steps = steps;
                return;
            };
            let line = read.line;
            let written = if read.good && !read.block.is_bare() { Some(as_written(&read)) } else { None };
            if let Some(written) = written
                && let Err(what) = self.block(line, written, &steps, before)
                && self.faults.len() < FAULTS_KEPT
            {
                self.faults.push(Unsendable { line, what });
            }
            self.steps = steps;
        }
    }

    fn block(&mut self, line: u32, mut written: Vec<Word>, steps: &[Step], before: Modal) -> Result<(), String> {
        let mut lines = LinesOut { line, part: 0, made: Vec::new() };
        let pause = take_pauses(&mut written, steps);
        if pause.bit_change.is_some() {
            // M6 comes before everything else on its line (NISTIR 6556, Table 8)
            lines.pause(self, pause.bit_change);
        }
        self.check_words(&mut written)?;
        if is_cycle(steps) {
            self.cycle(&mut lines, written, steps)?;
        } else {
            if !self.understands.radius_arcs {
                centre_for_radius(&mut written, steps, self.reader.modal().inch);
            }
            let then = self.lift(steps);
            self.emit(&mut lines, written, before, self.reader.at(), then)?;
        }
        if pause.asks.is_some() {
            lines.pause(self, pause.asks);
        }
        self.out.extend(lines.made);
        Ok(())
    }

    /// Leaves out what may be left out, and refuses what can be neither sent nor adapted.
    fn check_words(&self, written: &mut Vec<Word>) -> Result<(), String> {
        let mut refused = None;
        let mut drop_h = false;
        written.retain(|w| match w.letter {
            b'G' => {
                let tenths = tenths(&w.number);
                if (810..=890).contains(&tenths) || self.understands.g(tenths) {
                    return true;
                }
                if self.understands.may_leave_out(tenths) {
                    drop_h |= tenths == 430;
                    return false;
                }
                refused = Some(format!("this controller does not know G{}", code(tenths)));
                true
            }
            b'M' => {
                let known =
                    w.number.parse::<f64>().is_ok_and(|m| self.understands.m.iter().any(|k| f64::from(*k) == m));
                if !known {
                    refused = Some(format!("this controller does not know M{}", short(&w.number)));
                }
                true
            }
            _ => true,
        });
        if drop_h {
            written.retain(|w| w.letter != b'H');
        }
        match refused {
            Some(what) => Err(what),
            None => Ok(()),
        }
    }

    /// Writes the words of one line, or nothing when nothing is left of it.
    fn emit(
        &mut self,
        lines: &mut LinesOut,
        written: Vec<Word>,
        before: Modal,
        end: Point,
        then: Then,
    ) -> Result<(), String> {
        let mut bytes = Vec::with_capacity(32);
        let mut standing = Vec::new();
        for word in &written {
            let number = if self.understands.shorten { short(&word.number) } else { word.number.clone() };
            if let Some(group) = modal_group(word, before) {
                if self.understands.shorten && self.stands(group, &number) {
                    continue;
                }
                standing.push((group, number.clone()));
            }
            bytes.push(word.letter);
            bytes.extend_from_slice(number.as_bytes());
        }
        if bytes.is_empty() {
            return Ok(());
        }
        if bytes.len() > usize::from(self.understands.line_limit) {
            let limit = self.understands.line_limit;
            let what = format!("the line is {} bytes long and this controller takes {limit}", bytes.len());
            return Err(what);
        }
        self.sent_bytes += bytes.len() as u64 + 1;
        for (group, text) in standing {
            self.note_standing(group, text);
        }
        lines.push(bytes, end, self.reader.modal(), then);
        Ok(())
    }

    /// Whether this very word stands already, set by a line more than a window back.
    fn stands(&self, group: u8, text: &str) -> bool {
        let window = u64::from(self.understands.window);
        self.modal_words.iter().any(|s| s.group == group && s.text == text && self.sent_bytes - s.ends > window)
    }

    fn note_standing(&mut self, group: u8, text: String) {
        let ends = self.sent_bytes;
        match self.modal_words.iter_mut().find(|s| s.group == group) {
            // saying it again does not make it any newer: the first line that set it is the one that counts
            Some(s) if s.text == text => {}
            Some(s) => (s.text, s.ends) = (text, ends),
            None => self.modal_words.push(Standing { group, text, ends }),
        }
    }

    /// Writes the moves of a cycle, in the unit and distance mode in force.
    fn cycle(&mut self, lines: &mut LinesOut, written: Vec<Word>, steps: &[Step]) -> Result<(), String> {
        let set: Vec<Word> = written.into_iter().filter(sets_something).collect();
        let start = steps.iter().find_map(as_move).map_or(self.reader.at(), |m| m.from);
        self.emit(lines, set, Modal::default(), start, Then::Goes)?;
        for step in steps {
            match &step.doing {
                Doing::Move(m) => {
                    let words = self.move_words(m);
                    let then = self.lift(std::slice::from_ref(step));
                    self.emit(lines, words, step.modal, m.to, then)?;
                }
                Doing::Dwell { seconds } => {
                    let words = vec![word(b'G', "4"), Word { letter: b'P', number: short(&format!("{seconds:.3}")) }];
                    self.emit(lines, words, step.modal, self.reader.at(), Then::Goes)?;
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn move_words(&self, m: &Move) -> Vec<Word> {
        let modal = self.reader.modal();
        let base = if modal.incremental { m.from } else { self.reader.frame().base() };
        let mut words = vec![word(b'G', if m.kind == MoveKind::Rapid { "0" } else { "1" })];
        let axes =
            [(b'X', m.from.x, m.to.x, base.x), (b'Y', m.from.y, m.to.y, base.y), (b'Z', m.from.z, m.to.z, base.z)];
        for (letter, from, to, base) in axes {
            if from != to {
                words.push(Word { letter, number: length(to - base, modal.inch) });
            }
        }
        words
    }

    fn lift(&self, steps: &[Step]) -> Then {
        let rises = |m: &Move| m.kind == MoveKind::Rapid && m.from.z <= self.face_z && m.to.z > self.face_z;
        if steps.iter().filter_map(as_move).any(rises) { Then::Lifted } else { Then::Goes }
    }
}

/// A block that can be neither sent nor adapted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsendable {
    /// The program's line.
    pub line: u32,
    /// Why, as a phrase.
    pub what: String,
}

/// The words of a block as they stand in the file, or with their values where those are computed.
fn as_written(read: &crate::program::BlockRead<'_>) -> Vec<Word> {
    words(read.text.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(read.text)).unwrap_or_else(|| {
        let computed = read.block.words().iter().map(|w| {
            let mut number = Vec::new();
            w.value.write(&mut number);
            Word { letter: w.letter, number: short(&String::from_utf8_lossy(&number)) }
        });
        computed.collect()
    })
}

/// Takes out what asks for a person: M0, M1, M60, M6, T.
fn take_pauses(written: &mut Vec<Word>, steps: &[Step]) -> Pauses {
    let mut pauses = Pauses { bit_change: None, asks: None };
    written.retain(|w| w.letter != b'T');
    written.retain(|w| !(w.letter == b'M' && matches!(short(&w.number).as_str(), "0" | "1" | "60" | "6")));
    for step in steps {
        match &step.doing {
            Doing::Prompt { text, .. } => pauses.asks = Some(Then::Asks { text: text.clone() }),
            Doing::BitChange { tool } => pauses.bit_change = Some(Then::ChangesBit { tool: *tool }),
            _ => {}
        }
    }
    pauses
}

struct Pauses {
    bit_change: Option<Then>,
    asks: Option<Then>,
}

/// The lines one source line becomes.
struct LinesOut {
    line: u32,
    part: u16,
    made: Vec<SentLine>,
}

impl LinesOut {
    fn push(&mut self, bytes: Vec<u8>, end: Point, modal: Modal, then: Then) {
        self.made.push(SentLine { bytes: bytes.into(), source_line: self.line, part: self.part, end, modal, then });
        self.part = self.part.saturating_add(1);
    }

    fn pause(&mut self, sender: &Sender, then: Option<Then>) {
        if let Some(then) = then {
            self.push(Vec::new(), sender.reader.at(), sender.reader.modal(), then);
        }
    }
}

fn as_move(step: &Step) -> Option<&Move> {
    match &step.doing {
        Doing::Move(m) => Some(m),
        _ => None,
    }
}

fn is_cycle(steps: &[Step]) -> bool {
    steps.iter().filter_map(as_move).any(|m| m.of_cycle)
}

fn word(letter: u8, number: &str) -> Word {
    Word { letter, number: number.to_owned() }
}

fn tenths(number: &str) -> i16 {
    #[allow(clippy::cast_possible_truncation, reason = "G words lie between 0 and 99.9; the reader has seen this one")]
    let tenths = (number.parse::<f64>().unwrap_or(-1.0) * 10.0).round() as i16;
    tenths
}

/// Words of a cycle line that set something, and stay as they are.
fn sets_something(w: &Word) -> bool {
    match w.letter {
        b'G' => !(810..=890).contains(&tenths(&w.number)),
        b'F' | b'S' | b'M' => true,
        _ => false,
    }
}

/// The modal group of a word that may be dropped when it stands already; none for every other word.
fn modal_group(w: &Word, before: Modal) -> Option<u8> {
    match w.letter {
        // in inverse time F belongs to its line
        b'F' if !before.inverse_time => Some(100),
        b'G' => match tenths(&w.number) {
            0 | 10 | 20 | 30 => Some(1),
            170 | 180 | 190 => Some(2),
            900 | 910 => Some(3),
            930 | 940 => Some(5),
            200 | 210 => Some(6),
            540..=590 => Some(12),
            610 => Some(13),
            _ => None,
        },
        _ => None,
    }
}

/// Writes an arc's centre instead of its radius.
fn centre_for_radius(written: &mut Vec<Word>, steps: &[Step], inch: bool) {
    let Some((m, arc)) = steps.iter().filter_map(as_move).find_map(|m| match m.kind {
        MoveKind::Arc(arc) => Some((m, arc)),
        _ => None,
    }) else {
        return;
    };
    if !written.iter().any(|w| w.letter == b'R') {
        return;
    }
    written.retain(|w| w.letter != b'R');
    let (letters, axes) = match arc.plane {
        Plane::Xy => ([b'I', b'J'], [Axis::X, Axis::Y]),
        Plane::Zx => ([b'K', b'I'], [Axis::Z, Axis::X]),
        Plane::Yz => ([b'J', b'K'], [Axis::Y, Axis::Z]),
    };
    let from = axes.map(|a| a.of(&m.from).mm());
    for ((letter, centre), start) in letters.into_iter().zip(arc.centre).zip(from) {
        let offset = Length::from_mm(centre - start).unwrap_or_default();
        written.push(Word { letter, number: length(offset, inch) });
    }
}
