//! Carries blocks out in the order of NISTIR 6556, Table 8, and tells the steps they come to.

use super::arc::{self, Way};
use super::block::{Block, NonModal};
use super::cycle::Sticky;
use super::fault::Rule;
use super::lex::{At, Words};
use super::motion::{Doing, Modal, MotionMode, Move, MoveKind, Pace, Place, Plane, Start, Step, Turning};
use super::number::Number;
use super::parameters::Parameters;
use chargehand_types::quantity::{Length, Point, Rpm};
use std::collections::VecDeque;

/// The machine as the program has left it.
pub(in crate::program) struct Interpreter {
    pub modal: Modal,
    pub at: Point,
    pub start: Start,
    /// Origins of the nine systems, in the work frame (G54 at the start is zero).
    origins: [Point; 9],
    /// G92 shift, to be added to a programmed coordinate.
    pub shift: Point,
    stored_shift: Point,
    homes: [Point; 2],
    pub named: u8,
    pub sticky: Sticky,
    pub parameters: Parameters,
    pub ended: bool,
    /// First place of G20 and of G21.
    pub unit_words: [Option<Place>; 2],
    last_message: Option<Box<str>>,
    /// Radii apart by more than NIST allows, but not by more than the controller does.
    pub loose: Option<f64>,
}

/// Where steps go.
pub(in crate::program) type Steps = VecDeque<Step>;

/// The axis letters and their bits.
const AXES: [(u8, u8); 3] = [(b'X', 1), (b'Y', 2), (b'Z', 4)];

impl Interpreter {
    pub fn new(start: Start) -> Self {
        Self {
            modal: Modal { system: 1, ..Modal::default() },
            at: start.at,
            start,
            origins: [Point::default(); 9],
            shift: Point::default(),
            stored_shift: Point::default(),
            homes: [Point::default() - start.work_zero; 2],
            named: 0,
            sticky: Sticky::default(),
            parameters: Parameters::default(),
            ended: false,
            unit_words: [None; 2],
            last_message: None,
            loose: None,
        }
    }

    /// Carries one block out.
    ///
    /// # Errors
    /// The first broken rule, with its 0-based column; the block has then done nothing.
    pub fn block(&mut self, line: u32, text: &[u8], words: &Words, b: &Block, out: &mut Steps) -> Result<(), At> {
        let plan = Plan { line, words, used: 0 };
        self.loose = None;
        let before = out.len();
        let saved = (self.modal, self.at, self.named, self.shift);
        let done = self.carry_out(plan, text, b, out);
        match done {
            Ok(()) => {
                for (index, value) in &words.settings {
                    self.parameters.set(*index, *value);
                }
                Ok(())
            }
            Err(fault) => {
                out.truncate(before);
                (self.modal, self.at, self.named, self.shift) = saved;
                Err(fault)
            }
        }
    }

    fn carry_out(&mut self, mut plan: Plan<'_>, text: &[u8], b: &Block, out: &mut Steps) -> Result<(), At> {
        let message = self.comment(&plan, text, out);
        self.modes(&mut plan, b)?;
        self.feed_speed_tool(&mut plan, b, out)?;
        self.machine_words(&plan, b, out);
        if let Some((NonModal::Dwell, column)) = b.non_modal {
            self.dwell(&mut plan, column, out)?;
        }
        self.data(&mut plan, b, out)?;
        self.motion(&mut plan, b, out)?;
        plan.nothing_left()?;
        self.stopping(&plan, b, message, out);
        Ok(())
    }

    fn push(&self, plan: &Plan<'_>, column: u32, doing: Doing, out: &mut Steps) {
        out.push_back(Step { place: Place { line: plan.line, column }, doing, modal: self.modal });
    }

    /// Step 1: the last comment of the line, and what it says to the operator.
    fn comment(&mut self, plan: &Plan<'_>, text: &[u8], out: &mut Steps) -> Option<Box<str>> {
        let (from, to) = plan.words.comment?;
        let inside = text.get(usize::from(from)..usize::from(to)).unwrap_or_default();
        let said = String::from_utf8_lossy(inside).trim().to_owned();
        let blanks_out: String = said.chars().filter(|c| !c.is_whitespace()).take(4).collect();
        if blanks_out.eq_ignore_ascii_case("MSG,") {
            let message: Box<str> = said.split_once(',').map_or("", |(_, m)| m.trim()).into();
            self.last_message = Some(message.clone());
            self.push(plan, u32::from(from), Doing::Message(message.clone()), out);
            return Some(message);
        }
        (!said.is_empty()).then(|| said.into())
    }

