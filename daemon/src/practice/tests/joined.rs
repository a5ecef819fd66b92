//! The link and the practice machine, joined by nothing but bytes and ticks.

mod at_prompt;
mod held_by_hand;
mod numbered;
mod plate;
mod refused;
mod run;
mod thrown_away;
mod unheard;

use crate::floor::permit::{Class, Permit, VoidPermit};
use crate::link::wire::{Command, Input, NotDone, Output, Override, Reached, Report, StateWord, Wanted};
use crate::link::{Link, Settings};
use crate::practice::{Controller, Fault, Habits, Hand, Setup};
use crate::program::motion::Start;
use crate::sending::{Sender, SentLine, Then};
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, profile};
use crate::shop::understands::Understands;
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Point, Tick};
use std::sync::Arc;

struct Bench {
    link: Link,
    machine: Controller,
    now: Tick,
    wake: Tick,
    heard: Vec<Report>,
    written: Vec<u8>,
    lines: Vec<SentLine>,
    most_unanswered: usize,
    /// What is written so is lost on the way.
    lost: Option<&'static [u8]>,
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

impl Bench {
    fn new(faults: Vec<(u64, Fault)>) -> Self {
        Self::speaking(ACKNOWLEDGED_WINDOW, Habits::default(), faults)
    }

    fn speaking(text: &str, habits: Habits, faults: Vec<(u64, Fault)>) -> Self {
        let profile = Arc::new(profile("p", text).unwrap());
        let mut b = Self {
            link: Link::new(profile, Settings { rate: 1.0 }),
            machine: Controller::with_habits(setup(faults), habits, Tick(0)),
            now: Tick(0),
            wake: Tick(0),
            heard: Vec::new(),
            written: Vec::new(),
            lines: Vec::new(),
            most_unanswered: 0,
            lost: None,
        };
        b.link.take(Tick(0), Input::Opened);
        b.drain();
        b.run(1.0);
        b
    }

    fn drain(&mut self) {
        while let Some(out) = self.link.next_output() {
            match out {
                Output::Send { bytes, .. } if self.lost == Some(&bytes) => self.written.extend(bytes),
                Output::Send { bytes, .. } => {
                    self.machine.take(self.now, &bytes);
                    self.written.extend(bytes);
                }
                Output::Report(Report::WantsLines { bytes }) => self.feed(bytes),
                Output::Report(r) => self.heard.push(r),
                Output::WakeAt(t) => self.wake = t,
                Output::DropUnsent | Output::Reopen => {}
            }
        }
        self.most_unanswered = self.most_unanswered.max(self.link.unanswered_bytes());
    }

    fn feed(&mut self, mut bytes: usize) {
        let mut some = Vec::new();
        while bytes > 0 && !self.lines.is_empty() {
            let line = self.lines.remove(0);
            bytes = bytes.saturating_sub(line.bytes.len() + 1);
            some.push(line);
        }
        self.link.take(self.now, Input::Command(Command::Lines(some)));
        if self.lines.is_empty() {
            self.link.take(self.now, Input::Command(Command::NoMoreLines));
        }
    }

    fn tell(&mut self, command: Command) {
        self.link.take(self.now, Input::Command(command));
        self.drain();
    }

    fn run(&mut self, seconds: f64) {
        let end = self.now.after_us((seconds * 1e6) as u64);
        while self.now < end {
            let next = self.machine.next_wake().unwrap_or(end).min(self.wake).min(end);
            self.now = next.max(self.now.after_us(1));
            self.machine.advance(self.now);
            let bytes = self.machine.output(self.now);
            if !bytes.is_empty() {
                self.link.take(self.now, Input::Bytes(&bytes));
                self.drain();
            }
            if self.now >= self.wake {
                self.link.take(self.now, Input::Woke);
                self.drain();
            }
        }
    }

    fn until(&mut self, seconds: f64, wanted: impl Fn(&Report) -> bool) -> bool {
        let end = self.now.after_us((seconds * 1e6) as u64);
        while self.now < end {
            if self.heard.iter().any(&wanted) {
                return true;
            }
            self.run(0.05);
        }
        false
    }

    fn permit(&self, class: Class) -> Permit {
        Permit::for_tests(class, self.link.epoch())
    }

    fn homed(faults: Vec<(u64, Fault)>) -> Self {
        Self::new(faults).at_home()
    }

