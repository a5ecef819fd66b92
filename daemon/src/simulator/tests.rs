//! The practice machine at the end of a real pseudo-terminal, with the real serial thread at the other.

use super::Simulator;
use crate::floor::permit::{Class, Epoch, Permit};
use crate::link::wire::{Command, Input, Output, Report, TickSource};
use crate::link::{Link, Settings};
use crate::practice::{Fault, Habits, Hand, Setup};
use crate::program::motion::Start;
use crate::sending::{Sender, SentLine};
use crate::serial::{Line, Talker};
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, profile};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Tick};
use std::collections::VecDeque;
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

const RATE: f64 = 20.0;

struct Fast(Instant);

impl TickSource for Fast {
    fn now(&self) -> Tick {
        Tick((self.0.elapsed().as_secs_f64() * RATE * 1.0e6) as u64)
    }
    fn real_until(&self, tick: Tick) -> Duration {
        Duration::from_secs_f64(tick.us_since(self.now()) as f64 / RATE / 1.0e6)
    }
    fn rate(&self) -> f64 {
        RATE
    }
}

fn clock() -> Arc<dyn TickSource> {
    #[allow(clippy::disallowed_methods, reason = "a test with the real thing")]
    let begun = Instant::now();
    Arc::new(Fast(begun))
}

fn setup(faults: Vec<(u64, Fault)>) -> Setup {
    Setup {
        rates: [133.0, 133.0, 50.0],
        accelerations: [400.0, 400.0, 200.0],
        deviation: 0.02,
        travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
        baud: 115_200,
        faults,
    }
}

fn until(told: &mpsc::Receiver<Report>, wanted: impl Fn(&Report) -> bool) -> Report {
    loop {
        let report = told.recv_timeout(Duration::from_secs(60)).expect("the report comes");
        if wanted(&report) {
            return report;
        }
    }
}

/// Says a line whenever the port opens, and tells what it hears.
#[derive(Default)]
struct Parrot(VecDeque<Output>);

impl Talker for Parrot {
    fn take(&mut self, now: Tick, input: Input<'_>) {
        match input {
            Input::Opened => self.0.push_back(Output::Send { bytes: b"$G\n".to_vec(), urgent: false }),
            Input::Bytes(bytes) => {
                self.0.push_back(Output::Report(Report::Said(String::from_utf8_lossy(bytes).into_owned())));
            }
            Input::Lost(why) => {
                let down = Report::Down { why: why.to_owned(), at: None, epoch: Epoch::default() };
                self.0.push_back(Output::Report(down));
            }
            Input::Command(Command::HoldAtLift) => panic!("as asked"),
            Input::Command(Command::Spindle(_)) => self.0.push_back(Output::Reopen),
            Input::Woke | Input::Command(_) => {}
        }
        self.0.push_back(Output::WakeAt(now.after_ms(60_000)));
    }

    fn next_output(&mut self) -> Option<Output> {
        self.0.pop_front()
    }
}

fn parrot(path: &str) -> (Line, mpsc::Receiver<Report>) {
    let (tell, told) = mpsc::channel();
    let reports = Box::new(move |r| drop(tell.send(r)));
    (Line::start(path.to_owned(), 115_200, Parrot::default(), clock(), reports).unwrap(), told)
}

fn hear(told: &mpsc::Receiver<Report>, wanted: &str) -> String {
    let mut heard = String::new();
    while !heard.contains(wanted) {
        if let Report::Said(text) = until(told, |r| matches!(r, Report::Said(_))) {
            heard.push_str(&text);
        }
    }
    heard
}

#[test]
fn words_go_there_and_back() {
    let simulator = Simulator::start(setup(Vec::new()), clock()).unwrap();
    let (_line, told) = parrot(simulator.path());
    let heard = hear(&told, "ok");
    assert!(heard.contains("[GC:G0 G54 G17 G21 G90 G94 M5 M9 T0 F0.0 S0]\r\nok\r\n"), "{heard}");
}

#[test]
fn a_pulled_cable_is_told_and_found_again() {
    let folder = tempfile::tempdir().unwrap();
    let name = folder.path().join("by-name");
    let simulator = Simulator::start_named(setup(Vec::new()), Habits::default(), clock(), name.clone()).unwrap();
    assert_eq!(simulator.path(), name.to_string_lossy());
    let (line, told) = parrot(simulator.path());
    hear(&told, "ok");
    simulator.unplug();
    let Report::Down { why, .. } = until(&told, |r| matches!(r, Report::Down { .. })) else { panic!() };
    assert!(why.contains("gone"), "{why}");
    line.command(Command::Spindle(None));
    let Report::Down { why, .. } = until(&told, |r| matches!(r, Report::Down { .. })) else { panic!() };
    assert!(why.contains("there is no port"), "{why}");
    simulator.plug();
    loop {
        line.command(Command::Spindle(None));
        match until(&told, |r| matches!(r, Report::Down { .. } | Report::Said(_))) {
            Report::Said(_) => break,
            _ => continue,
        }
    }
    drop((line, simulator));
    assert!(!std::fs::exists(&name).unwrap());
}

#[test]
fn a_thread_that_fails_is_not_silent() {
    let simulator = Simulator::start(setup(Vec::new()), clock()).unwrap();
    let (line, told) = parrot(simulator.path());
    hear(&told, "ok");
    assert!(line.lives());
    line.command(Command::HoldAtLift);
    let Report::Down { why, epoch, .. } = until(&told, |r| matches!(r, Report::Down { .. })) else { panic!() };
    assert!(why.contains("has failed"), "{why}");
    assert_eq!(epoch, Epoch::default().next());
    assert!(!line.lives());
}

