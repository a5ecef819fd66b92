//! The planner: a short queue of paths with trapezoidal speeds, corners slowed by the deviation, holds that brake.

use super::speed::{Vector, along, joint_speed_squared, norm};
use std::collections::VecDeque;

/// Motions that wait.
pub(in crate::practice) const PLANNER_BLOCKS: usize = 16;

/// The form of a path, machine coordinates in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) enum Path {
    Line {
        from: Vector,
        to: Vector,
    },
    /// Along two axes (by index) round a centre, the third evenly.
    Arc {
        from: Vector,
        to: Vector,
        axes: [usize; 3],
        centre: [f64; 2],
        radius: f64,
        start: f64,
        sweep: f64,
    },
    /// No way, only time in seconds.
    Wait(f64),
}

impl Path {
    pub fn length(&self) -> f64 {
        match self {
            Self::Line { from, to } => norm(minus(*to, *from)),
            Self::Arc { from, to, axes, radius, sweep, .. } => {
                let third = axes[2];
                let dw = at(*to, third) - at(*from, third);
                (radius * sweep).hypot(dw)
            }
            Self::Wait(_) => 0.0,
        }
    }

    pub fn point(&self, share: f64) -> Option<Vector> {
        match self {
            Self::Line { from, to } => {
                let d = minus(*to, *from);
                Some([from[0] + d[0] * share, from[1] + d[1] * share, from[2] + d[2] * share])
            }
            Self::Arc { from, to, axes, centre, radius, start, sweep } => {
                if share >= 1.0 {
                    return Some(*to);
                }
                let mut p = *from;
                let angle = start + sweep * share;
                let third = axes[2];
                put(&mut p, axes[0], centre[0] + radius * angle.cos());
                put(&mut p, axes[1], centre[1] + radius * angle.sin());
                put(&mut p, third, at(*from, third) + (at(*to, third) - at(*from, third)) * share);
                Some(p)
            }
            Self::Wait(_) => None,
        }
    }

    fn direction(&self, share: f64) -> Option<Vector> {
        let d = match self {
            Self::Line { from, to } => minus(*to, *from),
            Self::Arc { .. } => {
                let step = 1.0e-4;
                let (a, b) = ((share - step).max(0.0), (share + step).min(1.0));
                minus(self.point(b)?, self.point(a)?)
            }
            Self::Wait(_) => return None,
        };
        let n = norm(d);
        (n > 0.0).then(|| [d[0] / n, d[1] / n, d[2] / n])
    }
}

