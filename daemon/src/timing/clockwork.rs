//! Steps in, seconds out: cuts moves into pieces, finds the joints' limits and feeds the look-ahead.
//!
//! May live here: which steps bring the machine to rest, how a move becomes pieces. May not: the passes themselves.

use super::limits::{ARC_CHORD, Arcs, Axes, Limits};
use super::lookahead::{Piece, Sink, Window};
use super::ramp::Ramp;
use crate::program::motion::{Arc, Doing, Move, MoveKind, Pace, Plane, Step};
use chargehand_types::quantity::{Point, Seconds};

/// Pieces of an arc turn by no more than this (radians), so that the axes' shares hardly change along one.
const PIECE_TURN: f64 = std::f64::consts::PI / 24.0;
/// Pieces of one arc at most; an arc of that many turns is longer than any machine cuts in a day.
const MOST_ARC_PIECES: f64 = 100_000.0;

/// A move or a dwell, timed. They come in the program's order, each once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timed {
    /// The source line.
    pub line: u32,
    /// What it takes.
    pub seconds: Seconds,
}

/// Times moves as the machine runs them: constant acceleration, corners by deviation, look-ahead over a window.
///
/// Memory does not depend on the program's length: a move is held back only until nothing later can change its time.
#[derive(Debug)]
pub struct Clockwork {
    axes: Axes,
    arcs: Arcs,
    /// What the feed override makes of a programmed feed, as a share.
    feeding: f64,
    window: Window,
    /// The direction the newest piece ends in; none at rest.
    heading: Option<[f64; 3]>,
    /// Seconds of the pieces of a move not yet given out whole.
    part: f64,
    total: f64,
}

/// Sums the pieces of each move and hands it on.
struct Moves<'a, F> {
    part: &'a mut f64,
    total: &'a mut f64,
    out: &'a mut F,
}

impl<F: FnMut(Timed)> Sink for Moves<'_, F> {
    fn piece(&mut self, piece: &Piece, seconds: f64) {
        *self.part += seconds;
        if piece.ends_move {
            let whole = std::mem::take(self.part);
            *self.total += whole;
            (self.out)(Timed { line: piece.line, seconds: Seconds::of(whole) });
        }
    }
}

impl Clockwork {
    /// At rest, at the start of a program; arcs run in chords [`ARC_CHORD`] off.
    #[must_use]
    pub fn new(limits: &Limits) -> Self {
        Self {
            axes: Axes::from(limits),
            arcs: Arcs::InChords(ARC_CHORD),
            feeding: 1.0,
            window: Window::of(usize::MAX),
            heading: None,
            part: 0.0,
            total: 0.0,
        }
    }

    /// The same with arcs run another way.
    #[must_use]
    pub fn running_arcs(mut self, arcs: Arcs) -> Self {
        self.arcs = arcs;
        self
    }

    /// The same with a controller that knows no more than this many moves at a time, the one being run included: a
    /// profile's `planner_blocks`. Without it every move that matters is known in time.
    #[must_use]
    pub fn knowing(mut self, moves: u16) -> Self {
        self.window = Window::of(moves.into());
        self
    }

    /// The same with the feed override at this many percent. It leaves rapids alone, and all moves under M49.
    #[must_use]
    pub fn feeding_at(mut self, percent: u32) -> Self {
        self.feeding = f64::from(percent) / 100.0;
        self
    }

    /// Takes the program's next step; hands every move whose time is now certain to `out`.
    pub fn push(&mut self, step: &Step, out: &mut impl FnMut(Timed)) {
        match &step.doing {
            Doing::Move(mv) => {
                let alone = step.modal.exact || matches!(mv.kind, MoveKind::Probe);
                if matches!(mv.kind, MoveKind::Probe) {
                    self.rest(out);
                }
                let feeding = if step.modal.overrides_off { 1.0 } else { self.feeding };
                self.travel(mv, step.place.line, feeding, out);
                if alone {
                    self.rest(out);
                }
            }
            Doing::Dwell { seconds } => {
                self.rest(out);
                let seconds = Seconds::of(seconds.max(0.0));
                self.total += seconds.value();
                out(Timed { line: step.place.line, seconds });
            }
            Doing::Spindle | Doing::Prompt { .. } | Doing::BitChange { .. } | Doing::End => self.rest(out),
            Doing::Coolant | Doing::Message(_) => {}
        }
    }

