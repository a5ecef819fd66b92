//! The streaming look-ahead. Pieces wait in a window until the speeds at their joints can no longer change.

use super::Limits;
use super::profile::{Vector, along, joint_speed_squared, norm, trapezoid_seconds};
use crate::program::arc::to_plane;
use crate::program::motion::{Arc, Doing, Move, MoveKind, Pace, Step};
use std::collections::VecDeque;

/// Chords of an arc lie at most this far from it, in mm.
const CHORD_DEVIATION_MM: f64 = 0.002;
/// Pieces gathered before the window is looked at.
const BATCH: usize = 256;
/// Pieces a window may hold; beyond it the first half goes as it stands, which is slower, never faster.
const WINDOW: usize = 16_384;

/// The time of (a part of) a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timed {
    /// The program's line.
    pub line: u32,
    /// Seconds.
    pub seconds: f64,
}

/// Times steps as they come.
pub struct Clockwork {
    rates: Vector,
    accelerations: Vector,
    deviation: f64,
    window: VecDeque<Piece>,
    since_look: usize,
    /// Direction of the last piece; none at rest.
    direction: Option<Vector>,
    exact: bool,
    /// Square of the speed at which the first piece of the window is entered.
    entry: f64,
    out: VecDeque<Timed>,
}

#[derive(Debug, Clone, Copy)]
struct Piece {
    line: u32,
    length: f64,
    ceiling: f64,
    acceleration: f64,
    /// Square of the most at its start.
    joint: f64,
    /// Square of what can be had at its start, as far as is known.
    reach: f64,
}

impl Clockwork {
    /// A clockwork for a machine, at rest.
    #[must_use]
    pub fn new(limits: &Limits) -> Self {
        Self {
            rates: limits.max_rate.map(|f| (f.unit() / 60.0).max(1.0e-6)),
            accelerations: limits.acceleration.map(|a| a.value().max(1.0e-6)),
            deviation: limits.corner_deviation.mm().max(0.0),
            window: VecDeque::new(),
            since_look: 0,
            direction: None,
            exact: false,
            entry: 0.0,
            out: VecDeque::new(),
        }
    }

    /// Takes the next step.
    pub fn push(&mut self, step: &Step) {
        let line = step.place.line;
        match &step.doing {
            Doing::Move(m) => {
                self.exact = step.modal.exact;
                self.motion(line, m);
            }
            Doing::Dwell { seconds } => {
                self.rest();
                self.out.push_back(Timed { line, seconds: *seconds });
            }
            Doing::Spindle | Doing::Prompt { .. } | Doing::BitChange { .. } | Doing::End => self.rest(),
            Doing::Coolant | Doing::Message(_) => {}
        }
    }

    /// There are no more steps: the machine comes to rest.
    pub fn finish(&mut self) {
        self.rest();
    }

    /// The next time that can no longer change.
    pub fn next_timed(&mut self) -> Option<Timed> {
        self.out.pop_front()
    }

    fn motion(&mut self, line: u32, m: &Move) {
        let [x, y, z] = [m.from.x.mm(), m.from.y.mm(), m.from.z.mm()];
        match m.kind {
            MoveKind::Rapid | MoveKind::Feed | MoveKind::Probe => {
                let to = [m.to.x.mm(), m.to.y.mm(), m.to.z.mm()];
                self.straight(line, [x, y, z], to, speed(m.pace, 1.0, m));
            }
            MoveKind::Arc(arc) => {
                let chords = arc.chords(CHORD_DEVIATION_MM);
                let asked = speed(m.pace, arc.length_mm(m.from, m.to), m).min(self.round(&arc));
                let mut from = [x, y, z];
                for i in 1..=chords {
                    let to = arc.at(m.from, m.to, f64::from(i) / f64::from(chords));
                    self.straight(line, from, to, asked);
                    from = to;
                }
            }
        }
    }

    /// The most on a circle: `sqrt(a r)`, with what both axes of its plane allow (derived: centripetal acceleration).
    fn round(&self, arc: &Arc) -> f64 {
        let [u, v, _] = to_plane(self.accelerations, arc.plane);
        (u.min(v) * arc.radius).sqrt()
    }

    fn straight(&mut self, line: u32, from: Vector, to: Vector, asked: f64) {
        let mut way = [0.0; 3];
        for ((w, a), b) in way.iter_mut().zip(from).zip(to) {
            *w = b - a;
        }
        let length = norm(way);
        if length == 0.0 {
            return;
        }
        let unit = way.map(|w| w / length);
        let joint = match self.direction {
            None => 0.0,
            Some(_) if self.exact => 0.0,
            Some(before) => joint_speed_squared(before, unit, self.accelerations, self.deviation),
        };
        let ceiling = asked.min(along(unit, self.rates));
        let before = self.window.back().map_or(ceiling, |p| p.ceiling);
        let most = ceiling.min(before);
        self.direction = Some(unit);
        self.window.push_back(Piece {
            line,
            length,
            ceiling,
            acceleration: along(unit, self.accelerations),
            joint: joint.min(most * most),
            reach: 0.0,
        });
        self.since_look += 1;
        if self.since_look >= BATCH {
            self.since_look = 0;
            let settled = self.look();
            let must = if self.window.len() > WINDOW { WINDOW / 2 } else { 0 };
            self.emit(settled.max(must));
        }
    }

    /// Works back from rest at the window's end; gives how many pieces can no longer change: all before the last
    /// joint whose own limit is reached.
    fn look(&mut self) -> usize {
        let mut exit = 0.0;
        let mut settled = 0;
        for (i, piece) in self.window.iter_mut().enumerate().rev() {
            piece.reach = (exit + 2.0 * piece.acceleration * piece.length).min(piece.joint);
            if settled == 0 && piece.reach >= piece.joint {
                settled = i;
            }
            exit = piece.reach;
        }
        settled
    }

    fn emit(&mut self, count: usize) {
        for _ in 0..count {
            let Some(piece) = self.window.pop_front() else {
                return;
            };
            let next = self.window.front().map_or(0.0, |p| p.reach);
            let exit = next.min(self.entry + 2.0 * piece.acceleration * piece.length);
            let seconds =
                trapezoid_seconds(piece.length, self.entry.sqrt(), exit.sqrt(), piece.ceiling, piece.acceleration);
            self.entry = exit;
            self.out.push_back(Timed { line: piece.line, seconds });
        }
    }

    fn rest(&mut self) {
        self.look();
        self.emit(self.window.len());
        self.since_look = 0;
        self.direction = None;
        self.entry = 0.0;
    }
}

/// The speed a motion asks for, in mm/s. Without a feed it is as fast as a rapid: the check tells that apart.
fn speed(pace: Pace, arc_length: f64, m: &Move) -> f64 {
    match pace {
        Pace::Rapid | Pace::Unset => f64::INFINITY,
        Pace::Feed(f) => f.unit() / 60.0,
        Pace::Within(seconds) => {
            let length = match m.kind {
                MoveKind::Arc(_) => arc_length,
                _ => m.from.distance(m.to),
            };
            if seconds > 0.0 { length / seconds } else { f64::INFINITY }
        }
    }
}
