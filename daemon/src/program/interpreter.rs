//! The interpreter: one line after the other, in the order of execution of NISTIR 6556 Table 8.
//!
//! May live here: the state between lines and the order in which a block's words act, but for motion, which is in
//! `moving`. May not: splitting bytes into lines, the parse of a line, geometry.

use super::block::{Block, Broken, Letters, parse};
use super::code::{G, Group, M, MGroup};
use super::cycle::Sticky;
use super::facts::Facts;
use super::fault::{Fault, Foreign, MOST_FAULTS, Rule};
use super::frame::Frame;
use super::motion::{Doing, Modal, MotionMode, Place, Plane, Start, Step, Turning};
use super::number::is_blank;
use super::parameters::Parameters;
use chargehand_types::quantity::{Feed, Length, Point, Rpm};
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
    message: Option<Box<str>>,
    /// The program has ended; what follows is not read.
    over: bool,
    /// Zero bytes were met; words after them are a fault.
    zeros: bool,
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

    /// Reads one line. What it makes happen is given back, or queued in `steps` where it is more than one thing.
    #[inline]
    pub(super) fn read(&mut self, line: &[u8]) -> Option<Step> {
        self.line += 1;
        self.facts.lines = self.line;
        if self.over {
            self.after_end(line);
            return None;
        }
        let done = match parse(line, &self.parameters, &mut self.block) {
            Ok(()) => self.obey(line),
            Err((Rule::Percent, _)) if self.percent(line) => {
                self.block.forget();
                Ok(None)
            }
            Err(broken) => {
                self.facts.blocks += 1;
                self.guess_modes();
                Err(broken)
            }
        };
        match done {
            Ok(step) => step,
            Err(broken) => {
                self.fault(broken, line);
                None
            }
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
    fn obey(&mut self, line: &[u8]) -> Result<Option<Step>, Broken> {
        if self.block.is_bare() {
            self.bare();
            return if self.block.comment.is_some() { self.remark(line).map(|()| None) } else { Ok(None) };
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
        let moved = match purpose {
            Use::Nothing => {
                if self.block.g(Group::Motion) == Some(G::G80) {
                    self.modal.motion = MotionMode::G80;
                }
                None
            }
            Use::Motion(mode) => self.motion(mode)?,
            Use::Once(code) => {
                self.once_with_axes(code)?;
                None
            }
        };
        if self.block.m(MGroup::Stopping).is_none() {
            return Ok(moved);
        }
        self.steps.extend(moved);
        self.stop(line);
        Ok(None)
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

    /// Everything of Table 8 that comes before the motion: items 1 to 19, but for words that take the axes.
    fn before_motion(&mut self, line: &[u8]) -> Result<(), Broken> {
        self.notice();
        if self.zeros {
            self.zeros = false;
            return Err((Rule::ZeroBytes, 0..1));
        }
        self.zeros = self.block.zeros;
        if self.block.comment.is_some() {
            self.remark(line)?;
        }
        self.feed_mode();
        if let Some(f) = self.block.get(b'F') {
            self.set_feed(f)?;
        }
        let faster = self.set_speed()?;
        self.set_tool()?;
        self.change_bit();
        self.spindle(faster);
        self.coolant();
        if let Some(code) = self.block.m(MGroup::Overrides) {
            self.modal.overrides_off = code == M::M49;
        }
        self.dwell()?;
        self.modes()?;
        let Self { block, parameters, .. } = self;
        for (index, value) in block.settings.drain(..) {
            parameters.set(index, value);
        }
        self.shift_without_axes();
        Ok(())
    }

    /// Facts of lines that are more than plain motion.
    fn notice(&mut self) {
        let place = Place { line: self.line, column: 1 };
        if self.block.semicolon {
            self.facts.semicolon.get_or_insert(place);
        }
        if self.block.deletable {
            self.facts.deletable.get_or_insert(place);
        }
    }

    pub(super) fn place(&self, columns: std::ops::Range<usize>) -> Place {
        Place { line: self.line, column: columns.start as u32 + 1 }
    }

    pub(super) fn push(&mut self, columns: std::ops::Range<usize>, doing: Doing) {
        self.modal.shift = self.frame.shift();
        self.steps.push_back(Step { place: self.place(columns), doing, modal: self.modal });
    }

    /// A comment; `(MSG, …)` is shown (NISTIR 6556 3.3.5).
    fn remark(&mut self, line: &[u8]) -> Result<(), Broken> {
        self.notice();
        let Some(range) = self.block.comment.clone() else {
            return Ok(());
        };
        let text = line.get(range.clone()).unwrap_or_default();
        if !self.block.semicolon
            && let Some(message) = message_of(text)
        {
            let message: Box<str> = String::from_utf8_lossy(message).trim().into();
            self.message = Some(message.clone());
            self.push(range, Doing::Message(message));
        }
        Ok(())
    }

    fn feed_mode(&mut self) {
        let Some(code) = self.block.g(Group::FeedMode) else {
            return;
        };
        let inverse = code == G::G93;
        if self.modal.inverse_time && !inverse {
            // nothing says which feed holds again; a new one has to be given
            self.modal.feed = None;
        }
        self.modal.inverse_time = inverse;
    }

    /// Units of this block's motion and feed.
    pub(super) fn inch(&self) -> bool {
        self.block.g(Group::Units).map_or(self.modal.inch, |code| code == G::G20)
    }

    /// F (NISTIR 6556 3.7.1), in the units of the block's own motion. Zero is taken as no feed.
    #[inline]
    fn set_feed(&mut self, f: super::number::Decimal) -> Result<(), Broken> {
        if f.0 < 0 {
            return Err((Rule::Negative('F'), self.block.columns(b'F')));
        }
        if !self.modal.inverse_time {
            let feed = Feed(f.length(self.inch()).0);
            self.modal.feed = (feed > Feed::ZERO).then_some(feed);
        }
        Ok(())
    }

    /// S; whether a turning spindle is asked for another speed.
    fn set_speed(&mut self) -> Result<bool, Broken> {
        let Some(s) = self.block.get(b'S') else {
            return Ok(false);
        };
        if s.0 < 0 {
            return Err((Rule::Negative('S'), self.block.columns(b'S')));
        }
        let speed = Some(Rpm((s.0 + 500_000) / 1_000_000));
        let changed = self.modal.turning != Turning::Off && speed != self.modal.speed;
        self.modal.speed = speed;
        Ok(changed)
    }

    fn set_tool(&mut self) -> Result<(), Broken> {
        let Some(t) = self.block.get(b'T') else {
            return Ok(());
        };
        let columns = self.block.columns(b'T');
        if t.0 < 0 {
            return Err((Rule::Negative('T'), columns));
        }
        let number = t.whole().and_then(|n| u32::try_from(n).ok());
        self.modal.tool = Some(number.ok_or((Rule::NotWhole('T'), columns))?);
        Ok(())
    }

    /// M6; the spindle stands still afterwards (NISTIR 6556 3.6.3).
    fn change_bit(&mut self) {
        if self.block.m(MGroup::BitChange).is_some() {
            self.modal.turning = Turning::Off;
            self.push(self.block.m_columns(MGroup::BitChange), Doing::BitChange { tool: self.modal.tool });
        }
    }

    fn spindle(&mut self, faster: bool) {
        match self.block.m(MGroup::Spindle) {
            Some(code) => {
                self.modal.turning = match code {
                    M::M3 => Turning::Clockwise,
                    M::M4 => Turning::CounterClockwise,
                    _ => Turning::Off,
                };
                self.push(self.block.m_columns(MGroup::Spindle), Doing::Spindle);
            }
            None if faster && self.modal.turning != Turning::Off => {
                self.push(self.block.columns(b'S'), Doing::Spindle);
            }
            None => {}
        }
    }

    fn coolant(&mut self) {
        let Some(code) = self.block.m(MGroup::Coolant) else {
            return;
        };
        match code {
            M::M7 => self.modal.mist = true,
            M::M8 => self.modal.flood = true,
            _ => (self.modal.mist, self.modal.flood) = (false, false),
        }
        self.push(self.block.m_columns(MGroup::Coolant), Doing::Coolant);
    }

    fn dwell(&mut self) -> Result<(), Broken> {
        if self.block.g(Group::Once) != Some(G::G4) {
            return Ok(());
        }
        let columns = self.block.g_columns(Group::Once);
        let p = self.block.get(b'P').ok_or((Rule::WordMissing("G4", 'P'), columns.clone()))?;
        if p.0 < 0 {
            return Err((Rule::Negative('P'), self.block.columns(b'P')));
        }
        self.push(columns, Doing::Dwell { seconds: p.to_f64() });
        Ok(())
    }

    /// The plane in force for this block's motion.
    pub(super) fn modal_plane(&self) -> Plane {
        match self.block.g(Group::Plane) {
            Some(G::G18) => Plane::Zx,
            Some(G::G19) => Plane::Yz,
            Some(_) => Plane::Xy,
            None => self.modal.plane,
        }
    }

    /// Items 11 to 18: plane, units, compensation, length, system, path, distance, return.
    fn modes(&mut self) -> Result<(), Broken> {
        self.modal.plane = self.modal_plane();
        self.units();
        if let Some(code @ (G::G41 | G::G42)) = self.block.g(Group::CutterRadius) {
            return Err((Rule::Foreign(Foreign::CutterRadius(code)), self.block.g_columns(Group::CutterRadius)));
        }
        self.tool_length()?;
        if let Some(system) = self.block.g(Group::System).and_then(G::system) {
            self.modal.system = system;
            self.frame.pick(system, &mut self.parameters);
        }
        if let Some(code) = self.block.g(Group::Path) {
            self.modal.exact = code != G::G64;
        }
        if let Some(code) = self.block.g(Group::Distance) {
            self.modal.incremental = code == G::G91;
        }
        if let Some(code) = self.block.g(Group::Centres) {
            self.modal.absolute_centres = code == G::G90_1;
        }
        if let Some(code) = self.block.g(Group::CycleReturn) {
            self.modal.return_to_r = code == G::G99;
        }
        Ok(())
    }

    fn units(&mut self) {
        let Some(code) = self.block.g(Group::Units) else {
            return;
        };
        let (inch, place) = (code == G::G20, self.place(self.block.g_columns(Group::Units)));
        let first = if inch { &mut self.facts.first_inch } else { &mut self.facts.first_mm };
        first.get_or_insert(place);
        if inch != self.modal.inch && self.named != 0 {
            self.facts.units_changed.get_or_insert(place);
        }
        self.modal.inch = inch;
        self.parameters.inch = inch;
    }

    /// G43 H, G49. The shop touches Z anew after each bit change, so a length counts as nothing.
    fn tool_length(&mut self) -> Result<(), Broken> {
        match self.block.g(Group::ToolLength) {
            Some(G::G43) => {
                let columns = self.block.g_columns(Group::ToolLength);
                let h = self.block.get(b'H').ok_or((Rule::WordMissing("G43", 'H'), columns))?;
                let slot = h.whole().and_then(|n| u16::try_from(n).ok());
                self.modal.tool_length = Some(slot.ok_or((Rule::NotWhole('H'), self.block.columns(b'H')))?);
            }
            Some(_) => self.modal.tool_length = None,
            None => {}
        }
        Ok(())
    }

    fn shift_without_axes(&mut self) {
        match self.block.g(Group::Once) {
            Some(G::G92_1) => self.frame.forget_shift(&mut self.parameters),
            Some(G::G92_2) => self.frame.suspend_shift(),
            Some(G::G92_3) => self.frame.restore_shift(),
            _ => {}
        }
        self.modal.shift = self.frame.shift();
    }

    /// Item 21: M0, M1, M60 ask a person; M2 and M30 end (NISTIR 6556 3.6.1).
    #[cold]
    fn stop(&mut self, line: &[u8]) {
        let Some(code) = self.block.m(MGroup::Stopping) else {
            return;
        };
        let columns = self.block.m_columns(MGroup::Stopping);
        if matches!(code, M::M2 | M::M30) {
            self.facts.ended = Some(self.place(columns.clone()));
            self.push(columns, Doing::End);
            self.reset();
            self.over = true;
            return;
        }
        let own = self.block.comment.clone().and_then(|range| line.get(range));
        let own = own.map(|text| String::from_utf8_lossy(message_of(text).unwrap_or(text)).trim().into());
        let text = own.filter(|text: &Box<str>| !text.is_empty()).or_else(|| self.message.take());
        self.message = None;
        self.push(columns, Doing::Prompt { optional: code == M::M1, text });
    }

    /// What M2 and M30 set (NISTIR 6556 3.6.1).
    fn reset(&mut self) {
        self.frame.suspend_shift();
        self.frame.pick(1, &mut self.parameters);
        self.modal = Modal {
            system: 1,
            motion: MotionMode::G1,
            plane: Plane::Xy,
            incremental: false,
            inverse_time: false,
            turning: Turning::Off,
            mist: false,
            flood: false,
            overrides_off: false,
            shift: Point::default(),
            ..self.modal
        };
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

/// The text after `MSG,`; blanks and case in it do not matter.
fn message_of(comment: &[u8]) -> Option<&[u8]> {
    let mut wanted = b"MSG,".iter();
    let mut next = wanted.next();
    for (n, byte) in comment.iter().enumerate() {
        match next {
            None => return comment.get(n..),
            Some(_) if is_blank(*byte) => {}
            Some(letter) if byte.to_ascii_uppercase() == *letter => next = wanted.next(),
            Some(_) => return None,
        }
    }
    next.is_none().then_some(&[])
}
