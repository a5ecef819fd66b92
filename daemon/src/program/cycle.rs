//! Canned cycles G81 to G89, unfolded into rapids, feeds and dwells (NISTIR 6556, 3.5.16 and 3.5.20).

use super::fault::Rule;
use super::interpret::{Interpreter, Plan, Steps, axis, set_axis};
use super::lex::At;
use super::motion::{Doing, MotionMode, MoveKind, Pace, Place, Plane, Step, Turning};
use chargehand_types::quantity::{Length, Point};

/// How far above the last depth a peck comes back (not given by NISTIR 6556; 0.25 mm is common practice, no source).
const PECK_BACK: Length = Length(250_000);
/// Pecks and repeats one line may unfold to.
const UNFOLDS_AT_MOST: i64 = 10_000;

/// What stays from one cycle line to the next while the same cycle is in force.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::program) struct Sticky {
    z: Option<Length>,
    r: Option<Length>,
    q: Option<Length>,
    p: Option<f64>,
}

/// The heights of one cycle line, along the plane's third axis.
struct Heights {
    bottom: Length,
    retract: Length,
    clear: Length,
}

impl Interpreter {
    /// Unfolds a cycle line.
    ///
    /// # Errors
    /// The broken rule with its 0-based column.
    pub(in crate::program) fn cycle(
        &mut self,
        plan: &mut Plan<'_>,
        mode: MotionMode,
        column: u32,
        out: &mut Steps,
    ) -> Result<(), At> {
        let at = column.saturating_sub(1) as usize;
        if self.modal.inverse_time {
            return Err((at, Rule::CycleInverseTime));
        }
        if matches!(mode, MotionMode::G87 | MotionMode::G88) {
            let what = "back boring and manual retract (G87, G88) need a person at every hole";
            return Err((at, Rule::NotForController(what.to_owned())));
        }
        if matches!(mode, MotionMode::G84 | MotionMode::G86) && self.modal.turning == Turning::Off {
            return Err((at, Rule::SpindleMustTurn));
        }
        let [u, v, w] = letters(self.modal.plane);
        if !plan.has(u.0) && !plan.has(v.0) && !plan.has(w.0) {
            return Err((at, Rule::NoAxisWord("a cycle")));
        }
        let repeats = self.cycle_words(plan, mode, w, at)?;
        let heights = self.heights(w.1, at)?;
        let steps = (self.step_word(plan, u), self.step_word(plan, v));
        self.named |= w.1;
        let mut hole = Hole { plan, column, out };
        if axis(self.at, w.1) < heights.retract {
            self.along(&mut hole, w.1, heights.retract, MoveKind::Rapid);
        }
        for _ in 0..repeats {
            let mut to = self.at;
            place(&mut to, u.1, steps.0);
            place(&mut to, v.1, steps.1);
            if to != self.at {
                self.hole_go(&mut hole, MoveKind::Rapid, to);
            }
            self.hole(&mut hole, mode, w.1, &heights);
        }
        Ok(())
    }

    fn cycle_words(&mut self, plan: &mut Plan<'_>, mode: MotionMode, w: (u8, u8), at: usize) -> Result<i64, At> {
        let inch = self.modal.inch;
        if let Some(z) = plan.take(w.0) {
            self.sticky.z = Some(z.length(inch));
        }
        if let Some(r) = plan.take(b'R') {
            self.sticky.r = Some(r.length(inch));
        }
        if let Some(q) = plan.take(b'Q') {
            if q.0 <= 0 {
                return plan.fault(b'Q', Rule::NotPositive('Q'));
            }
            self.sticky.q = Some(q.length(inch));
        }
        if let Some(p) = plan.take(b'P') {
            if p.0 < 0 {
                return plan.fault(b'P', Rule::Negative('P'));
            }
            self.sticky.p = Some(p.f64());
        }
        if mode == MotionMode::G83 && self.sticky.q.is_none() {
            return Err((at, Rule::CycleNeeds('Q')));
        }
        if matches!(mode, MotionMode::G82 | MotionMode::G86 | MotionMode::G89) && self.sticky.p.is_none() {
            return Err((at, Rule::CycleNeeds('P')));
        }
        match plan.take(b'L').map(super::number::Number::integer) {
            None => Ok(1),
            Some(Some(l)) if (1..=UNFOLDS_AT_MOST).contains(&l) => Ok(l),
            Some(_) => plan.fault(b'L', Rule::NotPositive('L')),
        }
    }

    /// In G90 Z and R are coordinates; in G91 R is a step from where the bit is, Z a step from R.
    fn heights(&self, bit: u8, at: usize) -> Result<Heights, At> {
        let z = self.sticky.z.ok_or((at, Rule::CycleNeeds('Z')))?;
        let r = self.sticky.r.ok_or((at, Rule::CycleNeeds('R')))?;
        let here = axis(self.at, bit);
        let (bottom, retract) = if self.modal.incremental {
            (here + r + z, here + r)
        } else {
            let offset = axis(self.offset(), bit);
            (offset + z, offset + r)
        };
        if retract < bottom {
            return Err((at, Rule::CycleRBelowZ));
        }
        let clear = if self.modal.return_to_r || here < retract { retract } else { here };
        Ok(Heights { bottom, retract, clear })
    }