    /// Feed mode, plane, units and the other modes. They hold for the whole block, whatever the order of its words.
    fn modes(&mut self, plan: &mut Plan<'_>, b: &Block) -> Result<(), At> {
        let m = &mut self.modal;
        set(&mut m.inverse_time, b.inverse_time);
        set(&mut m.plane, b.plane);
        if let Some((inch, column)) = b.inch {
            m.inch = inch;
            let slot = usize::from(!inch);
            let place = Place { line: plan.line, column: u32::from(column) + 1 };
            if let Some(first) = self.unit_words.get_mut(slot) {
                first.get_or_insert(place);
            }
        }
        let m = &mut self.modal;
        if let Some(on) = b.tool_length {
            m.tool_length = if on { Some(plan.whole(b'H')?.unwrap_or(0)) } else { None };
        }
        set(&mut m.system, b.system);
        set(&mut m.exact, b.exact);
        set(&mut m.incremental, b.incremental);
        set(&mut m.absolute_centres, b.absolute_centres);
        set(&mut m.return_to_r, b.return_to_r);
        Ok(())
    }

    fn feed_speed_tool(&mut self, plan: &mut Plan<'_>, b: &Block, out: &mut Steps) -> Result<(), At> {
        if !self.modal.inverse_time
            && let Some(f) = plan.take(b'F')
        {
            if f.0 < 0 {
                return plan.fault(b'F', Rule::Negative('F'));
            }
            self.modal.feed = Some(f.feed(self.modal.inch));
        }
        if let Some(t) = plan.take(b'T') {
            let tool = t.integer().and_then(|t| u32::try_from(t).ok());
            if tool.is_none() {
                return plan.fault(b'T', Rule::Negative('T'));
            }
            self.modal.tool = tool;
        }
        let speed = plan.take(b'S');
        if let Some(s) = speed {
            if s.0 < 0 {
                return plan.fault(b'S', Rule::Negative('S'));
            }
            self.modal.speed = Some(Rpm(s.0 / 1_000_000));
        }
        if b.tool_change.is_some() {
            self.modal.turning = Turning::Off;
            let tool = self.modal.tool;
            self.push(plan, b.tool_change.map_or(1, |c| u32::from(c) + 1), Doing::BitChange { tool }, out);
        }
        if speed.is_some() && b.turning.is_none() && self.modal.turning != Turning::Off {
            self.push(plan, plan.words.column(b'S'), Doing::Spindle, out);
        }
        Ok(())
    }

    fn machine_words(&mut self, plan: &Plan<'_>, b: &Block, out: &mut Steps) {
        if let Some((code, column)) = b.turning {
            self.modal.turning = match code {
                3 => Turning::Clockwise,
                4 => Turning::CounterClockwise,
                _ => Turning::Off,
            };
            self.push(plan, u32::from(column) + 1, Doing::Spindle, out);
        }
        if b.mist || b.flood || b.coolant_off {
            self.modal.mist = (self.modal.mist || b.mist) && !b.coolant_off;
            self.modal.flood = (self.modal.flood || b.flood) && !b.coolant_off;
            self.push(plan, 1, Doing::Coolant, out);
        }
        set(&mut self.modal.overrides_off, b.overrides_off);
    }

    fn dwell(&mut self, plan: &mut Plan<'_>, column: u16, out: &mut Steps) -> Result<(), At> {
        let p = plan.need(b'P', column, Rule::CycleNeeds('P'))?;
        if p.0 < 0 {
            return plan.fault(b'P', Rule::Negative('P'));
        }
        self.push(plan, u32::from(column) + 1, Doing::Dwell { seconds: p.f64() }, out);
        Ok(())
    }

    /// Step 19: G28, G30, G10, the G92 family.
    fn data(&mut self, plan: &mut Plan<'_>, b: &Block, out: &mut Steps) -> Result<(), At> {
        match b.non_modal {
            Some((NonModal::SetData, column)) => self.set_data(plan, column),
            Some((NonModal::Home(which), column)) => self.go_home(plan, which, column, out),
            Some((NonModal::Shift, column)) => self.set_shift(plan, column),
            Some((NonModal::ShiftOff(kind), _)) => {
                match kind {
                    1 => {
                        self.shift = Point::default();
                        self.stored_shift = Point::default();
                    }
                    2 => self.shift = Point::default(),
                    _ => self.shift = self.stored_shift,
                }
                self.modal.shift = self.shift;
                Ok(())
            }
            Some((NonModal::Dwell, _)) | None => Ok(()),
        }
    }

