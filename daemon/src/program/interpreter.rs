//! The interpreter: one line after the other, in the order of execution of NISTIR 6556 Table 8.
//!
//! May live here: the state between lines, what the axis words are for, faults and the program's end. What the words
//! do is in `modes`, `moving`, `drilling` and `origins`. May not: splitting bytes into lines, the parse of a line.

use super::block::{Block, Broken, Letters};
use super::code::{G, Group, MGroup};
use super::cycle::Sticky;
use super::facts::Facts;
use super::fault::{Fault, MOST_FAULTS, Rule};
use super::frame::Frame;
use super::motion::{Modal, MotionMode, Start, Step};
use super::number::is_blank;
use super::parameters::Parameters;
use super::parse::{parse, parse_usual};
use chargehand_types::quantity::{Length, Point};
use std::collections::VecDeque;

/// What a block's axis words are for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Use {
    /// There are none, or G80.
    Nothing,
    /// A motion.
    Motion(MotionMode),
    /// A one-line word that takes them.
    Once(G),
}

/// The state between lines.
#[derive(Debug)]
pub(super) struct Interpreter {
    pub(super) line: u32,
    pub(super) block: Block,
    pub(super) parameters: Parameters,
    pub(super) modal: Modal,
    pub(super) frame: Frame,
    /// Where the bit is, in the work frame.
    pub(super) at: Point,
    pub(super) named: u8,
    /// Axes whose place is not known after a fault: what would only follow from it is not told as another fault.
    pub(super) unsure: u8,
    pub(super) sticky: Sticky,
    pub(super) tolerance: Length,
    pub(super) steps: VecDeque<Step>,
    pub(super) facts: Facts,
    faults: Vec<Fault>,
    pub(super) message: Option<Box<str>>,
    /// The program has ended; what follows is not read.
    pub(super) over: bool,
    /// Modes and base as they stood before M2 or M30 set them back.
    pub(super) before_end: Option<(Modal, Point)>,
    /// Zero bytes were met; words after them are a fault.
    pub(super) zeros: bool,
}

impl Interpreter {
    pub(super) fn new(start: Start) -> Self {
        let mut parameters = Parameters::default();
        let frame = Frame::new(start.work_zero, &mut parameters);
        Self {
            line: 0,
            block: Block::default(),
            parameters,
            modal: Modal { system: 1, ..Modal::default() },
            frame,
            at: start.at,
            named: 0,
            unsure: 0,
            sticky: Sticky::default(),
            tolerance: start.arc_tolerance,
            steps: VecDeque::new(),
            facts: Facts::default(),
            faults: Vec::new(),
            message: None,
            over: false,
            before_end: None,
            zeros: false,
        }
    }

    pub(super) fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The file is no program, or what was found at its end.
    pub(super) fn file_fault(&mut self, rule: Rule, text: &[u8]) {
        let line = self.line.max(1);
        self.faults.push(Fault::new(line, 0..1, rule, text));
    }

    /// Reads one line. The step of its own motion word goes into `out`, everything else it makes happen into
    /// `steps`; where there is both, all of it is in `steps`.
    #[inline]
    pub(super) fn read(&mut self, line: &[u8], out: &mut Option<Step>) {
        self.count();
        if self.over {
            return self.after_end(line);
        }
        let done = match parse(line, &self.parameters, &mut self.block) {
            Ok(()) => self.obey(line, out),
            Err((Rule::Percent, _)) if self.percent(line) => {
                self.block.forget();
                Ok(())
            }
            Err(broken) => {
                self.facts.blocks += 1;
                self.guess_modes();
                Err(broken)
            }
        };
        self.settle(done, line, out);
    }

    /// Reads the line at the start of `bytes` if it is of the usual kind; gives its length then.
    #[inline]
    pub(super) fn read_usual(&mut self, bytes: &[u8], out: &mut Option<Step>) -> Option<usize> {
        if self.over {
            return None;
        }
        let length = parse_usual(bytes, &mut self.block)?;
        self.count();
        let line = bytes.get(..length)?;
        let done = self.obey(line, out);
        self.settle(done, line, out);
        Some(length)
    }

    #[inline]
    pub(super) fn count(&mut self) {
        self.line += 1;
        self.facts.lines = self.line;
    }

