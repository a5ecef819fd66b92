//! How fast the line is, measured and printed, never asserted:
//! `cargo test --release -p chargehand-daemon --lib -- --ignored --nocapture --test-threads 1 speed::`

#![allow(clippy::disallowed_methods, reason = "a measurement reads the clock and needs threads of its own")]

use super::Simulator;
use crate::floor::permit::{Class, Epoch, Permit};
use crate::link::wire::{Command, Report, TickSource};
use crate::link::{Link, Settings};
use crate::practice::{Habits, Setup};
use crate::program::motion::Start;
use crate::sending::{Sender, SentLine};
use crate::serial::Line;
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, profile};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point, Tick};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::collections::VecDeque;
use std::fmt::Write as _;
use std::os::fd::OwnedFd;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

struct Real(Instant);

impl TickSource for Real {
    fn now(&self) -> Tick {
        Tick(u64::try_from(self.0.elapsed().as_micros()).unwrap())
    }
    fn real_until(&self, tick: Tick) -> Duration {
        Duration::from_micros(tick.us_since(self.now()))
    }
    fn rate(&self) -> f64 {
        1.0
    }
}

fn instant() -> Instant {
    Instant::now()
}

fn clock() -> Arc<dyn TickSource> {
    Arc::new(Real(instant()))
}

/// Short segments with three axis words, as a surfacing toolpath has them.
fn dense(lines: u32) -> String {
    let mut text = String::from("G90 G94 G21\nG17 G54\nG0 X0 Y0 Z-5\nG1 Z-6 F60000\n");
    for i in 0..lines {
        let (x, y) = (f64::from(i % 400) * 0.15, f64::from(i / 400) * 0.75);
        let z = -6.0 - f64::from(i.wrapping_mul(7919) % 1000) / 1000.0;
        writeln!(text, "G1 X{x:.3} Y{y:.3} Z{z:.3}").unwrap();
    }
    text.push_str("M30\n");
    text
}

/// The lines sent for it.
fn sent(text: &str, shorten: bool) -> VecDeque<SentLine> {
    let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
    let mut sender = Sender::new(start, Understands { shorten, ..Understands::default() }, Length::ZERO);
    sender.push(text.as_bytes());
    sender.finish();
    std::iter::from_fn(|| sender.next_line()).collect()
}

fn bytes_of(lines: &VecDeque<SentLine>) -> usize {
    lines.iter().map(|l| l.bytes.len() + 1).sum()
}

struct Streaming {
    line: Line,
    told: mpsc::Receiver<Report>,
    lines: VecDeque<SentLine>,
}

impl Streaming {
    fn open(path: &str, baud: u32, clock: Arc<dyn TickSource>) -> Self {
        let (tell, told) = mpsc::channel();
        let link = Link::new(Arc::new(profile("p", ACKNOWLEDGED_WINDOW).unwrap()), Settings { rate: 1.0 });
        let reports = Box::new(move |r| drop(tell.send(r)));
        let line = Line::start(path.to_owned(), baud, link, clock, reports).unwrap();
        let s = Self { line, told, lines: VecDeque::new() };
        s.until(|r| matches!(r, Report::Up { .. }));
        s
    }

    fn until(&self, wanted: impl Fn(&Report) -> bool) {
        while !wanted(&self.told.recv_timeout(Duration::from_secs(60)).unwrap()) {}
    }

    fn begin(&mut self, lines: VecDeque<SentLine>) {
        self.lines = lines;
        self.line.command(Command::Begin(Permit::for_tests(Class::Cut, Epoch::default())));
    }

    /// Feeds what is wanted; gives whether it is finished.
    fn go_on(&mut self) -> bool {
        match self.told.recv_timeout(Duration::from_millis(1)) {
            Ok(Report::WantsLines { mut bytes }) => {
                let mut some = Vec::new();
                while bytes > 0
                    && let Some(line) = self.lines.pop_front()
                {
                    bytes = bytes.saturating_sub(line.bytes.len() + 1);
                    some.push(line);
                }
                self.line.command(Command::Lines(some));
                if self.lines.is_empty() {
                    self.line.command(Command::NoMoreLines);
                }
                false
            }
            Ok(Report::Finished(_)) => true,
            Ok(other @ (Report::Fault { .. } | Report::Down { .. } | Report::Refused { .. })) => panic!("{other:?}"),
            Ok(_) | Err(_) => false,
        }
    }
}