    fn step_word(&mut self, plan: &mut Plan<'_>, (letter, bit): (u8, u8)) -> Along {
        let Some(v) = plan.take(letter) else {
            return Along::Stay;
        };
        self.named |= bit;
        let v = v.length(self.modal.inch);
        if self.modal.incremental { Along::By(v) } else { Along::To(axis(self.offset(), bit) + v) }
    }

    fn hole(&mut self, hole: &mut Hole<'_, '_>, mode: MotionMode, bit: u8, h: &Heights) {
        self.along(hole, bit, h.retract, MoveKind::Rapid);
        if mode == MotionMode::G83 {
            self.pecks(hole, bit, h);
        } else {
            self.along(hole, bit, h.bottom, MoveKind::Feed);
        }
        if matches!(mode, MotionMode::G82 | MotionMode::G86 | MotionMode::G89)
            && let Some(seconds) = self.sticky.p
        {
            self.hole_do(hole, Doing::Dwell { seconds });
        }
        match mode {
            MotionMode::G85 | MotionMode::G89 => {
                self.along(hole, bit, h.retract, MoveKind::Feed);
                self.along(hole, bit, h.clear, MoveKind::Rapid);
            }
            MotionMode::G84 => self.tap_out(hole, bit, h),
            MotionMode::G86 => {
                let was = self.modal.turning;
                self.turn(hole, Turning::Off);
                self.along(hole, bit, h.clear, MoveKind::Rapid);
                self.turn(hole, was);
            }
            _ => self.along(hole, bit, h.clear, MoveKind::Rapid),
        }
    }

    fn tap_out(&mut self, hole: &mut Hole<'_, '_>, bit: u8, h: &Heights) {
        let was = self.modal.turning;
        self.turn(hole, if was == Turning::Clockwise { Turning::CounterClockwise } else { Turning::Clockwise });
        self.along(hole, bit, h.retract, MoveKind::Feed);
        self.turn(hole, was);
        self.along(hole, bit, h.clear, MoveKind::Rapid);
    }

    fn turn(&mut self, hole: &mut Hole<'_, '_>, to: Turning) {
        self.modal.turning = to;
        self.hole_do(hole, Doing::Spindle);
    }

    fn pecks(&mut self, hole: &mut Hole<'_, '_>, bit: u8, h: &Heights) {
        let Some(q) = self.sticky.q else { return };
        let mut depth = h.retract;
        for _ in 0..UNFOLDS_AT_MOST {
            let next = if depth - q < h.bottom { h.bottom } else { depth - q };
            self.along(hole, bit, next, MoveKind::Feed);
            if next <= h.bottom {
                break;
            }
            // the retract of a peck goes to the clear level, and back to just above the last depth
            self.along(hole, bit, h.clear, MoveKind::Rapid);
            self.along(hole, bit, next + PECK_BACK, MoveKind::Rapid);
            depth = next;
        }
    }

    fn along(&mut self, hole: &mut Hole<'_, '_>, bit: u8, height: Length, kind: MoveKind) {
        let mut to = self.at;
        set_axis(&mut to, bit, height);
        if to != self.at {
            self.hole_go(hole, kind, to);
        }
    }

    fn hole_go(&mut self, hole: &mut Hole<'_, '_>, kind: MoveKind, to: Point) {
        let pace = match kind {
            MoveKind::Rapid => Pace::Rapid,
            _ => self.modal.feed.filter(|f| f.0 > 0).map_or(Pace::Unset, Pace::Feed),
        };
        self.go(hole.plan, hole.column, kind, to, pace, true, hole.out);
    }

    fn hole_do(&self, hole: &mut Hole<'_, '_>, doing: Doing) {
        let place = Place { line: hole.plan.line, column: hole.column };
        hole.out.push_back(Step { place, doing, modal: self.modal });
    }
}

struct Hole<'a, 'p> {
    plan: &'a Plan<'p>,
    column: u32,
    out: &'a mut Steps,
}

/// Where an in-plane word sends a hole.
#[derive(Clone, Copy)]
enum Along {
    Stay,
    To(Length),
    By(Length),
}

fn place(p: &mut Point, bit: u8, along: Along) {
    match along {
        Along::Stay => {}
        Along::To(v) => set_axis(p, bit, v),
        Along::By(v) => set_axis(p, bit, axis(*p, bit) + v),
    }
}

/// Letters and bits of the plane's first, second and third axis.
const fn letters(plane: Plane) -> [(u8, u8); 3] {
    let (x, y, z) = ((b'X', 1), (b'Y', 2), (b'Z', 4));
    match plane {
        Plane::Xy => [x, y, z],
        Plane::Zx => [z, x, y],
        Plane::Yz => [y, z, x],
    }
}
