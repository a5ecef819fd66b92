//! From received bytes to steps, and the steps one by one.

use super::controller::{Controller, Mode, SLOW_US, Step};
use super::hands::{Door, Hand};
use super::modes::{AXES, Frame, Modes, Motion, Turning};
use super::motion::{Hold, Pace};
use super::numbered;
use super::orders::{self, Order, Switched};
use super::path::Path;
use super::report::three;
use super::setup::{Fault, Homing, Wire};
use super::words;

/// Longest line it takes, without the ending.
const LONGEST_LINE: usize = 80;

/// How far off a wrong request for a line is.
const WRONG_BY: u32 = 40;
/// Seconds between two words that it is alive.
const ALIVE_SECONDS: f64 = 1.0;
/// Seconds that [`Fault::Busy`] lasts.
const BUSY_SECONDS: f64 = 4.0;

/// How a line is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum Answering {
    Once,
    Twice,
    Never,
    Garbled,
}

impl Controller {
    /// Does everything that can be done now.
    pub(in crate::practice) fn work(&mut self) {
        self.say_alive();
        loop {
            if self.until.is_some_and(|t| self.now >= t) {
                self.until = None;
            }
            if matches!(self.mode, Mode::Homing(_)) && self.homes_on() {
                return;
            }
            match self.mode {
                Mode::Booting(until) if self.now >= until => self.greet(),
                Mode::Booting(_) => return,
                Mode::Failing(number) if !self.planner.moves() => self.fail(number),
                Mode::Failing(_) => return,
                Mode::Homing(_) | Mode::Ready | Mode::Alarm | Mode::Checking => {}
            }
            self.give_up_nudge();
            if self.until.is_some() {
                return;
            }
            let goes_on = match self.steps.front().copied() {
                Some(step) => self.step(step),
                None => self.read_line(),
            };
            if !goes_on {
                return;
            }
        }
    }

    /// While a line is in its hands it says now and then that it is alive.
    fn say_alive(&mut self) {
        while let Some(at) = self.alive_at.filter(|at| self.now >= *at) {
            self.alive_at = Some(at + ALIVE_SECONDS);
            self.say("busy: at work");
        }
    }

    /// A hand move that was told to end has braked: the rest of it is thrown away.
    fn give_up_nudge(&mut self) {
        if self.nudging && self.planner.hold() == Hold::Held {
            self.planner.clear(self.now);
            self.keep_trace();
            self.reading.end = self.at();
            self.mind_door();
        }
        if self.planner.is_empty() {
            self.nudging = false;
        }
    }

    /// Takes bytes until a line is whole; gives whether one was.
    fn read_line(&mut self) -> bool {
        if self.stuck || self.mute {
            return false;
        }
        while let Some(byte) = self.received.pop_front() {
            if !matches!(byte, b'\n' | b'\r') {
                if self.line.len() < LONGEST_LINE {
                    self.line.push(byte);
                } else {
                    self.too_long = true;
                }
                continue;
            }
            let line = std::mem::take(&mut self.line);
            let too_long = std::mem::take(&mut self.too_long);
            // the second byte of a two-byte ending is no line
            if !line.is_empty() || byte == b'\n' {
                self.whole_line(line, too_long);
                return true;
            }
        }
        false
    }

    fn whole_line(&mut self, mut line: Vec<u8>, too_long: bool) {
        self.tally.lines += 1;
        if self.habits.line_us > 0 {
            self.until = Some(self.now + self.habits.line_us as f64 / 1.0e6);
        }
        let mut answering = Answering::Once;
        let fault = self.fault_of_line();
        if fault == Some(Fault::GarbleLine) {
            self.garble(&mut line);
        }
        if self.habits.wire == Wire::Numbered {
            let Some(words) = numbered::words(&line, self.wants).filter(|_| fault != Some(Fault::WrongResend)) else {
                let wanted = if fault == Some(Fault::WrongResend) { self.wants + WRONG_BY } else { self.wants };
                return self.say(&format!("Resend: {wanted}"));
            };
            line = words.to_vec();
            self.wants += 1;
            self.alive_at = Some(self.now + ALIVE_SECONDS);
        }
        match fault {
            Some(Fault::Refuse) => return self.say("error:20"),
            Some(Fault::Alarm) => return self.fail(1),
            Some(Fault::Restart) => return self.restart(),
            Some(Fault::RestartUnheard) => {
                self.unheard = true;
                return self.restart();
            }
            Some(Fault::Busy) => {
                self.until = Some(self.now + BUSY_SECONDS);
                self.alive_at = Some(self.now + ALIVE_SECONDS / 2.0);
            }
            Some(Fault::Slow) => self.habits.line_us = SLOW_US,
            Some(Fault::Silence) => {
                self.mute = true;
                return;
            }
            Some(Fault::Stuck) => {
                self.stuck = true;
                return;
            }
            Some(Fault::LoseAnswer) => answering = Answering::Never,
            Some(Fault::DoubleAnswer) => answering = Answering::Twice,
            Some(Fault::GarbleAnswer) => answering = Answering::Garbled,
            Some(Fault::GarbleReport) => self.garble_report = true,
            Some(Fault::HoldButton) => self.planner.brake(self.now),
            Some(Fault::DoorOpens) => self.do_hand(Hand::OpenDoor),
            Some(Fault::DrivesOff) => self.do_hand(Hand::DrivesOff),
            Some(Fault::BitPulled) => self.do_hand(Hand::Slip(super::setup::PULLED)),
            Some(Fault::NoSwitch) => self.no_switch = true,
            Some(Fault::Unplug { back_ms }) => self.unplug = Some(back_ms),
            Some(Fault::GarbleLine | Fault::WrongResend) | None => {}
        }
        let obeyed = if too_long { Err(11) } else { self.obey(&words::bare(&line)) };
        match obeyed {
            Ok(()) => self.steps.push_back(Step::Answer(answering)),
            Err(number) => {
                self.alive_at = None;
                if answering != Answering::Never {
                    self.say(&format!("error:{number}"));
                }
            }
        }
    }