    fn at_home(self) -> Self {
        let mut b = self;
        assert!(b.heard.iter().any(|r| matches!(r, Report::Up { .. })), "{:?}", b.heard);
        let permit = b.permit(Class::Home);
        b.tell(Command::Home(permit));
        assert!(b.until(10.0, |r| *r == Report::Homed), "{:?}", b.heard);
        let at = Point::new(Length(10_000_000), Length(10_000_000), Length(-60_000_000));
        b.tell(Command::SetWorkZero { at, epoch: b.link.epoch() });
        assert!(b.until(2.0, |r| *r == Report::SettingTaken), "{:?}", b.heard);
        b.heard.clear();
        b
    }

    fn begin(&mut self, text: &str) {
        let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
        let mut sender = Sender::new(start, Understands::default(), Length::ZERO);
        sender.push(text.as_bytes());
        sender.finish();
        while let Some(line) = sender.next_line() {
            self.lines.push(line);
        }
        self.most_unanswered = 0;
        let permit = self.permit(Class::Cut);
        self.tell(Command::Begin(permit));
    }

    fn reached(&self) -> Reached {
        self.heard
            .iter()
            .rev()
            .find_map(|r| if let Report::Reached(at) = r { Some(*at) } else { None })
            .unwrap_or_default()
    }
}

fn many() -> String {
    let body: String = (0..400).map(|i| format!("G1 X{}.{} Y{}\n", i % 90, i % 10, (i * 7) % 60)).collect();
    format!("G21 G90 G17\nG0 Z5\nG1 Z-3 F3000\n{body}G0 Z5\nM5\nM30\n")
}

#[test]
fn a_program_runs_to_its_end() {
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    assert!(b.until(3000.0, |r| matches!(r, Report::Finished(_))), "{:?}", b.heard.last());
    let Some(Report::Finished(at)) = b.heard.iter().find(|r| matches!(r, Report::Finished(_))) else { panic!() };
    assert_eq!(at.done, Some(406));
    assert!(b.most_unanswered <= 127, "{}", b.most_unanswered);
    assert!(b.most_unanswered > 127 - 20, "the window was not used: {}", b.most_unanswered);
    assert_eq!(b.machine.overrun(), 0);
}

#[test]
fn the_place_on_the_path_is_known() {
    let mut b = Bench::homed(Vec::new());
    b.begin("G21G90\nG0X0Y0\nG0Z5\nG1X0F600\nX10\nX20\nX30\nX40\nX50\nX60\nM2\n");
    b.until(60.0, |r| matches!(r, Report::Reached(at) if at.cutting == Some(7)));
    let x = b.machine.at()[0] - 10.0;
    assert!((19.0..34.0).contains(&x), "{x} {:?}", b.reached());
    assert!(b.reached().done >= Some(5), "{:?}", b.reached());
    assert!(b.reached().acknowledged > b.reached().cutting);
}

#[test]
fn hold_and_resume_lose_nothing() {
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    b.run(20.0);
    b.tell(Command::Hold);
    assert!(b.until(3.0, |r| matches!(r, Report::Held { asked: true, .. })), "{:?}", b.heard.last());
    let (sent, at) = (b.written.len(), b.machine.at());
    b.run(10.0);
    assert_eq!(b.machine.at(), at);
    let since: Vec<u8> = b.written[sent..].iter().copied().filter(|c| *c != b'?').collect();
    assert!(since.is_empty(), "{:?}", String::from_utf8_lossy(&since));
    let permit = b.permit(Class::Resume);
    b.tell(Command::Resume(permit));
    assert!(b.until(3000.0, |r| matches!(r, Report::Finished(_))));
    assert_eq!(b.machine.executed(), 403);
}

#[test]
fn feeds_are_set_whatever_they_were_before() {
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    b.run(5.0);
    for (feed, rapid) in [(Some(50), None), (Some(130), Some(25)), (None, Some(100)), (Some(100), Some(50))] {
        b.tell(Command::Override(Override { feed, rapid }));
        b.run(2.0);
        let told = b.heard.iter().rev().find_map(|r| match r {
            Report::State(state) => Some(state.per_cent),
            _ => None,
        });
        let [now_feed, now_rapid] = told.flatten().unwrap();
        assert!(feed.is_none_or(|f| f == now_feed) && rapid.is_none_or(|r| r == now_rapid), "{told:?}");
    }
    // what no byte can say is refused and nothing is sent
    let sent = b.written.iter().filter(|c| **c >= 0x80).count();
    for odd in [Override { feed: Some(95), rapid: None }, Override { feed: None, rapid: Some(60) }] {
        b.tell(Command::Override(odd));
        b.run(0.5);
        assert!(b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })));
    }
    assert_eq!(b.written.iter().filter(|c| **c >= 0x80).count(), sent);
    assert!(b.until(3000.0, |r| matches!(r, Report::Finished(_))));
    assert_eq!(b.machine.executed(), 403, "no line is lost by it");
}

