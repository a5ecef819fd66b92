//! Motion: items 19 and 20 of the order of execution, from words to moves in the work frame.
//!
//! May live here: targets, paces, arcs, cycles, probing, homes, origins and shifts as blocks ask for them. May not:
//! the geometry of an arc, the plan of a cycle, anything of Table 8 before item 19.

use super::arc::{Found, Given, Question, Turn};
use super::block::{Broken, Letters};
use super::code::{G, Group};
use super::cycle::{Cycle, Part, Sticky};
use super::fault::{Foreign, Rule};
use super::frame::Axis;
use super::interpreter::Interpreter;
use super::motion::{Doing, MotionMode, Move, MoveKind, Pace, Place, Step, Turning};
use super::number::Decimal;
use chargehand_types::quantity::{Length, Point};

/// Nothing a machine of this kind cuts lies farther out than 10 km.
const FARTHEST: i64 = 10_000_000_000_000;
/// A probe must be able to move at least this far (NISTIR 6556 3.5.9).
const PROBE_LEAST: Length = Length(254_000);

impl Interpreter {
    /// Item 20.
    #[inline]
    pub(super) fn motion(&mut self, mode: MotionMode) -> Result<Option<Step>, Broken> {
        let (blind, before) = (self.unsure != 0, self.modal.motion);
        if mode != before {
            self.modal.motion = mode;
            self.sticky = Sticky::default();
        }
        if !self.frame.is_known() {
            self.facts.system_unset.get_or_insert(Place { line: self.line, column: self.block.motion_column() });
        }
        let step = match mode {
            MotionMode::G0 => Some(self.straight(MoveKind::Rapid)?),
            MotionMode::G1 => Some(self.straight(MoveKind::Feed)?),
            MotionMode::G2 => self.arc(Turn::Clockwise, blind)?,
            MotionMode::G3 => self.arc(Turn::CounterClockwise, blind)?,
            MotionMode::G38_2 => Some(self.probe(blind)?),
            MotionMode::G80 => None,
            _ => {
                self.cycle(mode, blind)?;
                None
            }
        };
        Ok(step.filter(|_| !blind))
    }

