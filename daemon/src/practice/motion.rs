//! The planner and the drives: a short queue of paths, run at trapezoidal speeds as far as the queue can be looked
//! over, corners slowed by the deviation. Everything is worked out from one event to the next, so that what it does
//! never depends on how often somebody looks.

use super::path::{Path, minus};
use super::speed::{Vector, along, corner};
use std::collections::VecDeque;

/// Motions it holds, the one being run included.
pub(in crate::practice) const PLANNER_BLOCKS: usize = 15;
/// A path shorter than this (mm) is none.
const SHORTEST: f64 = 1.0e-6;
/// Two ways, or two speeds, closer than this are the same (mm, mm/s).
const SAME: f64 = 1.0e-9;

/// How fast a path is asked to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) enum Pace {
    /// As fast as the axes go.
    Rapid,
    /// mm/s along the path.
    Feed(f64),
}

/// Whether motion is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Hold {
    No,
    Braking,
    Held,
}

/// What a person may change while it runs; 1 is as asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Overrides {
    pub feed: f64,
    pub rapid: f64,
}

#[derive(Debug, Clone, Copy)]
struct Block {
    path: Path,
    length: f64,
    pace: Pace,
    /// By the axes and the curve, mm/s.
    most: f64,
    acceleration: f64,
    /// Square of the most at the corner it begins with.
    joint: f64,
    line: u64,
    begun: Option<f64>,
}

/// A path that was run, or as much of it as was.
#[derive(Debug, Clone, Copy)]
pub(in crate::practice) struct Ran {
    pub path: Path,
    pub pace: Pace,
    pub line: u64,
    pub begun: f64,
    pub ended: f64,
}

/// One stretch of even acceleration on the front block.
#[derive(Debug, Clone, Copy)]
struct Phase {
    since: f64,
    until: f64,
    way: f64,
    speed: f64,
    acceleration: f64,
    /// Where it ends, exactly.
    end: (f64, f64),
}

impl Phase {
    /// Way and speed at a time.
    fn at(&self, t: f64) -> (f64, f64) {
        if t >= self.until {
            return self.end;
        }
        let dt = (t - self.since).max(0.0);
        let way = self.way + self.speed * dt + self.acceleration * dt * dt / 2.0;
        (way.min(self.end.0).max(self.way), (self.speed + self.acceleration * dt).max(0.0))
    }
}

/// The queue and what runs.
#[derive(Debug)]
pub(in crate::practice) struct Planner {
    queue: VecDeque<Block>,
    phase: Option<Phase>,
    /// Way done on the front block and speed there, when the phase began or none is.
    done: f64,
    speed: f64,
    /// Where it stands with nothing queued.
    rest: Vector,
    hold: Hold,
    overrides: Overrides,
    rates: Vector,
    accelerations: Vector,
    deviation: f64,
    last_direction: Option<Vector>,
    ran: Vec<Ran>,
}

impl Planner {
    pub const fn new(rates: Vector, accelerations: Vector, deviation: f64, at: Vector) -> Self {
        Self {
            queue: VecDeque::new(),
            phase: None,
            done: 0.0,
            speed: 0.0,
            rest: at,
            hold: Hold::No,
            overrides: Overrides { feed: 1.0, rapid: 1.0 },
            rates,
            accelerations,
            deviation,
            last_direction: None,
            ran: Vec::new(),
        }
    }

    pub fn room(&self) -> usize {
        PLANNER_BLOCKS.saturating_sub(self.queue.len())
    }

    pub fn is_empty(&self) -> bool {
        self.queue.is_empty()
    }

    pub const fn moves(&self) -> bool {
        self.phase.is_some()
    }

    pub const fn hold(&self) -> Hold {
        self.hold
    }

    /// Place and speed at a time not before the last event.
    pub fn at(&self, t: f64) -> (Vector, f64) {
        let (way, speed) = self.phase.map_or((self.done, self.speed), |p| p.at(t));
        let place = self.queue.front().map_or(self.rest, |b| b.path.point(way, b.length));
        (place, speed)
    }

    /// When the next event comes.
    pub fn next(&self) -> Option<f64> {
        self.phase.map(|p| p.until)
    }

    /// What was run since last asked.
    pub fn take_ran(&mut self) -> Vec<Ran> {
        std::mem::take(&mut self.ran)
    }

    /// Puts it somewhere else; only while nothing is queued.
    pub fn set_place(&mut self, at: Vector) {
        if self.queue.is_empty() {
            self.rest = at;
        }
    }

    /// Adds a path. A path of no length is no motion.
    pub fn add(&mut self, t: f64, path: Path, pace: Pace, line: u64) {
        let length = path.length();
        if length < SHORTEST {
            if self.queue.is_empty() {
                self.rest = path.to;
            }
            return;
        }
        self.commit(t);
        let (most, acceleration) = path.limits(self.rates, self.accelerations, self.deviation);
        let joint = match (self.last_direction.filter(|_| !self.queue.is_empty()), path.leaving()) {
            (Some(into), Some(out)) => {
                let turned = along(minus(out, into), self.accelerations);
                corner(into, out, turned, self.deviation)
            }
            _ => 0.0,
        };
        self.last_direction = path.arriving();
        self.queue.push_back(Block { path, length, pace, most, acceleration, joint, line, begun: None });
        self.plan(t);
    }

    /// Runs until then, event by event.
    pub fn run(&mut self, t: f64) {
        while let Some(phase) = self.phase.filter(|p| p.until <= t) {
            self.commit(phase.until);
            self.end_block(phase.until);
            self.plan(phase.until);
        }
    }

    pub fn override_to(&mut self, t: f64, overrides: Overrides) {
        self.commit(t);
        self.overrides = overrides;
        self.plan(t);
    }

