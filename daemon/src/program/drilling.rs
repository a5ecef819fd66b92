//! Canned cycles as blocks ask for them: numbers that stay in force, holes, heights (NISTIR 6556 3.5.16).
//!
//! May live here: from a block's words to a settled cycle, and from its parts to steps. May not: what a cycle unfolds
//! to, which is in `cycle`.

use super::block::Broken;
use super::code::G;
use super::cycle::{Cycle, Part, Sticky};
use super::fault::{Foreign, Rule};
use super::frame::Axis;
use super::interpreter::Interpreter;
use super::motion::{Doing, MotionMode, Move, MoveKind, Pace, Turning};
use super::number::Decimal;
use chargehand_types::quantity::{Length, Point};

impl Interpreter {
    pub(super) fn cycle(&mut self, mode: MotionMode, blind: bool) -> Result<(), Broken> {
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
                *place += length;
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