    fn set_data(&mut self, plan: &mut Plan<'_>, column: u16) -> Result<(), At> {
        let l = plan.need(b'L', column, Rule::CycleNeeds('L'))?.integer();
        let p = plan.need(b'P', column, Rule::CycleNeeds('P'))?.integer();
        let number = match p {
            Some(0) => Some(usize::from(self.modal.system)),
            Some(p @ 1..=9) => usize::try_from(p).ok(),
            _ => None,
        };
        let Some(slot) = number.and_then(|n| self.origins.get_mut(n - 1)) else {
            return plan.fault(b'P', Rule::BadSystem);
        };
        for (letter, bit) in AXES {
            let Some(v) = plan.take(letter) else { continue };
            let v = v.length(self.modal.inch);
            let (base, at, shift) = (axis(self.start.work_zero, bit), axis(self.at, bit), axis(self.shift, bit));
            let origin = match l {
                Some(2) => v - base,
                Some(20) => at - shift - v,
                _ => return Err((usize::from(column), Rule::BadSystem)),
            };
            set_axis(slot, bit, origin);
        }
        Ok(())
    }

    fn set_shift(&mut self, plan: &mut Plan<'_>, column: u16) -> Result<(), At> {
        let origin = self.origin();
        let mut any = false;
        for (letter, bit) in AXES {
            if let Some(v) = plan.take(letter) {
                any = true;
                let shift = axis(self.at, bit) - axis(origin, bit) - v.length(self.modal.inch);
                set_axis(&mut self.shift, bit, shift);
            }
        }
        if !any {
            return Err((usize::from(column), Rule::NoAxisWord("G92")));
        }
        self.stored_shift = self.shift;
        self.modal.shift = self.shift;
        Ok(())
    }

    fn go_home(&mut self, plan: &mut Plan<'_>, which: u8, column: u16, out: &mut Steps) -> Result<(), At> {
        let home = self.homes.get(usize::from(which)).copied().unwrap_or_default();
        if plan.has_axis() {
            let through = self.target(plan, false);
            self.go(plan, u32::from(column) + 1, MoveKind::Rapid, through, Pace::Rapid, false, out);
        }
        self.named = 7;
        self.go(plan, u32::from(column) + 1, MoveKind::Rapid, home, Pace::Rapid, false, out);
        Ok(())
    }

    fn origin(&self) -> Point {
        self.origins.get(usize::from(self.modal.system.saturating_sub(1))).copied().unwrap_or_default()
    }

    /// What is added to a programmed coordinate to get the work frame.
    pub(in crate::program) fn offset(&self) -> Point {
        self.origin() + self.shift
    }

    /// The end point that the axis words ask for, in the work frame. Takes the words.
    fn target(&mut self, plan: &mut Plan<'_>, machine: bool) -> Point {
        let offset = if machine { Point::default() - self.start.work_zero } else { self.offset() };
        let mut to = self.at;
        for (letter, bit) in AXES {
            let Some(v) = plan.take(letter) else { continue };
            self.named |= bit;
            let v = v.length(self.modal.inch);
            let absolute = machine || !self.modal.incremental;
            set_axis(&mut to, bit, if absolute { axis(offset, bit) + v } else { axis(self.at, bit) + v });
        }
        to
    }

    #[allow(clippy::too_many_arguments, reason = "one motion has this many facts")]
    pub(in crate::program) fn go(
        &mut self,
        plan: &Plan<'_>,
        column: u32,
        kind: MoveKind,
        to: Point,
        pace: Pace,
        of_cycle: bool,
        out: &mut Steps,
    ) {
        let doing = Doing::Move(Move { kind, from: self.at, to, pace, named: self.named, of_cycle });
        self.at = to;
        self.push(plan, column, doing, out);
    }

    /// Step 20: the motion in force, if the block has axis words for it.
    fn motion(&mut self, plan: &mut Plan<'_>, b: &Block, out: &mut Steps) -> Result<(), At> {
        let (mode, column) = match b.motion {
            Some((mode, column)) => {
                if mode != self.modal.motion {
                    self.sticky = Sticky::default();
                }
                self.modal.motion = mode;
                (mode, u32::from(column) + 1)
            }
            None => (self.modal.motion, plan.first_axis_column()),
        };
        let at = column.saturating_sub(1) as usize;
        if b.machine_coordinates && !matches!(mode, MotionMode::G0 | MotionMode::G1) {
            return Err((at, Rule::G53NeedsStraight));
        }
        let named = b.motion.is_some();
        match mode {
            MotionMode::G80 if plan.has_axis() => Err((at, Rule::AxisWithG80)),
            MotionMode::G80 => Ok(()),
            MotionMode::G0 | MotionMode::G1 | MotionMode::G38_2 => {
                if !plan.has_axis() {
                    let lone = named && !b.machine_coordinates && words_are_lone(plan, b);
                    return if lone { Err((at, Rule::NoAxisWord(name(mode)))) } else { Ok(()) };
                }
                self.straight(plan, mode, column, b.machine_coordinates, out)
            }
            MotionMode::G2 | MotionMode::G3 => {
                if !named && !plan.has_axis() && !plan.has(b'I') && !plan.has(b'J') && !plan.has(b'K') {
                    return Ok(());
                }
                self.arc(plan, mode, column, out)
            }
            _ => {
                if !named && !plan.has_axis() {
                    return Ok(());
                }
                self.cycle(plan, mode, column, out)
            }
        }
    }