    /// Brakes along the path, and then stands held.
    pub fn brake(&mut self, t: f64) {
        if self.hold == Hold::No {
            self.commit(t);
            self.hold = if self.queue.is_empty() { Hold::Held } else { Hold::Braking };
            self.plan(t);
        }
    }

    /// Goes on, once it is held.
    pub fn resume(&mut self, t: f64) {
        if self.hold == Hold::Held {
            self.hold = Hold::No;
            self.plan(t);
        }
    }

    /// Throws everything away and stands where it is; gives the speed it had.
    pub fn clear(&mut self, t: f64) -> f64 {
        self.commit(t);
        let (place, speed) = self.at(t);
        if let Some(front) = self.queue.front()
            && let Some(begun) = front.begun
        {
            let path =
                Path { to: place, turn: front.path.turn.map(|turn| cut_off(turn, self.done, front)), ..front.path };
            self.ran.push(Ran { path, pace: front.pace, line: front.line, begun, ended: t });
        }
        self.queue.clear();
        self.phase = None;
        self.rest = place;
        self.done = 0.0;
        self.speed = 0.0;
        self.hold = Hold::No;
        self.last_direction = None;
        speed
    }

    fn commit(&mut self, t: f64) {
        if let Some(phase) = self.phase.take() {
            (self.done, self.speed) = phase.at(t);
        }
    }

    /// Takes the front block off when its end is reached.
    fn end_block(&mut self, t: f64) {
        let Some(front) = self.queue.front().filter(|b| b.length - self.done <= SAME) else { return };
        self.ran.push(Ran {
            path: front.path,
            pace: front.pace,
            line: front.line,
            begun: front.begun.unwrap_or(t),
            ended: t,
        });
        self.rest = front.path.to;
        self.queue.pop_front();
        self.done = 0.0;
        if self.queue.is_empty() {
            self.speed = 0.0;
            self.last_direction = None;
        }
    }

    /// Works out the next phase from where it is now.
    fn plan(&mut self, t: f64) {
        self.phase = None;
        if self.hold == Hold::Braking && self.speed <= SAME {
            self.speed = 0.0;
            self.hold = Hold::Held;
        }
        if self.hold == Hold::Held {
            return;
        }
        let (ceiling, exit) = (self.front_ceiling(), self.exit_squared().sqrt());
        let (braking, done, speed) = (self.hold == Hold::Braking, self.done, self.speed);
        let Some(front) = self.queue.front_mut() else { return };
        front.begun.get_or_insert(t);
        let left = front.length - done;
        let a = front.acceleration;
        let (rate, way, end_speed) =
            if braking { stop(speed, left, a) } else { next_phase(speed, left, ceiling, exit, a) };
        // the mean speed of even acceleration is the mean of both ends
        let seconds = if way > 0.0 { 2.0 * way / (speed + end_speed) } else { 0.0 };
        let end_way = if left - way <= SAME { front.length } else { done + way };
        self.phase = Some(Phase {
            since: t,
            until: t + seconds,
            way: done,
            speed,
            acceleration: rate,
            end: (end_way, end_speed),
        });
    }

    fn front_ceiling(&self) -> f64 {
        self.queue.front().map_or(0.0, |b| self.ceiling(b))
    }

    fn ceiling(&self, block: &Block) -> f64 {
        match block.pace {
            Pace::Rapid => block.most * self.overrides.rapid,
            Pace::Feed(asked) => (asked * self.overrides.feed).min(block.most),
        }
    }

    /// The square of the speed at the end of the front block, from which everything queued can still come to rest.
    fn exit_squared(&self) -> f64 {
        let mut exit = 0.0_f64;
        let before = self.queue.iter().rev().skip(1);
        for (block, before) in self.queue.iter().rev().zip(before) {
            let most = self.ceiling(block).min(self.ceiling(before));
            exit = (exit + 2.0 * block.acceleration * block.length).min(block.joint).min(most * most);
        }
        exit
    }
}

/// As much of a turn as was run.
fn cut_off(turn: super::path::Turn, done: f64, block: &Block) -> super::path::Turn {
    super::path::Turn { sweep: turn.sweep * (done / block.length).clamp(0.0, 1.0), ..turn }
}

/// Braking to a stop, or to the block's end when that comes first: rate, way, speed at its end.
fn stop(speed: f64, left: f64, a: f64) -> (f64, f64, f64) {
    let way = speed * speed / (2.0 * a);
    if way <= left { (-a, way, 0.0) } else { (-a, left, (speed * speed - 2.0 * a * left).max(0.0).sqrt()) }
}

/// The next phase of a trapezoid: rate, way, speed at its end.
fn next_phase(speed: f64, left: f64, ceiling: f64, exit: f64, a: f64) -> (f64, f64, f64) {
    // never more than can be reached from here
    let exit = exit.min((speed * speed + 2.0 * a * left).sqrt());
    let brake = (speed * speed - exit * exit) / (2.0 * a);
    if speed > exit && brake >= left - SAME {
        return ((exit * exit - speed * speed) / (2.0 * left.max(SAME)), left, exit);
    }
    if speed > ceiling + SAME {
        // the ceiling was lowered while it ran
        let way = (speed * speed - ceiling * ceiling) / (2.0 * a);
        return if way <= left { (-a, way, ceiling) } else { stop(speed, left, a) };
    }
    let peak = ceiling.min(f64::midpoint(2.0 * a * left, speed * speed + exit * exit).sqrt());
    if peak > speed + SAME {
        return (a, ((peak * peak - speed * speed) / (2.0 * a)).min(left), peak);
    }
    (0.0, left - brake.max(0.0), speed)
}