    /// Where a block's axis words lead, from the place the bit is at.
    #[inline]
    fn target(&mut self) -> Result<Point, Broken> {
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
    fn arrive(&mut self, axis: Axis, place: i64, sure: bool) -> Result<(), Broken> {
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
    fn pace(&self) -> Result<Pace, Broken> {
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
    fn straight(&mut self, kind: MoveKind) -> Result<Step, Broken> {
        let pace = if kind == MoveKind::Rapid { Pace::Rapid } else { self.pace()? };
        let to = if self.block.g(Group::Once) == Some(G::G53) { self.machine_target()? } else { self.target()? };
        Ok(self.go(kind, to, pace))
    }

    /// Makes the move of a block's own motion word.
    #[inline]
    fn go(&mut self, kind: MoveKind, to: Point, pace: Pace) -> Step {
        let from = std::mem::replace(&mut self.at, to);
        let made = Move { kind, from, to, pace, named: self.named, of_cycle: false };
        let place = Place { line: self.line, column: self.block.motion_column() };
        Step { place, doing: Doing::Move(made), modal: self.modal }
    }

    /// G38.2. Where it will touch is not known; it is taken to run to its end.
    fn probe(&mut self, blind: bool) -> Result<Step, Broken> {
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
        Ok(self.go(MoveKind::Probe, to, pace))
    }

    fn arc(&mut self, turn: Turn, blind: bool) -> Result<Option<Step>, Broken> {
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
            return Ok(None);
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
        Ok(Some(self.go(MoveKind::Arc(arc), to, pace)))
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

    fn cycle(&mut self, mode: MotionMode, blind: bool) -> Result<(), Broken> {
        let column = self.block.motion_column() as usize;
        let here = |rule| (rule, column - 1..column);
        self.cycle_may_run(mode).map_err(here)?;
        let cycle = self.cycle_asked(mode, here)?;
        let pace = self.pace()?;
        let parts = cycle.parts().map_err(here)?;
        let turning = self.modal.turning;
        for part in parts {
            self.cycle_part(part, pace, turning, blind, column - 1);
        }
        Ok(())
    }

    fn cycle_may_run(&self, mode: MotionMode) -> Result<(), Rule> {
        let turning = self.modal.turning;
        match mode {
            MotionMode::G87 => Err(Rule::Foreign(Foreign::BackBoring)),
            MotionMode::G88 => Err(Rule::Foreign(Foreign::ManualRetract)),
            _ if self.modal.inverse_time => Err(Rule::NotInInverseTime(code_of(mode))),
            MotionMode::G84 if turning != Turning::Clockwise => Err(Rule::SpindleStill(G::G84)),
            MotionMode::G86 if turning == Turning::Off => Err(Rule::SpindleStill(G::G86)),
            _ => Ok(()),
        }
    }

    /// Settles a cycle's numbers: what this block gives, what stays in force from the ones before.
    fn cycle_asked(&mut self, mode: MotionMode, here: impl Fn(Rule) -> Broken) -> Result<Cycle, Broken> {
        let plane = self.modal.plane;
        let depth = plane.axes()[2];
        let inch = self.modal.inch;
        let length = |letter: u8| self.block.get(letter).map(|d| d.length(inch));
        let (z, r, q) = (length(depth.letter()), length(b'R'), length(b'Q'));
        let p = self.block.get(b'P');
        let sticky = &mut self.sticky;
        sticky.z = z.or(sticky.z);
        sticky.r = r.or(sticky.r);
        sticky.q = q.or(sticky.q);
        sticky.p = p.map(Decimal::to_f64).or(sticky.p);
        let sticky = *sticky;
        let missing = |letter: u8| here(Rule::WordMissing(name_of(mode), letter.into()));
        let z = sticky.z.ok_or_else(|| missing(depth.letter()))?;
        let r = sticky.r.ok_or_else(|| missing(b'R'))?;
        let peck = self.peck(mode, sticky, missing(b'Q'))?;
        let dwell = self.cycle_dwell(mode, sticky, missing(b'P'))?;
        let (hole, step) = self.holes()?;
        let (r, z) = self.heights(depth, r, z)?;
        let repeats = self.repeats()?;
        let to_r = self.modal.return_to_r;
        Ok(Cycle { mode, plane, from: self.at, hole, step, r, z, peck, dwell, repeats, to_r })
    }

    fn peck(&self, mode: MotionMode, sticky: Sticky, missing: Broken) -> Result<Length, Broken> {
        match sticky.q {
            _ if mode != MotionMode::G83 => Ok(Length::ZERO),
            Some(q) if q > Length::ZERO => Ok(q),
            Some(_) => Err((Rule::PeckNothing, self.block.columns(b'Q'))),
            None => Err(missing),
        }
    }

    fn cycle_dwell(&self, mode: MotionMode, sticky: Sticky, missing: Broken) -> Result<f64, Broken> {
        match sticky.p {
            _ if !matches!(mode, MotionMode::G82 | MotionMode::G86 | MotionMode::G89) => Ok(0.0),
            Some(p) if p >= 0.0 => Ok(p),
            Some(_) => Err((Rule::Negative('P'), self.block.columns(b'P'))),
            None => Err(missing),
        }
    }

    fn repeats(&self) -> Result<u32, Broken> {
        let Some(l) = self.block.get(b'L') else {
            return Ok(1);
        };
        let whole = l.whole().filter(|n| *n >= 1).and_then(|n| u32::try_from(n).ok());
        whole.ok_or((Rule::RepeatNothing, self.block.columns(b'L')))
    }

    /// The first hole and, in G91, the step from one to the next.
    fn holes(&mut self) -> Result<(Point, Point), Broken> {
        let [u, v, _] = self.modal.plane.axes();
        let (mut hole, mut step) = (self.at, Point::default());
        let base = self.frame.base();
        for axis in [u, v] {
            let Some(value) = self.block.get(axis.letter()) else {
                continue;
            };
            let length = value.length(self.modal.inch);
            let place = axis.of_mut(&mut hole);
            if self.modal.incremental {
                *place = *place + length;
                *axis.of_mut(&mut step) = length;
            } else {
                *place = axis.of(&base) + length;
            }
            self.arrive(axis, place.0, !self.modal.incremental)?;
        }
        Ok((hole, step))
    }

    /// R and the bottom in the work frame: coordinates in G90; in G91 R counts from here, Z from R.
    fn heights(&mut self, depth: Axis, r: Length, z: Length) -> Result<(Length, Length), Broken> {
        let base = depth.of(&self.frame.base());
        let (r, z) = if self.modal.incremental {
            let r = depth.of(&self.at) + r;
            (r, r + z)
        } else {
            (base + r, base + z)
        };
        self.arrive(depth, r.0, !self.modal.incremental)?;
        self.arrive(depth, z.0, !self.modal.incremental)?;
        Ok((r, z))
    }

    fn cycle_part(&mut self, part: Part, pace: Pace, turning: Turning, blind: bool, column: usize) {
        let columns = column..column + 1;
        let spindle = match part {
            Part::Rapid(to) => {
                return self.cycle_move(MoveKind::Rapid, to, Pace::Rapid, blind, column);
            }
            Part::Feed(to) => return self.cycle_move(MoveKind::Feed, to, pace, blind, column),
            Part::Dwell(seconds) => return self.push(columns, Doing::Dwell { seconds }),
            Part::Stop => Turning::Off,
            Part::Restart => turning,
            Part::Reverse => Turning::CounterClockwise,
        };
        self.modal.turning = spindle;
        self.push(columns, Doing::Spindle);
    }

    fn cycle_move(&mut self, kind: MoveKind, to: Point, pace: Pace, blind: bool, column: usize) {
        let from = std::mem::replace(&mut self.at, to);
        if !blind {
            let made = Move { kind, from, to, pace, named: self.named, of_cycle: true };
            self.push(column..column + 1, Doing::Move(made));
        }
    }

    /// Item 19: G10, G28, G30, G92.
    #[cold]
    pub(super) fn once_with_axes(&mut self, code: G) -> Result<(), Broken> {
        match code {
            G::G10 => self.set_origin(),
            G::G28 => self.go_home(0),
            G::G30 => self.go_home(1),
            _ => self.shift(),
        }
    }

    fn shift(&mut self) -> Result<(), Broken> {
        for axis in Axis::ALL {
            if let Some(value) = self.block.get(axis.letter()) {
                self.frame.shift_to(axis, value.length(self.modal.inch), self.at, &mut self.parameters);
            }
        }
        self.modal.shift = self.frame.shift();
        Ok(())
    }

    fn set_origin(&mut self) -> Result<(), Broken> {
        let columns = self.block.g_columns(Group::Once);
        let l = self.block.get(b'L').ok_or((Rule::WordMissing("G10", 'L'), columns.clone()))?;
        let p = self.block.get(b'P').ok_or((Rule::WordMissing("G10", 'P'), columns))?;
        let system = p.whole().filter(|n| (1..=9).contains(n)).and_then(|n| u8::try_from(n).ok());
        let range = Rule::OutOfRange { letter: 'P', least: 1, most: 9 };
        let system = system.ok_or((range, self.block.columns(b'P')))?;
        let here = match l.whole() {
            Some(2) => false,
            Some(20) => true,
            _ => return Err((Rule::Stray('L'), self.block.columns(b'L'))),
        };
        for axis in Axis::ALL {
            let Some(value) = self.block.get(axis.letter()) else {
                continue;
            };
            let value = value.length(self.modal.inch);
            if here {
                self.frame.set_origin_here(system, axis, value, self.at, &mut self.parameters);
            } else {
                self.frame.set_origin(system, axis, value, &mut self.parameters);
            }
        }
        Ok(())
    }

    /// G28, G30: by way of the place given, if any, to the stored home, all axes (NISTIR 6556 3.5.7).
    fn go_home(&mut self, which: usize) -> Result<(), Broken> {
        let column = self.block.g_columns(Group::Once).start;
        self.facts.home_assumed.get_or_insert(self.place(column..column + 1));
        if self.block.letters().any(Letters::AXES) {
            let (from, to) = (self.at, self.target()?);
            if from != to {
                self.home_move(to, column);
            }
        }
        let blind = self.unsure != 0;
        let home = self.frame.home(which);
        (self.named, self.unsure) = (7, 0);
        if blind {
            self.at = home;
        } else if self.at != home {
            self.home_move(home, column);
        }
        Ok(())
    }

    fn home_move(&mut self, to: Point, column: usize) {
        let from = std::mem::replace(&mut self.at, to);
        if self.unsure == 0 {
            let made = Move { kind: MoveKind::Rapid, from, to, pace: Pace::Rapid, named: self.named, of_cycle: false };
            self.push(column..column + 1, Doing::Move(made));
        }
    }
}

fn code_of(mode: MotionMode) -> G {
    match mode {
        MotionMode::G0 => G::G0,
        MotionMode::G1 => G::G1,
        MotionMode::G2 => G::G2,
        MotionMode::G3 => G::G3,
        MotionMode::G38_2 => G::G38_2,
        MotionMode::G80 => G::G80,
        MotionMode::G81 => G::G81,
        MotionMode::G82 => G::G82,
        MotionMode::G83 => G::G83,
        MotionMode::G84 => G::G84,
        MotionMode::G85 => G::G85,
        MotionMode::G86 => G::G86,
        MotionMode::G87 => G::G87,
        MotionMode::G88 => G::G88,
        MotionMode::G89 => G::G89,
    }
}

fn name_of(mode: MotionMode) -> &'static str {
    match mode {
        MotionMode::G82 => "G82",
        MotionMode::G83 => "G83",
        MotionMode::G84 => "G84",
        MotionMode::G85 => "G85",
        MotionMode::G86 => "G86",
        MotionMode::G89 => "G89",
        _ => "G81",
    }
}
