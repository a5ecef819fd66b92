//! The practice controller: receives lines, plans, moves, reports.

use super::motion::{Hold, Path, Planner};
use super::speed::Vector;
use super::wire::Pacing;
use super::words::{self, Words};
use chargehand_types::quantity::Tick;
use std::collections::VecDeque;

/// Bytes it can hold before it has read them.
const RECEIVE_BUFFER: usize = 128;
/// Seconds homing takes.
const HOMING_SECONDS: f64 = 4.0;
/// What it greets with.
const GREETING: &str = "Practice 1.0 [ready]";

/// How it is set up.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// mm/s.
    pub rates: Vector,
    /// mm/s2.
    pub accelerations: Vector,
    /// mm.
    pub deviation: f64,
    /// Machine coordinates in mm, least and most.
    pub travel: [[f64; 2]; 3],
    /// Of the line.
    pub baud: u32,
    /// What goes wrong, by the number of the line received, from 1.
    pub faults: Vec<(u64, Fault)>,
}

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The line is refused.
    Refuse,
    /// A limit switch is hit.
    Alarm,
    /// It starts anew.
    Restart,
    /// It says nothing any more.
    Silence,
    /// The answer is lost.
    LoseAnswer,
    /// The answer comes twice.
    DoubleAnswer,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Mode {
    Ready,
    Alarm,
    /// Seconds left.
    Homing(f64),
}

/// Modal state.
#[derive(Debug, Clone, Copy)]
struct Modes {
    motion: i32,
    plane: [usize; 3],
    inch: bool,
    incremental: bool,
    inverse: bool,
    feed: f64,
    speed: f64,
    turning: bool,
    system: usize,
}

/// The controller.
pub struct Controller {
    setup: Setup,
    arriving: Pacing,
    leaving: Pacing,
    received: VecDeque<u8>,
    overrun: u64,
    lines: u64,
    mode: Mode,
    planner: Planner,
    /// Where the planned motion ends.
    end: Vector,
    modes: Modes,
    systems: [Vector; 6],
    shift: Vector,
    now: Tick,
    silent: bool,
    executed: u64,
}

const fn fresh() -> Modes {
    Modes {
        motion: 0,
        plane: [0, 1, 2],
        inch: false,
        incremental: false,
        inverse: false,
        feed: 0.0,
        speed: 0.0,
        turning: false,
        system: 0,
    }
}

impl Controller {
    /// Powers it up: it greets, and refuses motion until home is found.
    #[must_use]
    pub fn new(setup: Setup, now: Tick) -> Self {
        let at = [setup.travel[0][0], setup.travel[1][0], setup.travel[2][1]];
        let mut c = Self {
            arriving: Pacing::new(setup.baud),
            leaving: Pacing::new(setup.baud),
            received: VecDeque::new(),
            overrun: 0,
            lines: 0,
            mode: Mode::Alarm,
            planner: Planner::new(setup.rates, setup.accelerations, setup.deviation, at),
            end: at,
            modes: fresh(),
            systems: [[0.0; 3]; 6],
            shift: [0.0; 3],
            now,
            silent: false,
            executed: 0,
            setup,
        };
        c.say(GREETING);
        c
    }

    /// Bytes come in.
    pub fn take(&mut self, now: Tick, bytes: &[u8]) {
        self.advance(now);
        self.arriving.put(now, bytes);
    }

    /// Time passes.
    pub fn advance(&mut self, now: Tick) {
        while let Some((at, byte)) = self.arriving.take(now) {
            self.run_to(at);
            self.byte(byte);
            self.read_lines();
        }
        self.run_to(now);
    }

    /// What has left by now.
    pub fn output(&mut self, now: Tick) -> Vec<u8> {
        let mut bytes = Vec::new();
        while let Some((_, byte)) = self.leaving.take(now) {
            bytes.push(byte);
        }
        bytes
    }