#[test]
fn a_hold_waits_for_the_lift() {
    let mut b = Bench::homed(Vec::new());
    let there_and_back = "X40\nX0\n".repeat(60);
    let text = format!("G21G90F1200\nG0Z5\nG1Z-3\n{there_and_back}G0Z5\nX9\nG1Z-3\n{there_and_back}G0Z5\nM2\n");
    b.begin(&text);
    b.run(3.0);
    b.tell(Command::HoldAtLift);
    assert!(b.until(900.0, |r| matches!(r, Report::HeldAtLift(_))), "{:?}", b.heard.last());
    assert!((b.machine.at()[2] + 55.0).abs() < 1e-6, "{:?}", b.machine.at());
    let permit = b.permit(Class::Resume);
    b.tell(Command::Resume(permit));
    assert!(b.until(900.0, |r| matches!(r, Report::Finished(_))));
}

#[test]
fn prompts_wait_for_a_person() {
    let mut b = Bench::homed(Vec::new());
    b.begin("G21G90F1200\nG0Z5\nG1X20\nM0 (turn it)\nX40\nM2\n");
    assert!(b.until(30.0, |r| matches!(r, Report::AtPrompt { .. })), "{:?}", b.heard);
    let asked =
        b.heard.iter().find_map(|r| if let Report::AtPrompt { line, .. } = r { Some(line.then.clone()) } else { None });
    assert_eq!(asked, Some(Then::Asks { text: Some("turn it".into()) }));
    b.run(5.0);
    assert!((b.machine.at()[0] - 30.0).abs() < 1e-6);
    let permit = b.permit(Class::Resume);
    b.tell(Command::Resume(permit));
    assert!(b.until(30.0, |r| matches!(r, Report::Finished(_))));
    assert!((b.machine.at()[0] - 50.0).abs() < 1e-6);
}

#[test]
fn a_stop_discards_and_keeps_the_place() {
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    b.run(20.0);
    let old = b.permit(Class::Resume);
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { position_kept: true, .. })), "{:?}", b.heard.last());
    b.tell(Command::Resume(old));
    assert!(b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })));
    let at = b.machine.at();
    b.run(10.0);
    assert_eq!(b.machine.at(), at);
    b.heard.clear();
    b.lines.clear();
    b.begin("G21G90F1200\nG0Z5\nM2\n");
    assert!(b.until(30.0, |r| matches!(r, Report::Finished(_))), "{:?}", b.heard);
}

#[test]
fn a_stop_is_carried_out_though_what_it_ends_was_refused() {
    let mut b = Bench::homed(Vec::new());
    b.machine.befall(b.now, Fault::Refuse);
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(5), feed: Feed(1_500_000_000) });
    // its refusal is on its way when the stop comes
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { .. })), "{:?}", b.heard);
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(5), feed: Feed(1_500_000_000) });
    assert!(b.until(5.0, |r| *r == Report::HandDone), "{:?}", b.heard);
}

#[test]
fn a_refused_line_stops_everything() {
    let mut b = Bench::homed(vec![(20, Fault::Refuse)]);
    b.begin(&many());
    assert!(b.until(60.0, |r| matches!(r, Report::Refused { .. })), "{:?}", b.heard.last());
    let sent = b.written.iter().filter(|c| **c == b'\n').count();
    b.run(30.0);
    assert_eq!(b.written.iter().filter(|c| **c == b'\n').count(), sent);
    assert!(b.heard.iter().all(|r| !matches!(r, Report::Finished(_))));
}