    /// How fast a cutting motion of this length is asked to be.
    fn pace(&self, plan: &mut Plan<'_>) -> Result<Pace, At> {
        if !self.modal.inverse_time {
            return Ok(self.modal.feed.filter(|f| f.0 > 0).map_or(Pace::Unset, Pace::Feed));
        }
        match plan.take(b'F') {
            Some(f) if f.0 > 0 => Ok(Pace::Within(60.0 / f.f64())),
            _ => Err((0, Rule::InverseTimeNeedsF)),
        }
    }

    fn straight(
        &mut self,
        plan: &mut Plan<'_>,
        mode: MotionMode,
        column: u32,
        machine: bool,
        out: &mut Steps,
    ) -> Result<(), At> {
        let at = column.saturating_sub(1) as usize;
        let (kind, pace) = match mode {
            MotionMode::G0 => {
                // a feed given beside a rapid under G93 sets nothing
                plan.take_if(b'F', self.modal.inverse_time);
                (MoveKind::Rapid, Pace::Rapid)
            }
            MotionMode::G38_2 if self.modal.inverse_time => {
                return Err((at, Rule::ProbeInverseTime));
            }
            MotionMode::G38_2 => (MoveKind::Probe, self.pace(plan)?),
            _ => (MoveKind::Feed, self.pace(plan)?),
        };
        let from = self.at;
        let to = self.target(plan, machine);
        if kind == MoveKind::Probe && from.distance(to) < 0.254 {
            return Err((at, Rule::ProbeTooNear));
        }
        self.go(plan, column, kind, to, pace, false, out);
        Ok(())
    }

    fn arc(&mut self, plan: &mut Plan<'_>, mode: MotionMode, column: u32, out: &mut Steps) -> Result<(), At> {
        let at = column.saturating_sub(1) as usize;
        let plane = self.modal.plane;
        let (u, v) = match plane {
            Plane::Xy => (b'X', b'Y'),
            Plane::Zx => (b'Z', b'X'),
            Plane::Yz => (b'Y', b'Z'),
        };
        let offsets = [offset_letter(u), offset_letter(v)];
        let r = plan.take(b'R');
        let centred = offsets.iter().any(|l| plan.has(*l));
        match (r, centred) {
            (Some(_), true) => return Err((at, Rule::ArcMixed)),
            (None, false) => {
                let rule = if plan.has(u) || plan.has(v) { Rule::ArcNoCentre } else { Rule::ArcNoEnd };
                return Err((at, rule));
            }
            _ => {}
        }
        if !plan.has(u) && !plan.has(v) {
            return Err((at, if r.is_some() { Rule::ArcFullByRadius } else { Rule::ArcNoEnd }));
        }
        let pace = self.pace(plan)?;
        let from = self.at;
        let to = self.target(plan, false);
        let way = if mode == MotionMode::G2 { Way::Clockwise } else { Way::CounterClockwise };
        let tolerance = self.start.arc_tolerance;
        let kind = if let Some(r) = r {
            let radius = r.length(self.modal.inch).mm();
            arc::by_radius(from, to, radius, plane, way, tolerance).map_err(|rule| (at, rule))?
        } else {
            let centre = self.centre(plan, offsets, from, plane);
            let (arc, differ) = arc::by_centre(from, to, centre, plane, way, tolerance).map_err(|rule| (at, rule))?;
            let nist = if self.modal.inch { arc::NIST_RADII_INCH_MM } else { arc::NIST_RADII_MM };
            self.loose = (differ > nist + 1.0e-9).then_some(differ);
            arc
        };
        self.go(plan, column, MoveKind::Arc(kind), to, pace, false, out);
        Ok(())
    }

