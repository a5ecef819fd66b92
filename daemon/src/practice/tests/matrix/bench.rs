//! The link, the practice machine, a cable between them that can come out, and everything that was written and said.

use crate::floor::permit::{Class, Permit};
use crate::link::wire::{Command, Input, Output, Reached, Report};
use crate::link::{Link, Settings};
use crate::practice::{Controller, Fault, Habits, Setup, Wire};
use crate::program::motion::Start;
use crate::sending::{Sender, SentLine};
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, NUMBERED_CHECKSUM, Profile, profile};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point, Tick};
use std::collections::VecDeque;
use std::sync::Arc;

/// What was written that does not act at once.
pub struct Written {
    pub at: Tick,
    /// Its number, where lines are numbered.
    pub number: Option<u32>,
    /// Its words alone.
    pub text: String,
}

pub struct Bench {
    link: Link,
    pub machine: Controller,
    profile: Arc<Profile>,
    pub now: Tick,
    wake: Tick,
    pub heard: Vec<(Tick, Report)>,
    pub written: Vec<Written>,
    pub said: String,
    lines: VecDeque<SentLine>,
    /// Everything of the program under way, in order.
    pub program: Vec<SentLine>,
    /// Happens when the last line has been written.
    pub at_last: Option<Fault>,
    pub struck: Option<Tick>,
    cable: Cable,
    reopen: bool,
    /// Times that nothing was in flight while lines remained.
    pub starved: u32,
    streaming: bool,
}

#[derive(Clone, Copy, PartialEq)]
enum Cable {
    In,
    /// Until then.
    Out(Option<Tick>),
}

pub const ZERO: Point = Point { x: Length(10_000_000), y: Length(10_000_000), z: Length(-60_000_000) };

impl Bench {
    pub fn new(wire: Wire, seed: u64) -> Self {
        Self::with(wire, seed, [133.0, 133.0, 50.0], [400.0, 400.0, 200.0])
    }

    /// With such rates and accelerations.
    pub fn with(wire: Wire, seed: u64, rates: [f64; 3], accelerations: [f64; 3]) -> Self {
        let text = match wire {
            Wire::Window => ACKNOWLEDGED_WINDOW,
            Wire::Numbered => NUMBERED_CHECKSUM,
        };
        let profile = Arc::new(profile("p", text).unwrap());
        let setup = Setup {
            rates,
            accelerations,
            deviation: 0.02,
            travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
            baud: 115_200,
            faults: Vec::new(),
        };
        let habits = Habits { wire, seed, remembers: 4000, ..Habits::default() };
        let mut b = Self {
            link: Link::new(Arc::clone(&profile), Settings { rate: 1.0 }),
            machine: Controller::with_habits(setup, habits, Tick(0)),
            profile,
            now: Tick(0),
            wake: Tick(0),
            heard: Vec::new(),
            written: Vec::new(),
            said: String::new(),
            lines: VecDeque::new(),
            program: Vec::new(),
            at_last: None,
            struck: None,
            cable: Cable::In,
            reopen: false,
            starved: 0,
            streaming: false,
        };
        b.take(Input::Opened);
        b
    }

    fn take(&mut self, input: Input<'_>) {
        self.link.take(self.now, input);
        self.drain();
    }

    fn drain(&mut self) {
        while let Some(out) = self.link.next_output() {
            match out {
                Output::Send { bytes, urgent } => {
                    if self.cable == Cable::In {
                        self.machine.take(self.now, &bytes);
                    }
                    if !urgent {
                        self.note(&bytes);
                    }
                }
                Output::Report(Report::WantsLines { bytes }) => self.feed(bytes),
                Output::Report(r) => self.heard.push((self.now, r)),
                Output::WakeAt(t) => self.wake = t,
                Output::DropUnsent => {}
                Output::Reopen => self.reopen = true,
            }
        }
        self.count_starved();
    }

    fn count_starved(&mut self) {
        let remain = !self.lines.is_empty();
        self.streaming |= remain && self.link.unanswered_bytes() > 0;
        if self.streaming && remain && self.link.unanswered_bytes() == 0 {
            self.starved += 1;
        }
    }

    fn note(&mut self, bytes: &[u8]) {
        let whole = String::from_utf8_lossy(bytes).trim_end().to_owned();
        let (number, text) = match whole.strip_prefix('N').and_then(|w| w.split_once(' ')) {
            Some((number, rest)) => (number.parse().ok(), rest.rsplit_once('*').unwrap().0.to_owned()),
            None => (None, whole),
        };
        let commands = &self.profile.keys.commands;
        if text == commands.report || text == commands.run_out {
            return;
        }
        let last = self.lines.is_empty() && self.program.last().is_some_and(|l| *l.bytes == *text.as_bytes());
        self.written.push(Written { at: self.now, number, text });
        if last && let Some(fault) = self.at_last.take() {
            self.strike(fault);
        }
    }

