//! The controller: its state, and the loop that goes from one event to the next.

use super::hands::Door;
use super::homing::Leg;
use super::lines::Answering;
use super::modes::Reading;
use super::motion::{Hold, Planner};
use super::orders::{Order, Switched};
use super::path::{minus, plus};
use super::setup::{Chance, Fault, Habits, Homing, Setup, Standing, Wire};
use super::speed::Vector;
use super::trace::{Motion, Tally, Trace, point, seconds, tick};
use super::wire::{Arriving, Leaving};
use chargehand_types::quantity::{Point, Tick};
use std::collections::VecDeque;

/// Bytes it can hold before it has read them.
pub(in crate::practice) const RECEIVE_BUFFER: usize = 128;
/// What it greets with.
pub(in crate::practice) const GREETING: &str = "Practice 1.0 [ready]";

/// Microseconds over a line when it takes its time.
pub(in crate::practice) const SLOW_US: u64 = 300_000;

/// What it is about.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::practice) enum Mode {
    Ready,
    /// It takes no motion.
    Alarm,
    /// It reads lines and moves nothing.
    Checking,
    /// The ways still to go.
    Homing(VecDeque<Leg>),
    /// It brakes, and raises this fault once it stands.
    Failing(u16),
    /// Without power, or starting, until then.
    Booting(f64),
}

/// What a line came to, step by step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) enum Step {
    Do(Order),
    /// A hand move.
    Nudge(super::path::Path, super::motion::Pace),
    Home,
    /// A touch at this way along its path, or none.
    Touched(Option<Vector>),
    Answer(Answering),
}

/// The controller.
#[derive(Debug)]
pub struct Controller {
    pub(in crate::practice) setup: Setup,
    pub(in crate::practice) habits: Habits,
    pub(in crate::practice) chance: Chance,
    pub(in crate::practice) now: f64,
    pub(in crate::practice) arriving: Arriving,
    pub(in crate::practice) leaving: Leaving,
    pub(in crate::practice) received: VecDeque<u8>,
    /// The line being put together; longer than it can take.
    pub(in crate::practice) line: Vec<u8>,
    pub(in crate::practice) too_long: bool,
    pub(in crate::practice) reading: Reading,
    pub(in crate::practice) steps: VecDeque<Step>,
    /// Dwells or thinks until then.
    pub(in crate::practice) until: Option<f64>,
    pub(in crate::practice) nudging: bool,
    pub(in crate::practice) planner: Planner,
    pub(in crate::practice) mode: Mode,
    pub(in crate::practice) door: Door,
    pub(in crate::practice) switched: Switched,
    /// Feed, rapid, spindle, in per cent.
    pub(in crate::practice) overrides: [u16; 3],
    /// Where the carriage truly is, less where the controller believes it to be.
    pub(in crate::practice) drift: Vector,
    /// The drives are without power: the carriage stands here.
    pub(in crate::practice) stalled_at: Option<Vector>,
    pub(in crate::practice) wire_closed: bool,
    pub(in crate::practice) mute: bool,
    pub(in crate::practice) stuck: bool,
    pub(in crate::practice) garble_report: bool,
    pub(in crate::practice) no_switch: bool,
    pub(in crate::practice) unplug: Option<Option<u32>>,
    /// What goes wrong with the next line, beside the script.
    pub(in crate::practice) pending: Option<Fault>,
    /// Its next greeting is lost.
    pub(in crate::practice) unheard: bool,
    /// The number it wants next, where lines are numbered.
    pub(in crate::practice) wants: u32,
    /// When it says next that it is busy.
    pub(in crate::practice) alive_at: Option<f64>,
    pub(in crate::practice) reports: u32,
    pub(in crate::practice) told_offset: Option<Vector>,
    pub(in crate::practice) told_overrides: [u16; 3],
    pub(in crate::practice) tally: Tally,
    pub(in crate::practice) trace: Trace,
}