#[test]
fn the_port_opens_again_after_a_close() {
    let simulator = Simulator::start(setup(Vec::new()), clock()).unwrap();
    for _ in 0..3 {
        let (line, told) = parrot(simulator.path());
        hear(&told, "ok");
        drop(line);
    }
}

/// The real conversation.
struct Bench {
    simulator: Simulator,
    line: Line,
    told: mpsc::Receiver<Report>,
    folder: tempfile::TempDir,
    epoch: Epoch,
}

impl Bench {
    fn homed(faults: Vec<(u64, Fault)>, habits: Habits) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let clock = clock();
        let simulator =
            Simulator::start_named(setup(faults), habits, Arc::clone(&clock), folder.path().join("port")).unwrap();
        let profile = Arc::new(profile("p", ACKNOWLEDGED_WINDOW).unwrap());
        let (tell, told) = mpsc::channel();
        let link = Link::new(profile, Settings { rate: RATE });
        let reports = Box::new(move |r| drop(tell.send(r)));
        let line = Line::start(simulator.path().to_owned(), 115_200, link, clock, reports).unwrap();
        let mut b = Self { simulator, line, told, folder, epoch: Epoch::default() };
        b.until(|r| matches!(r, Report::Up { .. }));
        b.line.command(Command::Home(b.permit(Class::Home)));
        b.until(|r| *r == Report::Homed);
        b
    }

    fn permit(&self, class: Class) -> Permit {
        Permit::for_tests(class, self.epoch)
    }

    fn until(&mut self, wanted: impl Fn(&Report) -> bool) -> Report {
        let report = until(&self.told, wanted);
        if let Report::Up { epoch, .. } | Report::Down { epoch, .. } = report {
            self.epoch = epoch;
        }
        report
    }

    /// Feeds a program as it is wanted, until a report.
    fn cut(&mut self, text: &str, wanted: impl Fn(&Report) -> bool) -> Report {
        let at = chargehand_types::quantity::Point::default();
        let start = Start { at, work_zero: at, arc_tolerance: Length(13_000) };
        let mut sender = Sender::new(start, Understands::default(), Length::ZERO);
        sender.push(text.as_bytes());
        sender.finish();
        let mut lines: VecDeque<SentLine> = std::iter::from_fn(|| sender.next_line()).collect();
        self.line.command(Command::Begin(self.permit(Class::Cut)));
        loop {
            match self.until(|r| wanted(r) || matches!(r, Report::WantsLines { .. })) {
                Report::WantsLines { bytes } => {
                    let mut some = Vec::new();
                    let mut room = bytes;
                    while room > 0
                        && let Some(line) = lines.pop_front()
                    {
                        room = room.saturating_sub(line.bytes.len() + 1);
                        some.push(line);
                    }
                    self.line.command(Command::Lines(some));
                    if lines.is_empty() {
                        self.line.command(Command::NoMoreLines);
                    }
                }
                report => return report,
            }
        }
    }
}

fn program(lines: usize) -> String {
    let body: String = (0..lines).map(|i| format!("G1 X0.{} Y0.{}\n", i % 9, (i * 7) % 6)).collect();
    format!("G21 G90 G17\nG0 Z-5\nG1 X0 F6000\n{body}G0 Z-1\nM30\n")
}

#[test]
fn two_thousand_short_lines_arrive() {
    let mut b = Bench::homed(Vec::new(), Habits::default());
    let last = b.cut(&program(2_000), |r| !matches!(r, Report::State(_) | Report::Reached(_)));
    let Report::Finished(at) = last else { panic!("{last:?}") };
    assert_eq!(at.done, at.sent);
    let tally = b.simulator.seen().tally;
    assert_eq!(tally.overrun, 0);
    assert!(tally.fullest <= 127, "{}", tally.fullest);
    assert_eq!(tally.motions, 2_000 + 3);
    assert!(b.line.most_below() <= 48 * 20, "{}", b.line.most_below());
}

#[test]
fn a_hold_in_mid_program_holds_and_goes_on() {
    let mut b = Bench::homed(Vec::new(), Habits::default());
    b.cut(&program(100), |r| matches!(r, Report::Reached(at) if at.done > Some(20)));
    b.line.command(Command::Hold);
    b.until(|r| matches!(r, Report::Held { asked: true, .. }));
    assert!(b.simulator.seen().tally.motions < 100 + 3);
    b.line.command(Command::Resume(b.permit(Class::Resume)));
    b.until(|r| matches!(r, Report::Finished(_)));
    assert_eq!(b.simulator.seen().tally.motions, 100 + 3);
}

#[test]
fn a_cable_pulled_in_mid_program_comes_back() {
    let mut b = Bench::homed(vec![(200, Fault::Unplug { back_ms: Some(30_000) })], Habits::default());
    let down = b.cut(&program(2_000), |r| matches!(r, Report::Down { .. } | Report::Finished(_)));
    assert!(matches!(down, Report::Down { at: Some(_), .. }), "{down:?}");
    b.until(|r| matches!(r, Report::Up { .. }));
    assert!(std::fs::exists(b.folder.path().join("port")).unwrap());
}

#[test]
fn the_button_at_the_machine_is_heard() {
    let mut b = Bench::homed(Vec::new(), Habits::default());
    b.line.command(Command::Begin(b.permit(Class::Cut)));
    b.until(|r| matches!(r, Report::WantsLines { .. }));
    b.simulator.hand(Hand::OpenDoor);
    let report = b.until(|r| matches!(r, Report::State(s) if s.pins.door));
    let Report::State(state) = report else { panic!() };
    assert!(state.machine.is_some());
}