    fn feed(&mut self, mut bytes: usize) {
        let mut some = Vec::new();
        while bytes > 0
            && let Some(line) = self.lines.pop_front()
        {
            bytes = bytes.saturating_sub(line.bytes.len() + 1);
            some.push(line);
        }
        self.link.take(self.now, Input::Command(Command::Lines(some)));
        if self.lines.is_empty() {
            self.link.take(self.now, Input::Command(Command::NoMoreLines));
        }
    }

    pub fn strike(&mut self, fault: Fault) {
        self.struck = Some(self.now);
        self.machine.befall(self.now, fault);
    }

    pub fn tell(&mut self, command: Command) {
        self.take(Input::Command(command));
    }

    pub fn plug(&mut self) {
        if self.cable != Cable::In {
            self.cable = Cable::Out(Some(self.now));
        }
    }

    pub fn run(&mut self, seconds: f64) {
        let end = self.now.after_us((seconds * 1e6) as u64);
        while self.now < end {
            let next = self.machine.next_wake().unwrap_or(end).min(self.wake).min(end);
            self.now = next.max(self.now.after_us(1));
            self.machine.advance(self.now);
            self.mind_cable();
            let bytes = self.machine.output(self.now);
            if !bytes.is_empty() && self.cable == Cable::In {
                self.said.push_str(&String::from_utf8_lossy(&bytes));
                self.take(Input::Bytes(&bytes));
            }
            if self.now >= self.wake {
                self.take(Input::Woke);
            }
        }
    }

    fn mind_cable(&mut self) {
        if let Some(back) = self.machine.take_unplug() {
            self.machine.unplugged();
            self.cable = Cable::Out(back.map(|ms| self.now.after_ms(ms.into())));
            self.take(Input::Lost("the cable is out"));
        }
        if std::mem::take(&mut self.reopen) {
            match self.cable {
                Cable::Out(Some(back)) if self.now >= back => {
                    self.cable = Cable::In;
                    self.machine.opened(self.now);
                    self.take(Input::Opened);
                }
                Cable::Out(_) => self.take(Input::Lost("there is no port")),
                Cable::In => {}
            }
        }
    }

    /// Runs until something is heard that was not before; gives it.
    pub fn until(&mut self, seconds: f64, wanted: impl Fn(&Report) -> bool) -> Option<Report> {
        let (from, end) = (self.heard.len(), self.now.after_us((seconds * 1e6) as u64));
        while self.now < end {
            if let Some((_, found)) = self.heard[from..].iter().find(|(_, r)| wanted(r)) {
                return Some(found.clone());
            }
            self.run(0.02);
        }
        None
    }

    pub fn permit(&self, class: Class) -> Permit {
        Permit::for_tests(class, self.link.epoch())
    }

    /// Finds home, sets the work zero.
    pub fn home(&mut self) -> Result<(), String> {
        let permit = self.permit(Class::Home);
        self.tell(Command::Home(permit));
        let homed = self.until(30.0, |r| matches!(r, Report::Homed | Report::NotDone { .. }));
        if homed != Some(Report::Homed) {
            return Err(format!("home was not found: {homed:?}"));
        }
        self.tell(Command::SetWorkZero { at: ZERO, epoch: self.link.epoch() });
        let set = self.until(5.0, |r| matches!(r, Report::SettingTaken | Report::NotDone { .. }));
        if set == Some(Report::SettingTaken) { Ok(()) } else { Err(format!("the zero was not set: {set:?}")) }
    }

    /// Begins a program, from where the bit stands.
    pub fn begin(&mut self, text: &str) {
        let start = Start { at: Point::default(), work_zero: ZERO, arc_tolerance: Length(13_000) };
        let mut sender = Sender::new(start, understands(&self.profile), Length::ZERO);
        sender.push(text.as_bytes());
        sender.finish();
        self.program = std::iter::from_fn(|| sender.next_line()).collect();
        assert!(sender.reading_faults().is_empty() && sender.faults().is_empty());
        self.lines = self.program.clone().into();
        self.written.clear();
        let permit = self.permit(Class::Cut);
        self.tell(Command::Begin(permit));
    }

    /// Motions of the program up to and with a source line.
    pub fn motions_until(&self, line: u32) -> usize {
        use crate::sending::Passage;
        let until = self.program.iter().filter(|l| l.source_line <= line);
        until.filter(|l| matches!(l.passage, Passage::One(way) if way.length() > 0.0)).count()
    }

    /// Where the machine believes the bit to be, in work coordinates.
    pub fn work(&self) -> [f64; 3] {
        let at = self.machine.at();
        [at[0] - ZERO.x.mm(), at[1] - ZERO.y.mm(), at[2] - ZERO.z.mm()]
    }

    pub fn last_reached(&self) -> Reached {
        let told = self.heard.iter().rev().find_map(|(_, r)| match r {
            Report::Reached(at) | Report::Held { at, .. } | Report::Finished(at) | Report::Refused { at, .. } => {
                Some(*at)
            }
            Report::Down { at, .. } | Report::Fault { at, .. } | Report::Restarted { at, .. } => *at,
            _ => None,
        });
        told.unwrap_or_default()
    }
}

fn understands(profile: &Profile) -> Understands {
    profile.keys.understands.clone()
}
