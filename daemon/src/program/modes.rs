//! Items 1 to 18 and 21 of the order of execution: comments, feed, speed, bit, spindle, coolant, dwell, modes, stops.
//!
//! May live here: what these words set and make happen. May not: motion, homes, origins, the parse of a line.

use super::block::Broken;
use super::code::{G, Group, M, MGroup};
use super::fault::{Foreign, Rule};
use super::interpreter::Interpreter;
use super::motion::{Doing, Modal, MotionMode, Place, Plane, Step, Turning};
use super::number::{Decimal, is_blank};
use chargehand_types::quantity::{Feed, Point, Rpm};

impl Interpreter {
    /// Everything of Table 8 that comes before the motion: items 1 to 19, but for words that take the axes.
    pub(super) fn before_motion(&mut self, line: &[u8]) -> Result<(), Broken> {
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
    pub(super) fn notice(&mut self) {
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
    pub(super) fn remark(&mut self, line: &[u8]) -> Result<(), Broken> {
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

    pub(super) fn feed_mode(&mut self) {
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
    pub(super) fn set_feed(&mut self, f: Decimal) -> Result<(), Broken> {
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
    pub(super) fn set_speed(&mut self) -> Result<bool, Broken> {
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

    pub(super) fn set_tool(&mut self) -> Result<(), Broken> {
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
    pub(super) fn change_bit(&mut self) {
        if self.block.m(MGroup::BitChange).is_some() {
            self.modal.turning = Turning::Off;
            self.push(self.block.m_columns(MGroup::BitChange), Doing::BitChange { tool: self.modal.tool });
        }
    }

    pub(super) fn spindle(&mut self, faster: bool) {
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

    pub(super) fn coolant(&mut self) {
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

    pub(super) fn dwell(&mut self) -> Result<(), Broken> {
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
    pub(super) fn modes(&mut self) -> Result<(), Broken> {
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

    pub(super) fn units(&mut self) {
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
    pub(super) fn tool_length(&mut self) -> Result<(), Broken> {
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

    pub(super) fn shift_without_axes(&mut self) {
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
    pub(super) fn stop(&mut self, line: &[u8]) {
        let Some(code) = self.block.m(MGroup::Stopping) else {
            return;
        };
        let columns = self.block.m_columns(MGroup::Stopping);
        if matches!(code, M::M2 | M::M30) {
            self.facts.ended = Some(self.place(columns.clone()));
            self.push(columns, Doing::End);
            self.before_end = Some((self.modal, self.frame.base()));
            self.reset();
            self.over = true;
            return;
        }
        let own = self.block.comment.clone().and_then(|range| line.get(range));
        let own = own.map(|text| String::from_utf8_lossy(message_of(text).unwrap_or(text)));
        let own = own.map(|text| text.trim().into()).filter(|text: &String| !text.is_empty());
        let text = own.map(String::into_boxed_str).or_else(|| self.message.take());
        self.message = None;
        self.push(columns, Doing::Prompt { optional: code == M::M1, text });
    }

    /// What M2 and M30 set (NISTIR 6556 3.6.1).
    pub(super) fn reset(&mut self) {
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