fn minus(a: Vector, b: Vector) -> Vector {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn at(v: Vector, axis: usize) -> f64 {
    v.get(axis).copied().unwrap_or(0.0)
}

fn put(v: &mut Vector, axis: usize, to: f64) {
    if let Some(slot) = v.get_mut(axis) {
        *slot = to;
    }
}

#[derive(Debug, Clone, Copy)]
struct Block {
    path: Path,
    length: f64,
    ceiling: f64,
    acceleration: f64,
    /// Square of the most at its start.
    joint: f64,
}

/// The block being run: from `done` at `speed`, by a profile.
#[derive(Debug, Clone, Copy)]
struct Running {
    block: Block,
    /// Way done when this profile began.
    done: f64,
    profile: Profile,
    /// Seconds into the profile.
    seconds: f64,
}

#[derive(Debug, Clone, Copy)]
struct Profile {
    v0: f64,
    peak: f64,
    v1: f64,
    a: f64,
    way: f64,
    wait: f64,
}

impl Profile {
    fn over(way: f64, v0: f64, v1: f64, ceiling: f64, a: f64) -> Self {
        let peak = ceiling.min(((2.0 * a * way + v0 * v0 + v1 * v1) / 2.0).sqrt()).max(v0).max(v1);
        Self { v0, peak, v1, a, way, wait: 0.0 }
    }

    fn parts(&self) -> [f64; 3] {
        if self.way <= 0.0 {
            return [self.wait, 0.0, 0.0];
        }
        let up = (self.peak - self.v0) / self.a;
        let down = (self.peak - self.v1) / self.a;
        let flat = self.way - (self.v0 + self.peak) / 2.0 * up - (self.v1 + self.peak) / 2.0 * down;
        [up, if self.peak > 0.0 { flat.max(0.0) / self.peak } else { 0.0 }, down]
    }

    fn seconds(&self) -> f64 {
        self.parts().iter().sum()
    }

    /// Way and speed so many seconds in.
    fn at(&self, t: f64) -> (f64, f64) {
        if self.way <= 0.0 {
            return (0.0, 0.0);
        }
        let [up, flat, _] = self.parts();
        if t < up {
            (self.v0 * t + self.a * t * t / 2.0, self.v0 + self.a * t)
        } else if t < up + flat {
            ((self.v0 + self.peak) / 2.0 * up + self.peak * (t - up), self.peak)
        } else {
            let left = (self.seconds() - t).max(0.0);
            (self.way - (self.v1 * left + self.a * left * left / 2.0), self.v1 + self.a * left)
        }
    }
}

/// The queue and what runs.
#[derive(Debug)]
pub(in crate::practice) struct Planner {
    queue: VecDeque<Block>,
    running: Option<Running>,
    rates: Vector,
    accelerations: Vector,
    deviation: f64,
    speed: f64,
    pub at: Vector,
    pub hold: Hold,
    last_direction: Option<Vector>,
}

/// Whether motion is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Hold {
    No,
    Braking,
    Held,
}

impl Planner {
    pub fn new(rates: Vector, accelerations: Vector, deviation: f64, at: Vector) -> Self {
        Self {
            queue: VecDeque::new(),
            running: None,
            rates,
            accelerations,
            deviation,
            speed: 0.0,
            at,
            hold: Hold::No,
            last_direction: None,
        }
    }

    pub fn has_room(&self) -> bool {
        self.waiting() < PLANNER_BLOCKS
    }

    pub fn waiting(&self) -> usize {
        self.queue.len() + usize::from(self.running.is_some())
    }

    pub fn is_empty(&self) -> bool {
        self.waiting() == 0
    }

    pub fn speed(&self) -> f64 {
        self.speed
    }

    pub fn moves(&self) -> bool {
        self.running.is_some() && self.hold != Hold::Held
    }

    /// Adds a path at a speed in mm/s.
    pub fn add(&mut self, path: Path, asked: f64) {
        let length = path.length();
        let direction = path.direction(0.0);
        let (ceiling, acceleration) = match direction {
            Some(d) => {
                let round = match path {
                    Path::Arc { radius, axes, .. } => {
                        let a = at(self.accelerations, axes[0]).min(at(self.accelerations, axes[1]));
                        (a * radius).sqrt()
                    }
                    Path::Line { .. } | Path::Wait(_) => f64::INFINITY,
                };
                (asked.min(along(d, self.rates)).min(round), along(d, self.accelerations))
            }
            None => (0.0, 1.0),
        };
        let joint = match (self.last_direction, direction) {
            (Some(into), Some(out)) => joint_speed_squared(into, out, self.accelerations, self.deviation),
            _ => 0.0,
        };
        let before = self.queue.back().or(self.running.as_ref().map(|r| &r.block)).map_or(ceiling, |b| b.ceiling);
        let most = ceiling.min(before);
        self.last_direction = path.direction(1.0);
        self.queue.push_back(Block { path, length, ceiling, acceleration, joint: joint.min(most * most) });
    }

    /// Throws everything away; the speed at that moment tells whether position is lost.
    pub fn clear(&mut self) -> f64 {
        let speed = self.speed;
        self.queue.clear();
        self.running = None;
        self.speed = 0.0;
        self.hold = Hold::No;
        self.last_direction = None;
        speed
    }

