//! Motion, item 20 of the order of execution: from words to moves in the work frame.
//!
//! May live here: targets, paces, straight moves, arcs and probing as blocks ask for them. May not: the geometry of
//! an arc, cycles, anything of Table 8 before item 20.

use super::arc::{Found, Given, Question, Turn};
use super::block::{Broken, Letters};
use super::code::{G, Group};
use super::cycle::Sticky;
use super::fault::Rule;
use super::frame::Axis;
use super::interpreter::Interpreter;
use super::motion::{Doing, MotionMode, Move, MoveKind, Pace, Place, Step};
use super::number::Decimal;
use chargehand_types::quantity::{Length, Point};

/// Nothing a machine of this kind cuts lies farther out than 10 km.
pub(super) const FARTHEST: i64 = 10_000_000_000_000;
/// A probe must be able to move at least this far (NISTIR 6556 3.5.9).
const PROBE_LEAST: Length = Length(254_000);

impl Interpreter {
    /// Item 20.
    #[inline]
    pub(super) fn motion(&mut self, mode: MotionMode, out: &mut Option<Step>) -> Result<(), Broken> {
        let (blind, before) = (self.unsure != 0, self.modal.motion);
        if mode != before {
            self.modal.motion = mode;
            self.sticky = Sticky::default();
        }
        if !self.frame.is_known() {
            self.facts.system_unset.get_or_insert(Place { line: self.line, column: self.block.motion_column() });
        }
        match mode {
            MotionMode::G0 => self.straight(MoveKind::Rapid, out)?,
            MotionMode::G1 => self.straight(MoveKind::Feed, out)?,
            MotionMode::G2 => self.arc(Turn::Clockwise, blind, out)?,
            MotionMode::G3 => self.arc(Turn::CounterClockwise, blind, out)?,
            MotionMode::G38_2 => self.probe(blind, out)?,
            MotionMode::G80 => {}
            _ => self.cycle(mode, blind)?,
        }
        if blind {
            *out = None;
        }
        Ok(())
    }

    /// Where a block's axis words lead, from the place the bit is at.
    #[inline]
    pub(super) fn target(&mut self) -> Result<Point, Broken> {
        let (base, inch) = (self.frame.base(), self.modal.inch);
        let mut to = self.at;
        for axis in Axis::ALL {
            let Some(value) = self.block.get(axis.letter()) else {
                continue;
            };
            let length = value.length(inch);
            let place = axis.of_mut(&mut to);
            *place = if self.modal.incremental { *place + length } else { axis.of(&base) + length };
            self.arrive(axis, place.0, !self.modal.incremental)?;
        }
        Ok(to)
    }

    /// Notes that a motion names an axis, and refuses absurd places.
    #[inline]
    pub(super) fn arrive(&mut self, axis: Axis, place: i64, sure: bool) -> Result<(), Broken> {
        self.named |= axis.bit();
        if sure {
            self.unsure &= !axis.bit();
        }
        if place.abs() > FARTHEST { Err((Rule::TooFar, self.block.columns(axis.letter()))) } else { Ok(()) }
    }

    /// G53: machine coordinates, absolute even under G91 (NISTIR 6556 3.5.12).
    #[cold]
    fn machine_target(&mut self) -> Result<Point, Broken> {
        let mut to = self.at;
        for axis in Axis::ALL {
            let Some(value) = self.block.get(axis.letter()) else {
                continue;
            };
            let place = self.frame.from_machine(axis, value.length(self.modal.inch));
            *axis.of_mut(&mut to) = place;
            self.arrive(axis, place.0, true)?;
        }
        Ok(to)
    }

    /// How fast a cutting motion goes.
    #[inline]
    pub(super) fn pace(&self) -> Result<Pace, Broken> {
        if self.modal.inverse_time {
            return match self.block.get(b'F') {
                Some(f) if f.0 > 0 => Ok(Pace::Within(60.0 / f.to_f64())),
                _ => {
                    let column = self.block.motion_column() as usize;
                    Err((Rule::InverseTimeNoFeed, column - 1..column))
                }
            };
        }
        Ok(self.modal.feed.map_or(Pace::Unset, Pace::Feed))
    }

    #[inline]
    fn straight(&mut self, kind: MoveKind, out: &mut Option<Step>) -> Result<(), Broken> {
        let pace = if kind == MoveKind::Rapid { Pace::Rapid } else { self.pace()? };
        let to = if self.block.g(Group::Once) == Some(G::G53) { self.machine_target()? } else { self.target()? };
        self.go(kind, to, pace, out);
        Ok(())
    }