#[test]
fn a_fault_a_restart_and_a_silence_are_told() {
    let mut b = Bench::homed(vec![(20, Fault::Alarm)]);
    b.begin(&many());
    assert!(b.until(60.0, |r| matches!(r, Report::Fault { position_lost: true, .. })), "{:?}", b.heard.last());

    let mut b = Bench::homed(vec![(20, Fault::Restart)]);
    b.begin(&many());
    assert!(b.until(60.0, |r| matches!(r, Report::Restarted { at: Some(_), .. })), "{:?}", b.heard.last());

    let mut b = Bench::homed(vec![(20, Fault::Silence)]);
    b.begin(&many());
    assert!(b.until(60.0, |r| matches!(r, Report::Down { at: Some(_), .. })), "{:?}", b.heard.last());

    let mut b = Bench::homed(vec![(20, Fault::LoseAnswer)]);
    b.begin(
        "G21G90F1200\nG0Z5\nX1\nX2\nX3\nX4\nX5\nX6\nX7\nX8\nX9\nX1\nX2\nX3\nX4\nX5\nX6\nX7\nX8\nX9\nX1\nX2\nX3\nM2\n",
    );
    assert!(b.until(120.0, |r| matches!(r, Report::Fault { position_lost: false, .. })), "{:?}", b.heard.last());
}

#[test]
fn a_hold_that_is_lost_is_told_and_may_be_asked_for_again_at_its_own_pace() {
    let unconfirmed = |b: &Bench| b.heard.iter().filter(|r| **r == Report::HoldUnconfirmed).count();
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    b.run(2.0);
    b.lost = Some(b"!");
    b.tell(Command::Hold);
    b.run(0.5);
    b.tell(Command::Hold);
    b.run(0.9);
    assert_eq!(unconfirmed(&b), 1, "pressed twice it has no more time");
    b.tell(Command::Hold);
    b.run(0.5);
    assert_eq!(unconfirmed(&b), 1, "asked for again it has its time before it is told again");
    b.run(0.8);
    assert_eq!(unconfirmed(&b), 2);
    b.lost = None;
    b.tell(Command::Hold);
    assert!(b.until(2.0, |r| matches!(r, Report::Held { asked: true, .. })), "{:?}", b.heard.last());
}

#[test]
fn one_that_is_held_by_its_door_with_nothing_under_way_is_let_go_by_a_stop() {
    let mut b = Bench::homed(Vec::new());
    b.machine.hand(b.now, Hand::OpenDoor);
    b.run(1.0);
    let state = b.heard.iter().rev().find_map(|r| if let Report::State(s) = r { Some(s.word) } else { None });
    assert_eq!(state, Some(StateWord::Holding));
    b.machine.hand(b.now, Hand::CloseDoor);
    b.written.clear();
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { position_kept: true, .. })), "{:?}", b.heard.last());
    assert!(b.written.contains(&0x18), "it was told to give up what it holds");
    b.heard.clear();
    b.run(1.0);
    let state = b.heard.iter().rev().find_map(|r| if let Report::State(s) = r { Some(s.word) } else { None });
    assert_eq!(state, Some(StateWord::Ready));
}

#[test]
fn a_home_that_is_not_found_is_given_up_and_told() {
    let mut b = Bench::homed(Vec::new());
    b.machine.befall(b.now, Fault::Alarm);
    b.run(1.0);
    b.machine.befall(b.now, Fault::Stuck);
    b.heard.clear();
    let permit = b.permit(Class::Home);
    b.tell(Command::Home(permit));
    b.run(170.0);
    assert!(!b.heard.iter().any(|r| matches!(r, Report::Fault { .. } | Report::NotDone { .. })), "it has its time");
    assert!(b.until(20.0, |r| matches!(r, Report::Fault { position_lost: true, .. })), "{:?}", b.heard.last());
}

#[test]
fn what_was_not_done_is_told_by_its_name_whatever_was_asked_since() {
    let mut b = Bench::homed(Vec::new());
    b.machine.befall(b.now, Fault::LoseAnswer);
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::Z, by: Length::whole_mm(-1), feed: Feed(1_500_000_000) });
    b.run(0.5);
    b.tell(Command::Hold);
    let wanted = |r: &Report| if let Report::NotDone { what, .. } = r { Some(*what) } else { None };
    assert!(b.until(10.0, |r| wanted(r).is_some()), "{:?}", b.heard.last());
    assert_eq!(b.heard.iter().filter_map(wanted).collect::<Vec<_>>(), [Wanted::HandMove]);
}