    /// The square of the speed that the queue allows at its start.
    fn reach(&self) -> f64 {
        let mut exit = 0.0;
        for block in self.queue.iter().rev() {
            exit = (exit + 2.0 * block.acceleration * block.length).min(block.joint);
        }
        exit
    }

    fn start_next(&mut self) -> bool {
        let Some(block) = self.queue.pop_front() else { return false };
        let exit = self.reach().min(self.speed * self.speed + 2.0 * block.acceleration * block.length);
        let mut profile =
            Profile::over(block.length, self.speed, exit.sqrt(), block.ceiling.max(self.speed), block.acceleration);
        if let Path::Wait(seconds) = block.path {
            profile.wait = seconds;
        }
        self.running = Some(Running { block, done: 0.0, profile, seconds: 0.0 });
        true
    }

    /// Runs for so many seconds; gives how many of them were used before there was nothing more to run.
    pub fn run(&mut self, mut seconds: f64) -> f64 {
        let all = seconds;
        while seconds > 0.0 && self.hold != Hold::Held {
            if self.running.is_none() && !self.start_next() {
                return all - seconds;
            }
            let Some(r) = &mut self.running else { return all - seconds };
            let left = r.profile.seconds() - r.seconds;
            if left > seconds {
                r.seconds += seconds;
                let (way, speed) = r.profile.at(r.seconds);
                self.speed = speed;
                if let Some(p) = r.block.path.point(share(r.done + way, r.block.length)) {
                    self.at = p;
                }
                return all;
            }
            seconds -= left.max(0.0);
            self.end_profile();
        }
        all - seconds
    }

    fn end_profile(&mut self) {
        let Some(r) = self.running else { return };
        let done = r.done + r.profile.way;
        self.speed = r.profile.v1;
        if self.hold == Hold::Braking && r.profile.v1 == 0.0 {
            self.hold = Hold::Held;
        }
        if done >= r.block.length - 1.0e-9 {
            if let Some(p) = r.block.path.point(1.0) {
                self.at = p;
            }
            self.running = None;
        } else {
            if let Some(p) = r.block.path.point(share(done, r.block.length)) {
                self.at = p;
            }
            let a = r.block.acceleration;
            let profile = Profile::over(r.block.length - done, 0.0, 0.0, r.block.ceiling, a);
            self.running = Some(Running { block: r.block, done, profile, seconds: 0.0 });
        }
    }

    /// Brakes within the block at hand, to its end at the latest.
    pub fn brake(&mut self) {
        if self.hold != Hold::No {
            return;
        }
        match self.running {
            Some(r) if r.block.length > 0.0 => {
                let (way, speed) = r.profile.at(r.seconds);
                let done = r.done + way;
                let left = (r.block.length - done).max(0.0);
                let needs = speed * speed / (2.0 * r.block.acceleration);
                if speed <= 0.0 || left <= 0.0 {
                    self.hold = Hold::Held;
                    return;
                }
                let (stop, a) =
                    if needs > left { (left, speed * speed / (2.0 * left)) } else { (needs, r.block.acceleration) };
                let profile = Profile { v0: speed, peak: speed, v1: 0.0, a, way: stop, wait: 0.0 };
                self.running = Some(Running { block: r.block, done, profile, seconds: 0.0 });
                self.hold = Hold::Braking;
            }
            _ => self.hold = Hold::Held,
        }
    }

    /// Goes on after a hold.
    pub fn resume(&mut self) {
        self.hold = Hold::No;
    }

    /// Seconds until the block at hand ends.
    pub fn next_change(&self) -> Option<f64> {
        match (&self.running, self.hold) {
            (_, Hold::Held) => None,
            (Some(r), _) => Some((r.profile.seconds() - r.seconds).max(0.0)),
            (None, _) if !self.queue.is_empty() => Some(0.0),
            (None, _) => None,
        }
    }
}

fn share(done: f64, length: f64) -> f64 {
    if length > 0.0 { (done / length).clamp(0.0, 1.0) } else { 1.0 }
}