    fn centre(&self, plan: &mut Plan<'_>, letters: [u8; 2], from: Point, plane: Plane) -> [f64; 2] {
        let base = if self.modal.absolute_centres { self.origin() + self.shift } else { from };
        let base = arc::in_plane(base, plane);
        let inch = self.modal.inch;
        let offset = |v: Option<Number>| v.map_or(0.0, |n| n.length(inch).mm());
        let [iu, iv] = letters;
        [base[0] + offset(plan.take(iu)), base[1] + offset(plan.take(iv))]
    }

    /// Step 21: M0, M1, M60, M2, M30.
    fn stopping(&mut self, plan: &Plan<'_>, b: &Block, said: Option<Box<str>>, out: &mut Steps) {
        let Some((code, column)) = b.stopping else {
            return;
        };
        let column = u32::from(column) + 1;
        match code {
            2 | 30 => {
                self.ended = true;
                self.push(plan, column, Doing::End, out);
            }
            _ => {
                let text = said.or_else(|| self.last_message.take());
                self.push(plan, column, Doing::Prompt { optional: code == 1, text }, out);
            }
        }
    }
}

/// G0 or G1 alone on its line asks for axis words; beside other words it only sets the mode.
fn words_are_lone(plan: &Plan<'_>, b: &Block) -> bool {
    let other = b.plane.is_some()
        || b.incremental.is_some()
        || b.inch.is_some()
        || b.system.is_some()
        || b.exact.is_some()
        || b.inverse_time.is_some()
        || b.tool_length.is_some()
        || b.turning.is_some()
        || b.stopping.is_some()
        || b.non_modal.is_some();
    !other && plan.words.mask() == 0
}

const fn name(mode: MotionMode) -> &'static str {
    match mode {
        MotionMode::G0 => "G0",
        MotionMode::G1 => "G1",
        MotionMode::G38_2 => "G38.2",
        _ => "the motion",
    }
}

const fn offset_letter(axis: u8) -> u8 {
    match axis {
        b'X' => b'I',
        b'Y' => b'J',
        _ => b'K',
    }
}

fn set<T>(member: &mut T, to: Option<T>) {
    if let Some(to) = to {
        *member = to;
    }
}

/// One axis of a point, by its bit.
pub(in crate::program) const fn axis(p: Point, bit: u8) -> Length {
    match bit {
        1 => p.x,
        2 => p.y,
        _ => p.z,
    }
}

/// Sets one axis of a point, by its bit.
pub(in crate::program) const fn set_axis(p: &mut Point, bit: u8, to: Length) {
    match bit {
        1 => p.x = to,
        2 => p.y = to,
        _ => p.z = to,
    }
}

/// A block being carried out: which of its words have been used.
pub(in crate::program) struct Plan<'a> {
    pub line: u32,
    pub words: &'a Words,
    used: u32,
}

impl Plan<'_> {
    /// Takes a letter's value.
    pub fn take(&mut self, letter: u8) -> Option<Number> {
        self.used |= 1 << (letter - b'A');
        self.words.get(letter)
    }

    fn take_if(&mut self, letter: u8, wanted: bool) {
        if wanted {
            self.take(letter);
        }
    }

    pub fn has(&self, letter: u8) -> bool {
        self.words.get(letter).is_some()
    }

    /// Whether axis words are left for a motion.
    pub fn has_axis(&self) -> bool {
        AXES.iter().any(|(l, _)| self.has(*l) && self.used & (1 << (l - b'A')) == 0)
    }

    fn first_axis_column(&self) -> u32 {
        AXES.iter().filter(|(l, _)| self.has(*l)).map(|(l, _)| self.words.column(*l)).min().unwrap_or(1)
    }

    pub fn need(&mut self, letter: u8, column: u16, rule: Rule) -> Result<Number, At> {
        self.take(letter).ok_or((usize::from(column), rule))
    }

    fn whole(&mut self, letter: u8) -> Result<Option<u16>, At> {
        match self.take(letter) {
            None => Ok(None),
            Some(n) => match n.integer().and_then(|v| u16::try_from(v).ok()) {
                Some(v) => Ok(Some(v)),
                None => self.fault(letter, Rule::NotWhole(char::from(letter))),
            },
        }
    }

    pub fn fault<T>(&self, letter: u8, rule: Rule) -> Result<T, At> {
        Err((self.words.column(letter).saturating_sub(1) as usize, rule))
    }

    /// Everything on a line must be used by something on it (3.3: what is not allowed is illegal).
    fn nothing_left(&self) -> Result<(), At> {
        let left = self.words.mask() & !self.used;
        if left == 0 {
            return Ok(());
        }
        #[allow(clippy::cast_possible_truncation, reason = "0..26")]
        let letter = b'A' + left.trailing_zeros() as u8;
        self.fault(letter, Rule::UnusedWord(char::from(letter)))
    }
}