impl Controller {
    /// Powers up a machine that is kind. It greets, and refuses motion until home is found.
    #[must_use]
    pub fn new(setup: Setup, now: Tick) -> Self {
        Self::with_habits(setup, Habits::default(), now)
    }

    /// Powers up a machine that behaves so.
    #[must_use]
    pub fn with_habits(setup: Setup, habits: Habits, now: Tick) -> Self {
        let at = setup.home();
        let mut chance = Chance::new(habits.seed);
        let drift = match habits.start {
            Standing::AtHome => [0.0; 3],
            Standing::Anywhere => minus(setup.travel.map(|[low, high]| low + (high - low) * chance.share()), at),
        };
        let reading = Reading::new(at);
        let mut controller = Self {
            chance,
            now: seconds(now),
            arriving: Arriving::new(setup.baud),
            leaving: Leaving::new(setup.baud),
            received: VecDeque::new(),
            line: Vec::new(),
            too_long: false,
            steps: VecDeque::new(),
            until: None,
            nudging: false,
            planner: Planner::new(setup.rates, setup.accelerations, setup.deviation, at),
            mode: Mode::Ready,
            door: Door::Closed,
            switched: Switched::by(&reading.modes),
            reading,
            overrides: [100; 3],
            drift,
            stalled_at: None,
            wire_closed: false,
            mute: false,
            stuck: false,
            garble_report: false,
            no_switch: false,
            unplug: None,
            pending: None,
            unheard: false,
            wants: 1,
            alive_at: None,
            reports: 0,
            told_offset: None,
            told_overrides: [100; 3],
            tally: Tally::default(),
            trace: Trace::new(habits.remembers),
            setup,
            habits,
        };
        controller.greet();
        controller
    }

    /// Puts bytes on its line.
    pub fn take(&mut self, now: Tick, bytes: &[u8]) {
        self.advance(now);
        self.arriving.put(self.now, bytes);
    }

    /// Bytes that the line takes now, without more waiting at its end than an adapter holds.
    #[must_use]
    pub fn room(&self) -> usize {
        self.arriving.room()
    }

    /// When the line next takes a good many more bytes; nothing while it takes them at once.
    #[must_use]
    pub fn room_at(&self) -> Option<Tick> {
        self.arriving.half_empty().map(tick)
    }

    /// Time passes. What happens does not depend on how many steps it passes in.
    pub fn advance(&mut self, now: Tick) {
        let end = seconds(now);
        while let Some(t) = self.next_event().filter(|t| *t <= end) {
            self.now = self.now.max(t);
            self.run();
            while let Some(byte) = self.arriving.take(self.now) {
                self.byte(byte);
                self.work();
            }
            self.work();
        }
        self.now = self.now.max(end);
        self.run();
    }

    /// What has left by now, in whole lines.
    pub fn output(&mut self, now: Tick) -> Vec<u8> {
        self.leaving.take(seconds(now))
    }

    /// When something happens next by itself.
    #[must_use]
    pub fn next_wake(&self) -> Option<Tick> {
        let note = self.arriving.next_of_note();
        let next = [note, self.planner.next(), self.timer(), self.alive_at, self.leaving.next()];
        next.into_iter().flatten().min_by(f64::total_cmp).map(tick)
    }

    fn next_event(&self) -> Option<f64> {
        let next = [self.arriving.next(), self.planner.next(), self.timer(), self.alive_at];
        next.into_iter().flatten().min_by(f64::total_cmp)
    }

    fn timer(&self) -> Option<f64> {
        match self.mode {
            Mode::Booting(until) => Some(until),
            _ => self.until,
        }
    }

    /// Lets motion run until now.
    pub(in crate::practice) fn run(&mut self) {
        let moved = self.planner.moves();
        self.planner.run(self.now);
        self.keep_trace();
        if let Some(at) = self.stalled_at {
            self.drift = minus(at, self.planner.at(self.now).0);
        }
        if moved && self.planner.is_empty() && self.steps.is_empty() && self.received.is_empty() {
            self.tally.ran_dry += 1;
        }
    }