    /// Comes to rest and hands out what is left.
    pub fn finish(&mut self, out: &mut impl FnMut(Timed)) {
        self.rest(out);
    }

    /// Everything handed out so far, together.
    #[must_use]
    pub fn total(&self) -> Seconds {
        Seconds::of(self.total)
    }

    fn rest(&mut self, out: &mut impl FnMut(Timed)) {
        let mut moves = Moves { part: &mut self.part, total: &mut self.total, out };
        self.window.rest(&mut moves);
        self.heading = None;
    }

    fn travel(&mut self, mv: &Move, line: u32, feeding: f64, out: &mut impl FnMut(Timed)) {
        match &mv.kind {
            MoveKind::Arc(arc) => self.curved(mv, arc, line, feeding, out),
            MoveKind::Rapid | MoveKind::Feed | MoveKind::Probe => self.straight(mv, line, feeding, out),
        }
    }

    fn straight(&mut self, mv: &Move, line: u32, feeding: f64, out: &mut impl FnMut(Timed)) {
        let way = millimetres(mv.to - mv.from);
        let length = size(way);
        if length <= 0.0 {
            return self.nothing(line, out);
        }
        let unit = way.map(|c| c / length);
        let pace = pace(mv.pace, length, feeding);
        let ramp = self.ramp(unit, length, pace);
        let entry2 = self.joint(unit);
        self.add(Piece { ramp, entry2, line, ends_move: true }, unit, out);
    }

    /// A move that goes nowhere takes no time and turns no corner.
    fn nothing(&mut self, line: u32, out: &mut impl FnMut(Timed)) {
        let ramp = Ramp { length: 0.0, acceleration: 1.0, ceiling2: f64::INFINITY };
        let piece = Piece { ramp, entry2: f64::INFINITY, line, ends_move: true };
        let mut moves = Moves { part: &mut self.part, total: &mut self.total, out };
        self.window.push(piece, &mut moves);
    }

    fn curved(&mut self, mv: &Move, arc: &Arc, line: u32, feeding: f64, out: &mut impl FnMut(Timed)) {
        let circle = Circle::new(mv, arc);
        if circle.length <= 0.0 {
            return self.nothing(line, out);
        }
        let pace = pace(mv.pace, circle.length, feeding);
        let (count, chord_turn) = self.pieces(&circle);
        for k in 0..count {
            let share = f64::from(k);
            let turn = circle.sweep / f64::from(count);
            let (begin, middle, end) = (turn * share, turn * (share + 0.5), turn * (share + 1.0));
            let unit = circle.heading(middle);
            let mut ramp = self.ramp(unit, circle.length / f64::from(count), pace);
            ramp.ceiling2 = ramp.ceiling2.min(self.around(&circle, middle, chord_turn));
            let entry2 = if k == 0 { self.joint(circle.heading(begin)) } else { f64::INFINITY };
            self.add(Piece { ramp, entry2, line, ends_move: k + 1 == count }, circle.heading(end), out);
        }
    }

    /// How many pieces an arc is reckoned in, and by how much the controller's chords turn.
    fn pieces(&self, circle: &Circle) -> (u32, f64) {
        let sweep = circle.sweep.abs();
        let chord_turn = match self.arcs {
            Arcs::InChords(off) => {
                let off = off.mm().max(1.0e-6).min(circle.radius);
                let widest = 2.0 * (1.0 - off / circle.radius).acos();
                sweep / (sweep / widest).ceil().max(1.0)
            }
            Arcs::Curved => 0.0,
        };
        let count = (sweep / PIECE_TURN.max(chord_turn)).ceil().clamp(1.0, MOST_ARC_PIECES);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped the line before")]
        let count = count as u32;
        (count, chord_turn)
    }