    fn obey(&mut self, line: &[u8]) -> Result<(), u16> {
        if let Some(command) = line.strip_prefix(b"$") {
            return self.own_command(command);
        }
        if self.habits.wire == Wire::Numbered
            && let Some(done) = self.numbered_word(line)
        {
            return done;
        }
        if self.mode == Mode::Alarm {
            return Err(9);
        }
        let (after, orders) = orders::read(words::read(line)?, &self.reading)?;
        if self.mode == Mode::Checking {
            self.reading = after;
            return Ok(());
        }
        let mut paths = orders.iter().filter_map(|o| match o {
            Order::Go(path, _) | Order::Probe(path, _) => Some(path),
            Order::Switch(_) | Order::Dwell(_) | Order::Pause | Order::End => None,
        });
        if !paths.all(|path| self.setup.holds(path.reach())) {
            self.planner.brake(self.now);
            self.mode = Mode::Failing(2);
            return Ok(());
        }
        self.reading = after;
        self.steps.extend(orders.into_iter().map(Step::Do));
        Ok(())
    }

    /// What is asked by words of its own where no byte acts at once.
    fn numbered_word(&mut self, line: &[u8]) -> Option<Result<(), u16>> {
        match line {
            b"M114" => {
                let at = super::path::minus(self.at(), self.reading.offset());
                let [x, y, z] = at.map(|c| (c * 1000.0).round() / 1000.0 + 0.0);
                let text = format!("X:{x:.3} Y:{y:.3} Z:{z:.3}");
                if std::mem::take(&mut self.garble_report) {
                    self.say_garbled(&text);
                } else {
                    self.say(&text);
                }
            }
            b"M400" => self.steps.push_back(Step::Do(Order::Dwell(0.0))),
            b"G28" => return Some(self.own_command(b"H")),
            b"M999" => return Some(self.own_command(b"X")),
            _ => {
                let feed = std::str::from_utf8(line.strip_prefix(b"M220S")?).ok()?.parse().ok()?;
                self.feed_at(feed);
            }
        }
        Some(Ok(()))
    }

    fn own_command(&mut self, command: &[u8]) -> Result<(), u16> {
        match command {
            b"H" if self.habits.homing == Homing::None => return Err(5),
            b"H" if self.door == Door::Open => return Err(13),
            b"H" if !self.stands() => return Err(8),
            b"H" => self.steps.push_back(Step::Home),
            b"X" if self.door == Door::Open => return Err(13),
            b"X" if self.mode == Mode::Alarm => self.mode = Mode::Ready,
            b"X" => {}
            b"G" => {
                let text = modes_text(&self.reading.modes);
                self.say(&text);
            }
            b"#" => self.tell_systems(),
            b"$" => self.tell_setup(),
            b"C" if self.mode == Mode::Checking => self.reset(),
            b"C" if self.mode == Mode::Ready && self.stands() => self.mode = Mode::Checking,
            b"C" => return Err(8),
            _ => return self.nudge(command.strip_prefix(b"J=").ok_or(3_u16)?),
        }
        Ok(())
    }

    /// A move by hand: it changes no mode, and it may be ended by a byte.
    fn nudge(&mut self, line: &[u8]) -> Result<(), u16> {
        if self.mode == Mode::Alarm {
            return Err(9);
        }
        if self.mode != Mode::Ready || !(self.stands() || self.nudging && self.planner.hold() == Hold::No) {
            return Err(8);
        }
        let mut words = words::read(line)?;
        let mut reading = self.reading;
        let mut frame = Frame::Work;
        for g in std::mem::take(&mut words.g) {
            match g {
                200 | 210 => reading.modes.inch = g == 200,
                900 | 910 => reading.modes.incremental = g == 910,
                530 => frame = Frame::Machine,
                _ => return Err(16),
            }
        }
        let feed = words.take(b'F').filter(|f| *f > 0.0).ok_or(22_u16)? * reading.modes.unit() / 60.0;
        if !words.has(&AXES) {
            return Err(26);
        }
        let mut to = reading.end;
        for (axis, letter) in AXES.into_iter().enumerate() {
            if let Some(value) = words.take(letter) {
                super::path::put(&mut to, axis, reading.machine(axis, value, reading.end, frame));
            }
        }
        if words.left_over() || !words.m.is_empty() {
            return Err(16);
        }
        let path = Path::straight(reading.end, to);
        if !self.setup.holds(path.reach()) {
            return Err(15);
        }
        self.reading.end = to;
        self.steps.push_back(Step::Nudge(path, Pace::Feed(feed)));
        Ok(())
    }