    /// Makes the move of a block's own motion word.
    #[inline]
    fn go(&mut self, kind: MoveKind, to: Point, pace: Pace, out: &mut Option<Step>) {
        let from = std::mem::replace(&mut self.at, to);
        let place = Place { line: self.line, column: self.block.motion_column() };
        let made = Move { kind, from, to, pace, named: self.named, of_cycle: false };
        *out = Some(Step { place, doing: Doing::Move(made), modal: self.modal });
    }

    /// G38.2. Where it will touch is not known; it is taken to run to its end.
    fn probe(&mut self, blind: bool, out: &mut Option<Step>) -> Result<(), Broken> {
        let columns = self.block.g_columns(Group::Motion);
        if self.modal.inverse_time {
            return Err((Rule::NotInInverseTime(G::G38_2), columns));
        }
        let pace = self.pace()?;
        let to = self.target()?;
        let way = Length::from_mm(self.at.distance(to)).unwrap_or_default();
        if way < PROBE_LEAST && !blind {
            return Err((Rule::ProbeTooNear(way), columns));
        }
        self.go(MoveKind::Probe, to, pace, out);
        Ok(())
    }

    fn arc(&mut self, turn: Turn, blind: bool, out: &mut Option<Step>) -> Result<(), Broken> {
        let [u, v, _] = self.modal.plane.axes();
        let column = self.block.motion_column() as usize;
        let columns = column - 1..column;
        let pace = self.pace()?;
        let given = self.arc_given()?;
        if !self.block.has(u.letter()) && !self.block.has(v.letter()) {
            return Err((Rule::ArcNoEnd(u.letter().into(), v.letter().into()), columns));
        }
        let from = self.at;
        let to = self.target()?;
        if blind {
            self.at = to;
            return Ok(());
        }
        let question = Question {
            plane: self.modal.plane,
            turn,
            from,
            to,
            given,
            tolerance: self.tolerance,
            inch: self.modal.inch,
        };
        let Found { arc, loose } = question.answer().map_err(|rule| (rule, self.columns_of_circle()))?;
        if let Some((apart, allowed)) = loose {
            let place = Place { line: self.line, column: column as u32 };
            self.facts.loose_arc(place, apart, allowed);
        }
        self.go(MoveKind::Arc(arc), to, pace, out);
        Ok(())
    }

    /// The letters of the centre along the plane's first and second axis.
    fn centre_letters(&self) -> [u8; 2] {
        let [u, v, _] = self.modal.plane.axes();
        [u, v].map(|axis| match axis {
            Axis::X => b'I',
            Axis::Y => b'J',
            Axis::Z => b'K',
        })
    }

    /// All the words that say where the circle is.
    fn columns_of_circle(&self) -> std::ops::Range<usize> {
        let words = self.block.words().iter().filter(|w| matches!(w.letter, b'I' | b'J' | b'K' | b'R'));
        let (first, last) = words.fold((u16::MAX, 0), |(a, b), w| (a.min(w.start), b.max(w.end)));
        if first < last { first.into()..last.into() } else { 0..1 }
    }

    fn arc_given(&self) -> Result<Given, Broken> {
        let letters = self.centre_letters();
        let offsets = letters.map(|letter| self.block.get(letter));
        let radius = self.block.get(b'R');
        let stray = Letters::of(b"IJK").without(Letters::of(&letters));
        if self.block.letters().any(stray) {
            let letter = stray.first().unwrap_or(b'K');
            return Err((Rule::WordUnused(letter.into()), self.block.columns(letter)));
        }
        let scale = if self.modal.inch { 25.4 } else { 1.0 };
        match (radius, offsets) {
            (Some(r), [None, None]) => Ok(Given::Radius(r.to_f64() * scale)),
            (Some(_), _) => Err((Rule::ArcTwoForms, self.block.columns(b'R'))),
            (None, [None, None]) => {
                let column = self.block.motion_column() as usize;
                Err((Rule::ArcNoCentre, column - 1..column))
            }
            (None, offsets) => Ok(Given::Centre(self.centre(offsets, scale))),
        }
    }

    /// Offsets count from the start in either distance mode; under G90.1 they are coordinates, and one left out
    /// keeps the start's.
    fn centre(&self, offsets: [Option<Decimal>; 2], scale: f64) -> [f64; 2] {
        let [u, v, _] = self.modal.plane.axes();
        let base = self.frame.base();
        let one = |axis: Axis, given: Option<Decimal>| {
            let start = axis.of(&self.at).mm();
            match given {
                None => start,
                Some(value) if self.modal.absolute_centres => axis.of(&base).mm() + value.to_f64() * scale,
                Some(value) => start + value.to_f64() * scale,
            }
        };
        [one(u, offsets[0]), one(v, offsets[1])]
    }
}