    /// The square of the speed at which the middle of a piece of an arc can be turned.
    fn around(&self, circle: &Circle, at: f64, chord_turn: f64) -> f64 {
        match self.arcs {
            Arcs::InChords(_) => {
                let half = chord_turn.copysign(circle.sweep) / 2.0;
                self.axes.corner(circle.heading(at - half), circle.heading(at + half))
            }
            Arcs::Curved => self.axes.curve(circle.inward(at), circle.radius),
        }
    }

    fn ramp(&self, unit: [f64; 3], length: f64, pace: f64) -> Ramp {
        let ceiling = self.axes.rate_along(unit).min(pace);
        Ramp { length, acceleration: self.axes.acceleration_along(unit), ceiling2: ceiling * ceiling }
    }

    fn joint(&self, unit: [f64; 3]) -> f64 {
        self.heading.map_or(0.0, |from| self.axes.corner(from, unit))
    }

    fn add(&mut self, piece: Piece, leaving: [f64; 3], out: &mut impl FnMut(Timed)) {
        let mut moves = Moves { part: &mut self.part, total: &mut self.total, out };
        self.window.push(piece, &mut moves);
        self.heading = Some(leaving);
    }
}

/// The slowest pace reckoned with, in mm/s: a feed of nothing would never end.
const LEAST_PACE: f64 = 1.0e-3;

/// The speed asked for, in mm/s. Cutting without any feed set is reckoned as fast as the axes go: it is a finding.
fn pace(pace: Pace, length: f64, feeding: f64) -> f64 {
    match pace {
        Pace::Rapid | Pace::Unset => f64::INFINITY,
        Pace::Feed(feed) => (feed.unit() / 60.0 * feeding).max(LEAST_PACE),
        Pace::Within(seconds) if seconds > 0.0 => (length / seconds * feeding).max(LEAST_PACE),
        Pace::Within(_) => f64::INFINITY,
    }
}

fn millimetres(p: Point) -> [f64; 3] {
    [p.x.mm(), p.y.mm(), p.z.mm()]
}

fn size(v: [f64; 3]) -> f64 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}

/// An arc or helix as angles: where it heads after a turn from its start.
struct Circle {
    plane: Plane,
    /// Angle of the start, seen from the centre.
    from: f64,
    sweep: f64,
    radius: f64,
    /// Along the path, in mm.
    length: f64,
    /// Shares of the way that go around and along the third axis.
    around: f64,
    along: f64,
}

impl Circle {
    fn new(mv: &Move, arc: &Arc) -> Self {
        let (u, v, _) = in_plane(arc.plane, millimetres(mv.from));
        let (.., rise) = in_plane(arc.plane, millimetres(mv.to - mv.from));
        let flat = arc.radius * arc.sweep.abs();
        let length = (flat * flat + rise * rise).sqrt();
        let share = if length > 0.0 { 1.0 / length } else { 0.0 };
        Self {
            plane: arc.plane,
            from: (v - arc.centre[1]).atan2(u - arc.centre[0]),
            sweep: arc.sweep,
            radius: arc.radius,
            length,
            around: flat * share,
            along: rise * share,
        }
    }

    /// The unit direction after turning by `turn`.
    fn heading(&self, turn: f64) -> [f64; 3] {
        let (sin, cos) = (self.from + turn).sin_cos();
        let way = self.around.copysign(self.sweep);
        of_plane(self.plane, -sin * way, cos * way, self.along)
    }

    /// The unit direction to the centre.
    fn inward(&self, turn: f64) -> [f64; 3] {
        let (sin, cos) = (self.from + turn).sin_cos();
        of_plane(self.plane, -cos, -sin, 0.0)
    }
}

/// First, second and third axis of a plane.
fn in_plane(plane: Plane, [x, y, z]: [f64; 3]) -> (f64, f64, f64) {
    match plane {
        Plane::Xy => (x, y, z),
        Plane::Zx => (z, x, y),
        Plane::Yz => (y, z, x),
    }
}

fn of_plane(plane: Plane, u: f64, v: f64, w: f64) -> [f64; 3] {
    match plane {
        Plane::Xy => [u, v, w],
        Plane::Zx => [v, w, u],
        Plane::Yz => [w, u, v],
    }
}