    pub(in crate::practice) fn keep_trace(&mut self) {
        for ran in self.planner.take_ran() {
            self.trace.add(&ran, self.drift);
        }
    }

    /// Where it believes the bit to be, in mm of machine coordinates.
    #[must_use]
    pub fn at(&self) -> Vector {
        self.planner.at(self.now).0
    }

    /// Where the carriage truly is, machine coordinates.
    #[must_use]
    pub fn truly_at(&self) -> Point {
        point(self.place())
    }

    pub(in crate::practice) fn place(&self) -> Vector {
        self.stalled_at.unwrap_or_else(|| plus(self.at(), self.drift))
    }

    /// Sums over its life.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.tally
    }

    /// Bytes lost because the receive buffer was full.
    #[must_use]
    pub const fn overrun(&self) -> u64 {
        self.tally.overrun
    }

    /// Motions taken.
    #[must_use]
    pub const fn executed(&self) -> u64 {
        self.tally.motions
    }

    /// The last motions that were run, oldest first; as many as [`Habits::remembers`].
    pub fn trace(&self) -> impl Iterator<Item = &Motion> {
        self.trace.motions().iter()
    }

    /// Whether its script pulls the cable now, and after how many machine milliseconds it goes in again. Asked once.
    pub const fn take_unplug(&mut self) -> Option<Option<u32>> {
        self.unplug.take()
    }

    /// The cable is out: what is on the way is lost.
    pub fn unplugged(&mut self) {
        self.arriving.clear();
        self.leaving.clear();
    }

    /// Somebody opened the port.
    pub fn opened(&mut self, now: Tick) {
        self.advance(now);
        if self.habits.on_open == super::setup::OnOpen::Restarts {
            self.restart();
        }
    }

    // ---- how it begins and ends ----

    /// The first words after a start.
    pub(in crate::practice) fn greet(&mut self) {
        self.told_offset = None;
        let heard = !std::mem::take(&mut self.unheard);
        if heard {
            self.say(self.greeting());
        }
        if self.habits.homing == Homing::Required {
            self.mode = Mode::Alarm;
            if heard {
                self.say("[MSG:It wants its home first]");
            }
        } else {
            self.mode = Mode::Ready;
        }
    }

    const fn greeting(&self) -> &'static str {
        match self.habits.wire {
            Wire::Window => GREETING,
            Wire::Numbered => "start",
        }
    }

    /// The supply dips: everything but what it stores is gone, its belief of where it is included.
    pub(in crate::practice) fn restart(&mut self) {
        let place = self.place();
        self.drop_everything();
        self.planner.set_place(self.setup.home());
        self.drift = minus(place, self.setup.home());
        self.forget_modes();
        self.leaving.clear();
        self.mute = false;
        self.stuck = false;
        self.wants = 1;
        self.mode = Mode::Booting(self.now + self.habits.boot_us as f64 / 1.0e6);
    }

    /// Ctrl-X. Stops dead: whoever moved has lost steps.
    pub(in crate::practice) fn reset(&mut self) {
        let locked = matches!(self.mode, Mode::Alarm | Mode::Failing(_));
        let homing = matches!(self.mode, Mode::Homing(_));
        let speed = self.drop_everything();
        self.forget_modes();
        self.told_offset = None;
        self.say(GREETING);
        if homing || speed > 0.0 {
            // a jerk of up to half a millimetre an axis
            let slip = [(); 3].map(|()| self.chance.share() - 0.5);
            self.drift = plus(self.drift, slip);
            self.mode = Mode::Alarm;
            self.say(if homing { "ALARM:6" } else { "ALARM:3" });
        } else {
            self.mode = if locked { Mode::Alarm } else { Mode::Ready };
        }
    }

    /// A fault: no more motion until somebody sees to it. The line at hand gets no answer.
    pub(in crate::practice) fn fail(&mut self, number: u16) {
        self.drop_everything();
        self.mode = Mode::Alarm;
        self.say(&format!("ALARM:{number}"));
    }

    /// Gives up motion and what was received; gives the speed it had.
    fn drop_everything(&mut self) -> f64 {
        let speed = self.planner.clear(self.now);
        self.keep_trace();
        self.received.clear();
        self.line.clear();
        self.too_long = false;
        self.steps.clear();
        self.until = None;
        self.alive_at = None;
        self.nudging = false;
        self.reading.end = self.at();
        self.mind_door();
        speed
    }

    fn forget_modes(&mut self) {
        self.reading.modes = super::modes::Modes::fresh();
        self.reading.shift = [0.0; 3];
        self.reading.end = self.at();
        self.switched = Switched::by(&self.reading.modes);
        self.overrides = [100; 3];
        self.apply_overrides();
    }

    // ---- what it says ----

    pub(in crate::practice) fn say(&mut self, line: &str) {
        if !self.mute {
            self.leaving.put(self.now, format!("{line}\r\n").into_bytes());
        }
    }

    /// Says it with one byte changed.
    pub(in crate::practice) fn say_garbled(&mut self, line: &str) {
        let mut bytes = line.as_bytes().to_vec();
        self.garble(&mut bytes);
        bytes.extend_from_slice(b"\r\n");
        if !self.mute {
            self.leaving.put(self.now, bytes);
        }
    }

    /// Changes one byte, by the seed.
    pub(in crate::practice) fn garble(&mut self, bytes: &mut [u8]) {
        let index = usize::try_from(self.chance.below(bytes.len().max(1) as u64)).unwrap_or(0);
        let flip = 1_u8 << self.chance.below(7);
        if let Some(byte) = bytes.get_mut(index) {
            *byte ^= flip;
        }
    }

    /// What goes wrong with the line just received.
    pub(in crate::practice) fn fault_of_line(&mut self) -> Option<Fault> {
        let script = || self.setup.faults.iter().find(|(n, _)| *n == self.tally.lines).map(|(_, fault)| *fault);
        self.pending.take().or_else(script)
    }

    /// Something goes wrong now; what can only go wrong with a line does so with the next one.
    pub fn befall(&mut self, now: Tick, fault: Fault) {
        self.advance(now);
        match fault {
            Fault::Alarm => self.fail(1),
            Fault::Restart | Fault::RestartUnheard => {
                self.unheard = fault == Fault::RestartUnheard;
                self.restart();
            }
            Fault::Silence => self.mute = true,
            Fault::Stuck => self.stuck = true,
            Fault::GarbleReport => self.garble_report = true,
            Fault::Slow => self.habits.line_us = SLOW_US,
            Fault::HoldButton => self.do_hand(super::hands::Hand::HoldButton),
            Fault::DoorOpens => self.do_hand(super::hands::Hand::OpenDoor),
            Fault::DrivesOff => self.do_hand(super::hands::Hand::DrivesOff),
            Fault::BitPulled => self.do_hand(super::hands::Hand::Slip(super::setup::PULLED)),
            Fault::NoSwitch => self.no_switch = true,
            Fault::Unplug { back_ms } => self.unplug = Some(back_ms),
            Fault::Refuse
            | Fault::LoseAnswer
            | Fault::DoubleAnswer
            | Fault::GarbleAnswer
            | Fault::GarbleLine
            | Fault::WrongResend
            | Fault::Busy => self.pending = Some(fault),
        }
        self.work();
    }

    /// Whether something still waits to go wrong with a line.
    #[must_use]
    pub const fn is_pending(&self) -> bool {
        self.pending.is_some()
    }

    /// Nothing moves and nothing waits to be run.
    pub(in crate::practice) fn stands(&self) -> bool {
        self.planner.is_empty() && self.planner.hold() == Hold::No
    }
}
