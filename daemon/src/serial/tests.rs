//! The thread, the port and the link on a real pseudo-terminal, against the practice machine.

use super::Line;
use crate::floor::permit::{Class, Epoch, Permit};
use crate::link::wire::{Command, Report, TickSource};
use crate::link::{Link, Settings};
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, profile};
use chargehand_types::quantity::Tick;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

struct Fast(Instant);

impl TickSource for Fast {
    fn now(&self) -> Tick {
        Tick((self.0.elapsed().as_secs_f64() * 20.0e6) as u64)
    }
    fn real_until(&self, tick: Tick) -> Duration {
        Duration::from_secs_f64(tick.us_since(self.now()) as f64 / 20.0e6)
    }
    fn rate(&self) -> f64 {
        20.0
    }
}

fn clock() -> Arc<dyn TickSource> {
    #[allow(clippy::disallowed_methods, reason = "a test with the real thing")]
    let begun = Instant::now();
    Arc::new(Fast(begun))
}

fn line(path: &str) -> (Line, mpsc::Receiver<Report>) {
    let (tell, told) = mpsc::channel();
    let profile = Arc::new(profile("p", ACKNOWLEDGED_WINDOW).unwrap());
    let link = Link::new(profile, Settings { rate: 20.0 });
    let reports = Box::new(move |r| drop(tell.send(r)));
    (Line::start(path.to_owned(), 115_200, link, clock(), reports).unwrap(), told)
}

fn until(told: &mpsc::Receiver<Report>, wanted: impl Fn(&Report) -> bool) -> Report {
    loop {
        let report = told.recv_timeout(Duration::from_secs(30)).expect("the report comes");
        if wanted(&report) {
            return report;
        }
    }
}

#[test]
fn a_missing_port_is_told_and_tried_again() {
    let (_line, told) = line("/dev/chargehand-no-such-port");
    let Report::Down { why, .. } = until(&told, |r| matches!(r, Report::Down { .. })) else { panic!() };
    assert!(why.contains("there is no port"), "{why}");
    until(&told, |r| matches!(r, Report::Down { .. }));
}

/// The controller's end of a pseudo-terminal.
struct ByHand(std::os::fd::OwnedFd);

impl ByHand {
    fn new() -> (Self, String) {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap().to_string_lossy().into_owned();
        (Self(master), path)
    }

    fn byte(&self) -> u8 {
        let mut byte = [0_u8; 1];
        let wait = Timespec { tv_sec: 20, tv_nsec: 0 };
        for _ in 0..10_000 {
            let mut fds = [PollFd::new(&self.0, PollFlags::IN)];
            assert!(poll(&mut fds, Some(&wait)).unwrap() > 0, "nothing comes");
            if rustix::io::read(&self.0, &mut byte) == Ok(1) {
                return byte[0];
            }
        }
        panic!("nothing comes");
    }

    fn say(&self, text: &str) {
        assert_eq!(rustix::io::write(&self.0, text.as_bytes()), Ok(text.len()));
    }
}

#[test]
fn a_controller_by_hand_answers_through_a_pty() {
    let (controller, path) = ByHand::new();
    let (line, told) = line(&path);
    assert_eq!(controller.byte(), b'?');
    controller.say("<Idle|MPos:1.000,2.000,-3.000|WCO:0.000,0.000,0.000>\r\n");
    until(&told, |r| matches!(r, Report::Up { .. }));
    line.command(Command::Home(Permit::for_tests(Class::Home, Epoch::default())));
    let mut heard = String::new();
    while !heard.ends_with('\n') {
        match controller.byte() {
            b'?' => {}
            byte => heard.push(char::from(byte)),
        }
    }
    assert_eq!(heard, "$H\n");
    drop(controller);
    until(&told, |r| matches!(r, Report::Down { .. }));
}

#[test]
fn a_second_opener_is_told_that_it_is_in_use() {
    let (controller, path) = ByHand::new();
    let (_first, _told) = line(&path);
    assert_eq!(controller.byte(), b'?');
    let (_second, told) = line(&path);
    let Report::Down { why, .. } = until(&told, |r| matches!(r, Report::Down { .. })) else { panic!() };
    assert!(why.contains("in use by another program"), "{why}");
}