    #[inline]
    fn settle(&mut self, done: Result<(), Broken>, line: &[u8], out: &mut Option<Step>) {
        if let Err(broken) = done {
            self.fault(broken, line);
        }
        if !self.steps.is_empty() {
            self.steps.extend(out.take());
        }
    }

    #[cold]
    fn fault(&mut self, (rule, columns): Broken, line: &[u8]) {
        self.unsure = 7;
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(Fault::new(self.line, columns, rule, line));
        }
    }

    /// Of a line that cannot be read, the modes it seems to ask for: so that its fault is not told again as faults
    /// of the lines that follow. Such a program never runs.
    #[cold]
    fn guess_modes(&mut self) {
        self.feed_mode();
        if let Some(f) = self.block.get(b'F') {
            let _ = self.set_feed(f);
        }
        let _ = self.modes();
        if let Some(code) = self.block.g(Group::Motion) {
            self.modal.motion = mode_of(code);
        }
    }

    /// A lone `%` opens the program as its first line that is not blank, or closes an opened one.
    #[cold]
    fn percent(&mut self, line: &[u8]) -> bool {
        if !is_lone_percent(line) {
            return false;
        }
        let first = self.facts.blocks == 0 && !self.facts.opened;
        if self.facts.opened {
            self.facts.closed = true;
            self.over = true;
        }
        self.facts.opened |= first;
        first || self.facts.closed
    }

    #[cold]
    fn after_end(&mut self, line: &[u8]) {
        self.block.forget();
        if is_lone_percent(line) && self.facts.opened {
            self.facts.closed = true;
        }
    }

    #[inline]
    fn obey(&mut self, line: &[u8], out: &mut Option<Step>) -> Result<(), Broken> {
        if self.block.is_bare() {
            self.bare();
            return if self.block.comment.is_some() { self.remark(line) } else { Ok(()) };
        }
        self.facts.blocks += 1;
        let purpose = self.purpose()?;
        self.check_words(purpose)?;
        if self.block.is_plain() && !self.zeros {
            if let Some(f) = self.block.get(b'F') {
                self.set_feed(f)?;
            }
        } else {
            self.before_motion(line)?;
        }
        match purpose {
            Use::Motion(mode) => self.motion(mode, out)?,
            Use::Once(code) => self.once_with_axes(code)?,
            Use::Nothing if self.block.g(Group::Motion) == Some(G::G80) => self.modal.motion = MotionMode::G80,
            Use::Nothing => {}
        }
        if self.block.m(MGroup::Stopping).is_some() {
            self.steps.extend(out.take());
            self.stop(line);
        }
        Ok(())
    }

    /// A line without words: blank, a comment, a program number, settings.
    #[cold]
    fn bare(&mut self) {
        self.zeros |= self.block.zeros;
        let Self { block, parameters, .. } = self;
        for (index, value) in block.settings.drain(..) {
            parameters.set(index, value);
        }
    }

    /// What the axis words are for, and the rules about who may want them (NISTIR 6556 3.4).
    #[inline]
    fn purpose(&self) -> Result<Use, Broken> {
        let block = &self.block;
        let axes = block.letters().any(Letters::AXES);
        let asked = block.g(Group::Motion);
        if let Some(once) = block.g(Group::Once) {
            return self.purpose_beside(once, asked, axes);
        }
        self.purpose_of_motion(asked, axes)
    }

    #[inline]
    fn purpose_of_motion(&self, asked: Option<G>, axes: bool) -> Result<Use, Broken> {
        match asked {
            Some(G::G80) if axes => Err((Rule::AxisAfterG80, self.block.columns_of_axis())),
            Some(G::G80) => Ok(Use::Nothing),
            Some(code) => self.motion_asked(code, axes),
            None if axes && self.modal.motion == MotionMode::G80 => {
                Err((Rule::AxisAfterG80, self.block.columns_of_axis()))
            }
            None if axes => Ok(Use::Motion(self.modal.motion)),
            None => Ok(Use::Nothing),
        }
    }

    fn motion_asked(&self, code: G, axes: bool) -> Result<Use, Broken> {
        let columns = || self.block.g_columns(Group::Motion);
        let mode = mode_of(code);
        if axes {
            return Ok(Use::Motion(mode));
        }
        let [u, v, _] = self.modal_plane().axes();
        Err(match mode {
            MotionMode::G2 | MotionMode::G3 => (Rule::ArcNoEnd(u.letter().into(), v.letter().into()), columns()),
            _ => (Rule::NoAxis(code), columns()),
        })
    }

    #[cold]
    fn purpose_beside(&self, once: G, asked: Option<G>, axes: bool) -> Result<Use, Broken> {
        let columns = || self.block.g_columns(Group::Once);
        if once.takes_axes() {
            return match asked {
                Some(first) if first != G::G80 => Err((Rule::AxesWantedTwice { first, second: once }, columns())),
                _ if !axes && matches!(once, G::G92 | G::G10) => Err((Rule::NoAxis(once), columns())),
                _ => Ok(Use::Once(once)),
            };
        }
        if once == G::G53 {
            let mode = asked.map_or(self.modal.motion, mode_of);
            if !matches!(mode, MotionMode::G0 | MotionMode::G1) {
                return Err((Rule::MachineNotStraight, columns()));
            }
            return if axes { Ok(Use::Motion(mode)) } else { Err((Rule::NoAxis(G::G53), columns())) };
        }
        self.purpose_of_motion(asked, axes)
    }

    /// Every word must be of use to something on the line.
    #[inline]
    fn check_words(&self, purpose: Use) -> Result<(), Broken> {
        let rest = self.block.letters().without(Letters::of(b"FSTXYZ"));
        if rest == Letters::default() { Ok(()) } else { self.check_rest(purpose, rest) }
    }

    fn check_rest(&self, purpose: Use, rest: Letters) -> Result<(), Broken> {
        let by_motion = match purpose {
            Use::Motion(MotionMode::G2 | MotionMode::G3) => Letters::of(b"IJKR"),
            Use::Motion(MotionMode::G81 | MotionMode::G84 | MotionMode::G85) => Letters::of(b"RL"),
            Use::Motion(MotionMode::G82 | MotionMode::G86 | MotionMode::G89) => Letters::of(b"RLP"),
            Use::Motion(MotionMode::G83) => Letters::of(b"RLQ"),
            Use::Motion(MotionMode::G87) => Letters::of(b"RLIJK"),
            Use::Motion(MotionMode::G88) => Letters::of(b"RLP"),
            Use::Once(G::G10) => Letters::of(b"LP"),
            _ => Letters::default(),
        };
        let by_others = [
            (self.block.g(Group::Once) == Some(G::G4), Letters::of(b"P")),
            (self.block.g(Group::ToolLength) == Some(G::G43), Letters::of(b"H")),
            (matches!(self.block.g(Group::CutterRadius), Some(G::G41 | G::G42)), Letters::of(b"D")),
        ];
        let mut wanted = by_motion;
        for (_, letters) in by_others.into_iter().filter(|(there, _)| *there) {
            if wanted.any(letters) && rest.any(letters) {
                return Err((Rule::WordWantedTwice('P'), self.block.columns(b'P')));
            }
            wanted = wanted.with(letters);
        }
        match rest.without(wanted).first() {
            Some(letter) => Err((Rule::WordUnused(letter.into()), self.block.columns(letter))),
            None => Ok(()),
        }
    }
}

fn mode_of(code: G) -> MotionMode {
    match code {
        G::G1 => MotionMode::G1,
        G::G2 => MotionMode::G2,
        G::G3 => MotionMode::G3,
        G::G38_2 => MotionMode::G38_2,
        G::G80 => MotionMode::G80,
        G::G81 => MotionMode::G81,
        G::G82 => MotionMode::G82,
        G::G83 => MotionMode::G83,
        G::G84 => MotionMode::G84,
        G::G85 => MotionMode::G85,
        G::G86 => MotionMode::G86,
        G::G87 => MotionMode::G87,
        G::G88 => MotionMode::G88,
        G::G89 => MotionMode::G89,
        _ => MotionMode::G0,
    }
}

fn is_lone_percent(line: &[u8]) -> bool {
    let mut bytes = line.iter().copied().filter(|b| !is_blank(*b));
    bytes.next() == Some(b'%') && bytes.next().is_none()
}