fn line_at(baud: u32, shorten: bool, text: &str) {
    let clock = clock();
    let setup = Setup {
        // the line shall be what limits it, not the machine
        rates: [1.0e5; 3],
        accelerations: [1.0e8; 3],
        deviation: 0.02,
        travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
        baud,
        faults: Vec::new(),
    };
    let simulator = Simulator::begin(setup, Habits::default(), Arc::clone(&clock), super::Cable::new(None).unwrap());
    let simulator = simulator.unwrap();
    let mut s = Streaming::open(simulator.path(), baud, clock);
    s.line.command(Command::Home(Permit::for_tests(Class::Home, Epoch::default())));
    s.until(|r| *r == Report::Homed);
    let lines = sent(text, shorten);
    let (count, before) = (lines.iter().filter(|l| !l.bytes.is_empty()).count() as u64, simulator.seen().tally);
    s.begin(lines);
    let (mut begun, mut ended) = (None, None);
    loop {
        let tally = simulator.seen().tally;
        if begun.is_none() && tally.lines > before.lines {
            begun = Some((instant(), tally.bytes));
        }
        if ended.is_none() && tally.lines >= before.lines + count {
            ended = Some((instant(), tally.bytes));
        }
        if s.go_on() {
            break;
        }
    }
    let ((from, first), (to, last)) = (begun.unwrap(), ended.unwrap());
    let (seconds, bytes) = ((to - from).as_secs_f64(), (last - first) as f64);
    let wire = f64::from(baud) / 10.0;
    println!(
        "{baud} baud: {bytes:.0} bytes in {seconds:.2} s, {:.0} B/s, {:.2} % of {wire:.0} B/s; {} lines/s; at most {} bytes below us; \
         {} bytes lost, at most {} waited in the controller",
        bytes / seconds,
        100.0 * bytes / seconds / wire,
        (count as f64 / seconds).round(),
        s.line.most_below(),
        simulator.seen().tally.overrun,
        simulator.seen().tally.fullest,
    );
}

#[test]
#[ignore = "a measurement: cargo test --release -p chargehand-daemon --lib -- --ignored --nocapture speed::"]
fn bytes_a_second() {
    let text = dense(20_000);
    println!(
        "20,000 segments: {} bytes as written, {} as sent, {} shortened",
        text.len(),
        bytes_of(&sent(&text, false)),
        bytes_of(&sent(&text, true))
    );
    line_at(115_200, false, &text);
    line_at(115_200, true, &text);
    line_at(1_000_000, false, &dense(60_000));
}

/// A controller that takes everything and answers each line at the wire's pace; tells when a hold byte came.
fn answering(end: OwnedFd, baud: u32, holds: mpsc::Sender<Instant>, over: Arc<AtomicBool>) {
    let mut buffer = [0_u8; 256];
    let mut free = instant();
    let mut waiting: VecDeque<Instant> = VecDeque::new();
    let byte = Duration::from_nanos(10_000_000_000 / u64::from(baud));
    while !over.load(Ordering::Relaxed) {
        let wait = waiting.front().map_or(Duration::from_millis(20), |t| t.saturating_duration_since(instant()));
        let mut fds = [PollFd::new(&end, PollFlags::IN)];
        let _ = poll(&mut fds, Some(&Timespec { tv_sec: 0, tv_nsec: i64::from(wait.subsec_nanos()) }));
        let n = rustix::io::read(&end, &mut buffer).unwrap_or(0);
        let now = instant();
        for b in buffer.iter().take(n) {
            free = free.max(now) + byte;
            match b {
                b'!' => holds.send(now).unwrap(),
                b'?' => {
                    let report = b"<Run|MPos:1.000,2.000,-3.000|WCO:0.000,0.000,0.000|FS:600,0>\r\n";
                    rustix::io::write(&end, report).unwrap();
                }
                b'\n' => waiting.push_back(free),
                _ => {}
            }
        }
        while waiting.front().is_some_and(|t| *t <= now) {
            waiting.pop_front();
            rustix::io::write(&end, b"ok\r\n").unwrap();
        }
    }
}

#[test]
#[ignore = "a measurement: cargo test --release -p chargehand-daemon --lib -- --ignored --nocapture speed::"]
fn hold_while_it_streams() {
    let over = Arc::new(AtomicBool::new(false));
    let busy = Arc::clone(&over);
    let busy = std::thread::spawn(move || {
        let mut n = 0_u64;
        while !busy.load(Ordering::Relaxed) {
            n = std::hint::black_box(n.wrapping_add(1));
        }
    });
    let mut taken = Vec::new();
    let text = dense(4_000);
    for _ in 0..100 {
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        rustix::fs::fcntl_setfl(&end, rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::RDWR).unwrap();
        grantpt(&end).unwrap();
        unlockpt(&end).unwrap();
        let path = ptsname(&end, Vec::new()).unwrap().to_string_lossy().into_owned();
        let (tell, holds) = mpsc::channel();
        let done = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&done);
        let controller = std::thread::spawn(move || answering(end, 115_200, tell, stop));
        let mut s = Streaming::open(&path, 115_200, clock());
        s.begin(sent(&text, false));
        let begun = instant();
        while begun.elapsed() < Duration::from_millis(200) {
            s.go_on();
        }
        let asked = instant();
        s.line.command(Command::Hold);
        let came = holds.recv_timeout(Duration::from_secs(2)).unwrap();
        taken.push((came - asked).as_secs_f64() * 1000.0);
        drop(s);
        done.store(true, Ordering::Relaxed);
        controller.join().unwrap();
    }
    over.store(true, Ordering::Relaxed);
    busy.join().unwrap();
    taken.sort_by(f64::total_cmp);
    println!(
        "hold, from the command to the byte at the other end of the pseudo-terminal, streaming at 115,200 baud, one core busy, \
         100 holds: median {:.3} ms, 99th percentile {:.3} ms, most {:.3} ms",
        taken[50], taken[98], taken[99]
    );
}