#[test]
fn a_setting_that_was_asked_for_before_a_stop_is_not_taken_after_it() {
    let mut b = Bench::homed(Vec::new());
    let before = b.link.epoch();
    b.tell(Command::Stop);
    b.run(1.0);
    b.tell(Command::ZeroHere { epoch: before, axis: Axis::Z, value: Length(100_000) });
    let why = NotDone::Permit(VoidPermit::BeforeAStop);
    let told = Report::NotDone { what: Wanted::ZeroHere, of: Some(before), why };
    assert!(b.until(2.0, |r| *r == told), "{:?}", b.heard);
    assert!(!b.heard.contains(&Report::SettingTaken), "{:?}", b.heard);
}

#[test]
fn what_it_left_unread_is_not_there_when_something_else_is_asked() {
    let mut b = Bench::homed(Vec::new());
    b.machine.befall(b.now, Fault::Stuck);
    b.tell(Command::ZeroHere { epoch: b.link.epoch(), axis: Axis::Z, value: Length(100_000) });
    assert!(b.until(10.0, |r| matches!(r, Report::NotDone { .. })), "{:?}", b.heard.last());
    b.run(2.0);
    assert!(b.written.contains(&0x18), "it was told to throw away what it has not read");
    b.heard.clear();
    b.tell(Command::ZeroHere { epoch: b.link.epoch(), axis: Axis::Z, value: Length(100_000) });
    assert!(b.until(10.0, |r| matches!(r, Report::NotDone { .. })), "{:?}", b.heard.last());
    let said =
        b.heard.iter().any(|r| matches!(r, Report::NotDone { why, .. } if why.to_string().contains("unanswered")));
    assert!(
        said,
        "it is told that lines were left unanswered, not that there were answers too many: {:?}",
        b.heard.last()
    );
}

#[test]
fn hand_moves_and_zero_here() {
    let mut b = Bench::homed(Vec::new());
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::Z, by: Length::whole_mm(-50), feed: Feed(1_500_000_000) });
    assert!(b.until(10.0, |r| *r == Report::HandDone), "{:?}", b.heard);
    assert!((b.machine.at()[2] + 50.0).abs() < 1e-9);
    b.tell(Command::ZeroHere { epoch: b.link.epoch(), axis: Axis::Z, value: Length(100_000) });
    assert!(b.until(10.0, |r| *r == Report::SettingTaken));
    b.run(1.0);
    let state = b.heard.iter().rev().find_map(|r| if let Report::State(s) = r { Some(*s) } else { None }).unwrap();
    assert_eq!(state.word, StateWord::Ready);
    assert_eq!(state.work.unwrap().z, Length(100_000));
}

/// Held in the cut, and told to raise the bit.
fn raising() -> Bench {
    let mut b = Bench::homed(Vec::new());
    b.begin(&many());
    b.run(20.0);
    b.tell(Command::Hold);
    assert!(b.until(3.0, |r| matches!(r, Report::Held { .. })));
    let permit = b.permit(Class::Raise);
    b.tell(Command::Raise { permit, machine_z: Length::whole_mm(-5) });
    b
}

#[test]
fn after_a_hold_the_bit_is_raised() {
    let mut b = raising();
    assert!(b.until(20.0, |r| matches!(r, Report::Raised { .. })), "{:?}", b.heard.last());
    assert!((b.machine.at()[2] + 5.0).abs() < 1e-9);
}

#[test]
fn a_raise_that_is_held_is_given_up() {
    for hold in [None, Some(Hand::HoldButton)] {
        let mut b = raising();
        let from = b.machine.at()[2];
        while b.machine.at()[2] < from + 1.0 {
            b.run(0.05);
        }
        match hold {
            None => b.tell(Command::Hold),
            Some(by_hand) => b.machine.hand(b.now, by_hand),
        }
        let told = |r: &Report| matches!(r, Report::Fault { position_lost: false, .. });
        assert!(b.until(10.0, told), "{:?}", b.heard.last());
        b.run(5.0);
        let stands = b.machine.at()[2];
        assert!(stands < -6.0, "it stands where it was held: {stands}");
        assert!(!b.heard.iter().any(|r| matches!(r, Report::Raised { .. })), "{:?}", b.heard);
        b.run(5.0);
        assert_eq!(b.machine.at()[2], stands, "nothing is left that would go on");
    }
}

#[test]
fn a_permit_of_another_class_moves_nothing() {
    let mut b = Bench::homed(Vec::new());
    let sent = b.written.iter().filter(|c| **c == b'\n').count();
    let permit = b.permit(Class::Hand);
    b.tell(Command::Begin(permit));
    b.run(2.0);
    assert!(b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })));
    assert_eq!(b.written.iter().filter(|c| **c == b'\n').count(), sent);
}