    /// Does a step, or gives false when it must wait.
    fn step(&mut self, step: Step) -> bool {
        let done = match step {
            Step::Answer(answering) => {
                self.answer(answering);
                true
            }
            Step::Do(order) => self.order(order),
            Step::Nudge(path, pace) => {
                let room = self.planner.room() > 0;
                if room {
                    self.nudging = true;
                    self.planner.add(self.now, path, pace, self.tally.lines);
                }
                room
            }
            Step::Home => {
                self.home();
                true
            }
            Step::Touched(at) => self.stands() && self.touched(at),
        };
        if done {
            self.steps.pop_front();
        }
        done
    }

    fn order(&mut self, order: Order) -> bool {
        if let Order::Go(path, pace) = order {
            let room = self.planner.room() > 0;
            if room {
                self.tally.motions += 1;
                self.planner.add(self.now, path, pace, self.tally.lines);
            }
            return room;
        }
        // everything else waits until what came before is done
        if !self.stands() {
            return false;
        }
        match order {
            // no step is done before that
            Order::Dwell(seconds) => self.until = Some(self.now + seconds),
            Order::Switch(switched) => self.switched = switched,
            Order::End => self.switched = Switched::by(&self.reading.modes),
            // with nothing queued it is held at once
            Order::Pause => self.planner.brake(self.now),
            Order::Probe(path, pace) => return self.begin_probe(path, pace),
            Order::Go(..) => {}
        }
        true
    }

    fn begin_probe(&mut self, path: Path, pace: Pace) -> bool {
        match self.probe(path, pace) {
            Ok(then) => {
                self.tally.motions += 1;
                self.steps.insert(1.min(self.steps.len()), then);
                true
            }
            Err(number) => {
                self.fail(number);
                false
            }
        }
    }

    fn touched(&mut self, at: Option<super::speed::Vector>) -> bool {
        self.reading.end = self.at();
        let told = at.unwrap_or_else(|| self.at());
        self.say(&format!("[PRB:{}:{}]", three(told), u8::from(at.is_some())));
        if at.is_none() {
            self.fail(5);
        }
        at.is_some()
    }

    fn answer(&mut self, answering: Answering) {
        self.alive_at = None;
        match answering {
            Answering::Once => self.say("ok"),
            Answering::Twice => {
                self.say("ok");
                self.say("ok");
            }
            Answering::Never => {}
            Answering::Garbled => self.say_garbled("ok"),
        }
    }

    fn tell_systems(&mut self) {
        let systems = self.reading.systems;
        for (n, origin) in systems.into_iter().enumerate() {
            self.say(&format!("[G{}:{}]", 54 + n, three(origin)));
        }
        let [first, second] = self.reading.places;
        self.say(&format!("[G28:{}]", three(first)));
        self.say(&format!("[G30:{}]", three(second)));
        self.say(&format!("[G92:{}]", three(self.reading.shift)));
    }

    fn tell_setup(&mut self) {
        let setup = self.setup.clone();
        self.say(&format!("[SET:rates mm/s:{}]", three(setup.rates)));
        self.say(&format!("[SET:accelerations mm/s2:{}]", three(setup.accelerations)));
        self.say(&format!("[SET:travel from:{}]", three(setup.travel.map(|[low, _]| low))));
        self.say(&format!("[SET:travel to:{}]", three(setup.travel.map(|[_, high]| high))));
    }
}

/// The modes in force, as the wire has them.
fn modes_text(modes: &Modes) -> String {
    let motion = match modes.motion {
        Motion::Rapid => "G0",
        Motion::Feed => "G1",
        Motion::Clockwise => "G2",
        Motion::CounterClockwise => "G3",
        Motion::Probe => "G38.2",
        Motion::Off => "G80",
    };
    let plane = match modes.plane {
        [0, ..] => 17,
        [2, ..] => 18,
        _ => 19,
    };
    let turning = match modes.turning {
        Turning::Off => 5,
        Turning::Clockwise => 3,
        Turning::CounterClockwise => 4,
    };
    let coolant = match (modes.mist, modes.flood) {
        (false, false) => "M9",
        (true, false) => "M7",
        (false, true) => "M8",
        (true, true) => "M7 M8",
    };
    format!(
        "[GC:{motion} G{} G{plane} G{} G{} G{} M{turning} {coolant} T{} F{:.1} S{:.0}]",
        54 + modes.system,
        if modes.inch { 20 } else { 21 },
        if modes.incremental { 91 } else { 90 },
        if modes.inverse { 93 } else { 94 },
        modes.tool,
        modes.feed.unwrap_or(0.0) * 60.0 / modes.unit(),
        modes.speed,
    )
}
