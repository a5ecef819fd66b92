//! The practice machine against arithmetic and published tables.

mod cycles;
mod joined;
mod language;
mod matrix;
mod stumbles;
mod times;

use super::{Controller, Fault, Habits, Setup};
use chargehand_types::quantity::Tick;

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

struct Bench {
    machine: Controller,
    now: Tick,
    said: String,
}

impl Bench {
    fn new(faults: Vec<(u64, Fault)>) -> Self {
        let mut b = Self { machine: Controller::new(setup(faults), Tick(0)), now: Tick(0), said: String::new() };
        b.wait(0.1);
        b
    }

    fn ready() -> Self {
        Self::with(setup(Vec::new()), Habits::default())
    }

    fn with(setup: Setup, habits: Habits) -> Self {
        let habits = Habits { remembers: 1000, ..habits };
        let machine = Controller::with_habits(setup, habits, Tick(0));
        let mut b = Self { machine, now: Tick(0), said: String::new() };
        b.wait(0.1);
        b.tell("$X");
        b.said.clear();
        b
    }

    /// What it says to a line.
    fn ask(&mut self, line: &str) -> String {
        self.said.clear();
        self.tell(line);
        self.wait(0.03);
        std::mem::take(&mut self.said).trim_end().to_owned()
    }

    /// Its report.
    fn report(&mut self) -> String {
        self.said.clear();
        self.byte(b'?');
        std::mem::take(&mut self.said).trim_end().to_owned()
    }

    /// Waits until it stands still; gives the machine seconds of its motion.
    fn rest(&mut self) -> f64 {
        let most = self.now.after_ms(600_000);
        while !self.report().starts_with("<Idle") {
            assert!(self.now < most, "it never comes to rest");
            self.wait(0.05);
        }
        let begun = self.machine.trace().next().map_or(Tick(0), |m| m.begun);
        let ended = self.machine.trace().last().map_or(Tick(0), |m| m.ended);
        ended.since(begun).value()
    }

    fn wait(&mut self, seconds: f64) {
        let end = self.now.after_us((seconds * 1e6) as u64);
        while self.now < end {
            self.now = self.machine.next_wake().filter(|t| *t > self.now).map_or(end, |t| t.min(end));
            self.machine.advance(self.now);
            self.said.push_str(&String::from_utf8(self.machine.output(self.now)).unwrap());
        }
    }

    fn tell(&mut self, line: &str) {
        self.machine.take(self.now, format!("{line}\n").as_bytes());
        self.wait(0.02);
    }

    fn byte(&mut self, byte: u8) {
        self.machine.take(self.now, &[byte]);
        self.wait(0.02);
    }
}

#[test]
fn it_greets_and_wants_home() {
    let mut b = Bench::new(Vec::new());
    assert!(b.said.contains("ready"), "{}", b.said);
    b.tell("G21G0X10");
    assert!(b.said.contains("error:9"), "{}", b.said);
    b.tell("$H");
    b.wait(5.0);
    b.tell("G21G0X10");
    assert!(b.said.ends_with("ok\r\n"), "{}", b.said);
}

#[test]
fn a_straight_move_takes_its_time() {
    // 100 mm at 40 mm/s with 400 mm/s2: 100/40 + 40/400 = 2.6 s (constant acceleration, derived)
    let mut b = Bench::ready();
    b.tell("G21G90G1X100F2400");
    b.wait(2.5);
    assert!(b.machine.at()[0] < 100.0);
    b.wait(0.12);
    assert!((b.machine.at()[0] - 100.0).abs() < 1e-9, "{:?}", b.machine.at());
}

#[test]
fn a_hold_brakes_and_a_resume_goes_on() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X100F2400");
    b.wait(1.0);
    let before = b.machine.at()[0];
    b.byte(b'!');
    b.wait(1.0);
    let held = b.machine.at()[0];
    // v2/2a = 40 * 40 / 800 = 2 mm, and what it went until the byte had arrived
    assert!(held - before < 2.0 + 40.0 * 0.02 + 0.1, "{}", held - before);
    b.said.clear();
    b.byte(b'?');
    assert!(b.said.contains("<Hold:0"), "{}", b.said);
    b.wait(5.0);
    assert_eq!(b.machine.at()[0], held);
    b.byte(b'~');
    b.wait(3.0);
    assert!((b.machine.at()[0] - 100.0).abs() < 1e-9);
}

#[test]
fn arcs_go_round() {
    let mut b = Bench::ready();
    b.tell("G21G90G0X100Y100");
    b.wait(3.0);
    b.tell("G2X120Y120R20F3000");
    b.wait(0.3);
    let [x, y, _] = b.machine.at();
    let off = ((x - 120.0).hypot(y - 100.0) - 20.0).abs();
    assert!(off < 1e-6, "{x} {y}");
    b.wait(2.0);
    assert!((b.machine.at()[1] - 120.0).abs() < 1e-9);
}

#[test]
fn leaving_travel_is_a_fault() {
    let mut b = Bench::ready();
    b.tell("G21G90G0X1000");
    assert!(b.said.contains("ALARM:2"), "{}", b.said);
}

#[test]
fn a_reset_keeps_position_only_when_held() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X100F2400");
    b.wait(1.0);
    b.byte(b'!');
    b.wait(1.0);
    let held = b.machine.at()[0];
    b.byte(0x18);
    assert!(b.said.contains("ready") && !b.said.contains("ALARM"), "{}", b.said);
    assert_eq!(b.machine.at()[0], held);
    b.tell("G21G90G1X0F2400");
    b.wait(0.5);
    b.byte(0x18);
    assert!(b.said.contains("ALARM:3"), "{}", b.said);
}

#[test]
fn a_full_buffer_loses_bytes() {
    let mut b = Bench::ready();
    b.tell("G21G90G1F100");
    let long: String = (1..60).map(|i| format!("X{i}\n")).collect();
    b.machine.take(b.now, long.as_bytes());
    b.wait(1.0);
    assert!(b.machine.overrun() > 0);
}

#[test]
fn scripted_faults_come_on_their_line() {
    let mut b = Bench::new(vec![(2, Fault::Refuse), (3, Fault::LoseAnswer), (4, Fault::Silence)]);
    b.tell("$X");
    b.tell("G21");
    assert!(b.said.contains("error:20"));
    b.said.clear();
    b.tell("G21");
    assert!(b.said.is_empty());
    b.tell("G21");
    b.byte(b'?');
    assert!(b.said.is_empty(), "{}", b.said);
}

#[test]
fn work_zero_is_where_it_was_set() {
    let mut b = Bench::ready();
    b.tell("G21G10L2P1X10Y10Z-60");
    b.tell("G90G0X5Y5");
    b.wait(2.0);
    assert!((b.machine.at()[0] - 15.0).abs() < 1e-9);
    b.tell("G10L20P1Z0");
    b.said.clear();
    b.byte(b'?');
    assert!(b.said.contains("WCO:10.000,10.000,0.000"), "{}", b.said);
}