    /// When something happens next by itself.
    #[must_use]
    pub fn next_wake(&self) -> Option<Tick> {
        let change = match self.mode {
            Mode::Homing(left) => Some(left),
            Mode::Ready | Mode::Alarm => self.planner.next_change(),
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds of one motion")]
        let change = change.map(|s| self.now.after_us((s * 1.0e6).ceil() as u64 + 1));
        [change, self.arriving.next(), self.leaving.next()].into_iter().flatten().min()
    }

    /// Bytes lost because the receive buffer was full.
    #[must_use]
    pub const fn overrun(&self) -> u64 {
        self.overrun
    }

    /// Lines of motion planned since power-up.
    #[must_use]
    pub const fn executed(&self) -> u64 {
        self.executed
    }

    /// Machine coordinates of the bit in mm.
    #[must_use]
    pub const fn at(&self) -> Vector {
        self.planner.at
    }

    /// The cable is out: what is on the way is lost.
    pub fn unplugged(&mut self) {
        self.arriving.clear();
        self.leaving.clear();
    }

    fn run_to(&mut self, to: Tick) {
        while self.now < to {
            let seconds = to.us_since(self.now) as f64 / 1.0e6;
            if let Mode::Homing(left) = self.mode {
                if left > seconds {
                    self.mode = Mode::Homing(left - seconds);
                    self.now = to;
                } else {
                    self.now = self.now.after_us(us(left)).min(to);
                    self.homed();
                }
                continue;
            }
            // to the end of one block at a time, so that a line that waits for room is read in time
            let step = self.planner.next_change().map_or(seconds, |c| (c + 1.0e-6).min(seconds));
            self.planner.run(step);
            self.now = self.now.after_us(us(step).max(1)).min(to);
            self.read_lines();
        }
    }

    fn homed(&mut self) {
        self.mode = Mode::Ready;
        let t = self.setup.travel;
        self.planner.at = [t[0][0], t[1][0], t[2][1]];
        self.end = self.planner.at;
        self.say("ok");
        self.read_lines();
    }

    fn say(&mut self, line: &str) {
        if !self.silent {
            let text = format!("{line}\r\n");
            self.leaving.put(self.now, text.as_bytes());
        }
    }

    fn byte(&mut self, byte: u8) {
        match byte {
            b'?' => self.report(),
            b'!' => {
                if self.planner.moves() || !self.planner.is_empty() {
                    self.planner.brake();
                }
            }
            b'~' => self.planner.resume(),
            0x18 => self.reset(),
            0x80.. => {}
            _ if self.received.len() >= RECEIVE_BUFFER => self.overrun += 1,
            _ => self.received.push_back(byte),
        }
    }

    fn reset(&mut self) {
        let speed = self.planner.clear();
        self.received.clear();
        self.end = self.planner.at;
        self.modes = fresh();
        self.shift = [0.0; 3];
        let homing = matches!(self.mode, Mode::Homing(_));
        self.say(GREETING);
        if homing {
            self.mode = Mode::Alarm;
            self.say("ALARM:6");
        } else if speed > 0.0 {
            self.mode = Mode::Alarm;
            self.say("ALARM:3");
        }
    }

    fn report(&mut self) {
        let word = match (self.mode, self.planner.hold) {
            (Mode::Alarm, _) => "Alarm",
            (Mode::Homing(_), _) => "Home",
            (Mode::Ready, Hold::Held) => "Hold:0",
            (Mode::Ready, Hold::Braking) => "Hold:1",
            (Mode::Ready, Hold::No) if self.planner.is_empty() => "Idle",
            (Mode::Ready, Hold::No) => "Run",
        };
        let [x, y, z] = self.planner.at;
        let [ox, oy, oz] = self.offset();
        let free = super::motion::PLANNER_BLOCKS.saturating_sub(self.planner.waiting());
        let room = RECEIVE_BUFFER.saturating_sub(self.received.len());
        let speed = if self.modes.turning { self.modes.speed } else { 0.0 };
        let line = format!(
            "<{word}|MPos:{x:.3},{y:.3},{z:.3}|Bf:{free},{room}|FS:{:.0},{speed:.0}|WCO:{ox:.3},{oy:.3},{oz:.3}>",
            self.planner.speed() * 60.0
        );
        self.say(&line);
    }

    fn offset(&self) -> Vector {
        let s = self.systems.get(self.modes.system).copied().unwrap_or([0.0; 3]);
        [s[0] + self.shift[0], s[1] + self.shift[1], s[2] + self.shift[2]]
    }

    /// Reads lines while there is one and there is room for its motion.
    fn read_lines(&mut self) {
        while !matches!(self.mode, Mode::Homing(_)) && self.planner.has_room() {
            let Some(end) = self.received.iter().position(|b| matches!(b, b'\n' | b'\r')) else { return };
            let line: Vec<u8> = self.received.drain(..=end).collect();
            let text = String::from_utf8_lossy(&line).trim().to_owned();
            if !text.is_empty() {
                self.line(&text);
            }
        }
    }

    fn line(&mut self, text: &str) {
        self.lines += 1;
        let fault = self.setup.faults.iter().find(|(n, _)| *n == self.lines).map(|(_, f)| *f);
        match fault {
            Some(Fault::Refuse) => return self.say("error:20"),
            Some(Fault::Alarm) => {
                self.planner.clear();
                self.received.clear();
                self.mode = Mode::Alarm;
                return self.say("ALARM:1");
            }
            Some(Fault::Restart) => {
                self.planner.clear();
                self.received.clear();
                self.mode = Mode::Alarm;
                self.modes = fresh();
                return self.say(GREETING);
            }
            Some(Fault::Silence) => {
                self.silent = true;
                return;
            }
            Some(Fault::LoseAnswer | Fault::DoubleAnswer) | None => {}
        }
        match self.obey(text) {
            Ok(Answer::Now) => {
                if fault != Some(Fault::LoseAnswer) {
                    self.say("ok");
                }
                if fault == Some(Fault::DoubleAnswer) {
                    self.say("ok");
                }
            }
            Ok(Answer::Later) => {}
            Err(number) => self.say(&format!("error:{number}")),
        }
    }

    fn obey(&mut self, text: &str) -> Result<Answer, u16> {
        if let Some(command) = text.strip_prefix('$') {
            return self.own_command(command);
        }
        if self.mode == Mode::Alarm {
            return Err(9);
        }
        let words = words::read(text)?;
        self.words(&words)?;
        Ok(Answer::Now)
    }

    fn own_command(&mut self, command: &str) -> Result<Answer, u16> {
        match command {
            "H" if self.planner.is_empty() => {
                self.mode = Mode::Homing(HOMING_SECONDS);
                Ok(Answer::Later)
            }
            "H" => Err(8),
            "X" => {
                self.mode = Mode::Ready;
                Ok(Answer::Now)
            }
            "G" => {
                self.say("[GC:G0 G54 G17 G21 G90 G94 M5 M9 T0 F0 S0]");
                Ok(Answer::Now)
            }
            _ => Err(3),
        }
    }

    fn words(&mut self, w: &Words) -> Result<(), u16> {
        let mut other = None;
        let mut machine = false;
        for g in &w.g {
            #[allow(clippy::cast_possible_truncation, reason = "G words lie between 0 and 100")]
            match (g * 10.0).round() as i32 {
                m @ (0 | 10 | 20 | 30 | 382 | 800) => self.modes.motion = m,
                170 => self.modes.plane = [0, 1, 2],
                180 => self.modes.plane = [2, 0, 1],
                190 => self.modes.plane = [1, 2, 0],
                200 => self.modes.inch = true,
                210 => self.modes.inch = false,
                900 => self.modes.incremental = false,
                910 => self.modes.incremental = true,
                930 => self.modes.inverse = true,
                940 => self.modes.inverse = false,
                s @ (540 | 550 | 560 | 570 | 580 | 590) => {
                    self.modes.system = usize::try_from(s / 10 - 54).unwrap_or(0)
                }
                530 => machine = true,
                911 | 400 | 490 | 610 => {}
                o @ (40 | 100 | 280 | 300 | 920 | 921) => other = Some(o),
                _ => return Err(20),
            }
        }
        if let Some(f) = w.get(b'F').filter(|_| !self.modes.inverse) {
            self.modes.feed = f * self.unit() / 60.0;
        }
        if let Some(s) = w.get(b'S') {
            self.modes.speed = s;
        }
        for m in &w.m {
            #[allow(clippy::cast_possible_truncation, reason = "M words lie between 0 and 100")]
            match m.round() as i32 {
                3 | 4 => self.turning(true),
                5 => self.turning(false),
                0 | 1 | 7 | 8 | 9 => {}
                2 | 30 => {
                    self.turning(false);
                    let system = 0;
                    self.modes = Modes { system, ..fresh() };
                }
                _ => return Err(20),
            }
        }
        match other {
            Some(40) => {
                let p = w.get(b'P').ok_or(28_u16)?;
                self.planner.add(Path::Wait(p.max(0.0)), 0.0);
                Ok(())
            }
            Some(100) => self.set_system(w),
            Some(280 | 300) => {
                let t = self.setup.travel;
                self.go(Path::Line { from: self.end, to: [t[0][0], t[1][0], t[2][1]] }, f64::INFINITY)
            }
            Some(920) => {
                self.set_shift(w);
                Ok(())
            }
            Some(_) => {
                self.shift = [0.0; 3];
                Ok(())
            }
            None => self.motion(w, machine),
        }
    }

    /// A change of the spindle lets motion run out first.
    fn turning(&mut self, on: bool) {
        if self.modes.turning != on && !self.planner.is_empty() {
            self.planner.add(Path::Wait(0.0), 0.0);
        }
        self.modes.turning = on;
    }

    const fn unit(&self) -> f64 {
        if self.modes.inch { 25.4 } else { 1.0 }
    }

    fn set_system(&mut self, w: &Words) -> Result<(), u16> {
        let l = w.get(b'L').ok_or(28_u16)?;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and checked by the table")]
        let p = w.get(b'P').ok_or(28_u16)?.round() as usize;
        let index = if p == 0 { self.modes.system } else { p - 1 };
        let (unit, end, shift) = (self.unit(), self.end, self.shift);
        let system = self.systems.get_mut(index).ok_or(29_u16)?;
        for (i, letter) in [b'X', b'Y', b'Z'].into_iter().enumerate() {
            let Some(v) = w.get(letter) else { continue };
            let (Some(slot), Some(here), Some(shift)) = (system.get_mut(i), end.get(i), shift.get(i)) else { continue };
            *slot = if l == 20.0 { here - shift - v * unit } else { v * unit };
        }
        Ok(())
    }

    fn set_shift(&mut self, w: &Words) {
        let system = self.systems.get(self.modes.system).copied().unwrap_or([0.0; 3]);
        let unit = self.unit();
        for (i, letter) in [b'X', b'Y', b'Z'].into_iter().enumerate() {
            if let (Some(v), Some(slot), Some(here), Some(origin)) =
                (w.get(letter), self.shift.get_mut(i), self.end.get(i), system.get(i))
            {
                *slot = here - origin - v * unit;
            }
        }
    }

    fn motion(&mut self, w: &Words, machine: bool) -> Result<(), u16> {
        if !w.any(b"XYZ") {
            return if w.any(b"IJKR") { Err(32) } else { Ok(()) };
        }
        if self.modes.motion == 800 {
            return Err(31);
        }
        let (unit, offset) = (self.unit(), self.offset());
        let mut to = self.end;
        for (i, letter) in [b'X', b'Y', b'Z'].into_iter().enumerate() {
            if let (Some(v), Some(slot), Some(o)) = (w.get(letter), to.get_mut(i), offset.get(i)) {
                *slot = if machine {
                    v * unit
                } else if self.modes.incremental {
                    *slot + v * unit
                } else {
                    o + v * unit
                };
            }
        }
        let from = self.end;
        if self.modes.motion == 0 {
            return self.go(Path::Line { from, to }, f64::INFINITY);
        }
        let path = match self.modes.motion {
            20 | 30 => self.arc(w, from, to)?,
            _ => Path::Line { from, to },
        };
        let speed = match w.get(b'F').filter(|_| self.modes.inverse) {
            Some(f) => path.length() * f / 60.0,
            None => self.modes.feed,
        };
        if speed <= 0.0 {
            return Err(22);
        }
        self.go(path, speed)
    }

    fn go(&mut self, path: Path, speed: f64) -> Result<(), u16> {
        let to = path.point(1.0).unwrap_or(self.end);
        let outside = to.iter().zip(self.setup.travel).any(|(v, [least, most])| *v < least - 1e-6 || *v > most + 1e-6);
        if outside {
            self.planner.clear();
            self.received.clear();
            self.mode = Mode::Alarm;
            self.end = self.planner.at;
            self.say("ALARM:2");
            return Ok(());
        }
        self.executed += 1;
        if path.length() > 0.0 {
            self.planner.add(path, speed);
        }
        self.end = to;
        Ok(())
    }

    fn arc(&self, w: &Words, from: Vector, to: Vector) -> Result<Path, u16> {
        let [u, v, _] = self.modes.plane;
        let get = |p: Vector, i: usize| p.get(i).copied().unwrap_or(0.0);
        let (au, av, bu, bv) = (get(from, u), get(from, v), get(to, u), get(to, v));
        let clockwise = self.modes.motion == 20;
        let centre = if let Some(r) = w.get(b'R') {
            let r = r * self.unit();
            let (du, dv) = (bu - au, bv - av);
            let q = du.hypot(dv);
            if q == 0.0 {
                return Err(33);
            }
            let h = (r * r - q * q / 4.0).max(0.0).sqrt();
            if q / 2.0 > r.abs() + 0.005 {
                return Err(34);
            }
            let side = if clockwise == (r < 0.0) { 1.0 } else { -1.0 };
            [f64::midpoint(au, bu) - side * h * dv / q, f64::midpoint(av, bv) + side * h * du / q]
        } else {
            let letters = [b'I', b'J', b'K'];
            let offset = |i: usize| letters.get(i).and_then(|l| w.get(*l)).unwrap_or(0.0) * self.unit();
            if !w.any(b"IJK") {
                return Err(35);
            }
            [au + offset(u), av + offset(v)]
        };
        let radius = (au - centre[0]).hypot(av - centre[1]);
        let end = (bu - centre[0]).hypot(bv - centre[1]);
        if (radius - end).abs() > f64::max(0.013, 0.001 * radius) {
            return Err(33);
        }
        let start = (av - centre[1]).atan2(au - centre[0]);
        let stop = (bv - centre[1]).atan2(bu - centre[0]);
        let turn = std::f64::consts::TAU;
        let closed = (au - bu).abs() < 1.0e-9 && (av - bv).abs() < 1.0e-9;
        let sweep = match (closed, clockwise) {
            (true, true) => -turn,
            (true, false) => turn,
            (false, true) => -(start - stop).rem_euclid(turn),
            (false, false) => (stop - start).rem_euclid(turn),
        };
        Ok(Path::Arc { from, to, axes: self.modes.plane, centre, radius, start, sweep })
    }
}

enum Answer {
    Now,
    Later,
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds of one motion")]
fn us(seconds: f64) -> u64 {
    (seconds.max(0.0) * 1.0e6).round() as u64
}
