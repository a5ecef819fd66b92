//! The other end of the daemon's port, in the test's own process: a practice machine behind a name of its own, or a
//! controller played by hand.
//!
//! May live here: pseudo-terminals and what is said over them. May not: what a test expects.

use chargehand_daemon::app::MachineClock;
use chargehand_daemon::practice::{Habits, Setup};
use chargehand_daemon::simulator::Simulator;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::OFlags;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The machine is so many times as quick as its config says: the daemon's own time is the real one here.
const QUICK: f64 = 20.0;
/// Something that is waited for must come within this.
const WITHIN: Duration = Duration::from_secs(30);

/// A machine like the demo's, with the switches it has.
#[must_use]
pub fn setup() -> Setup {
    Setup {
        rates: [133.0, 133.0, 50.0],
        accelerations: [400.0, 400.0, 200.0],
        deviation: 0.02,
        travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
        baud: 115_200,
        faults: Vec::new(),
    }
}

/// A quick practice machine whose port is found under this name.
#[must_use]
pub fn machine(name: &Path, habits: Habits) -> Simulator {
    let clock = Arc::new(MachineClock::starting(QUICK));
    Simulator::start_named(setup(), habits, clock, name.to_owned()).expect("a practice machine can be started")
}

/// A controller played by hand.
#[derive(Debug)]
pub struct ByHand {
    end: OwnedFd,
    /// The device that the daemon opens.
    pub device: PathBuf,
}

impl ByHand {
    /// One that has said nothing yet.
    #[must_use]
    pub fn new() -> Self {
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).expect("a pseudo-terminal");
        grantpt(&end).expect("it may be granted");
        unlockpt(&end).expect("it may be unlocked");
        let flags = rustix::fs::fcntl_getfl(&end).expect("its flags are told");
        rustix::fs::fcntl_setfl(&end, flags | OFlags::NONBLOCK).expect("its flags can be set");
        let device = ptsname(&end, Vec::new()).expect("it has a name").to_string_lossy().into_owned();
        Self { end, device: PathBuf::from(device) }
    }

    /// Says something.
    pub fn say(&self, text: &str) {
        assert_eq!(rustix::io::write(&self.end, text.as_bytes()), Ok(text.len()), "the port takes what is said");
    }

    /// Answers as often as this was said to it since it last listened.
    pub fn answer(&self, question: &str, answer: &str) {
        let mut heard = String::new();
        self.hear(Duration::ZERO, &mut heard);
        for _ in heard.matches(question) {
            self.say(answer);
        }
    }

    /// Everything that is said to it within a time.
    #[must_use]
    pub fn hears_for(&self, time: Duration) -> String {
        let begun = Instant::now();
        let mut heard = String::new();
        while let Some(left) = time.checked_sub(begun.elapsed()) {
            self.hear(left, &mut heard);
        }
        heard
    }

    /// Everything that is said to it until it has heard a word.
    #[must_use]
    pub fn hears(&self, word: &str) -> String {
        let begun = Instant::now();
        let mut heard = String::new();
        while !heard.contains(word) {
            let left = WITHIN.checked_sub(begun.elapsed());
            let left = left.unwrap_or_else(|| panic!("{word:?} was never said; heard: {heard:?}"));
            self.hear(left, &mut heard);
        }
        heard
    }

    fn hear(&self, most: Duration, heard: &mut String) {
        let mut buffer = [0_u8; 256];
        let most = most.min(Duration::from_millis(50));
        let wait = Timespec { tv_sec: 0, tv_nsec: i64::from(most.subsec_nanos()) };
        let mut fds = [PollFd::new(&self.end, PollFlags::IN)];
        // a port that nobody has open yet is told as hung up at once
        let _ = poll(&mut fds, Some(&wait));
        match rustix::io::read(&self.end, &mut buffer) {
            Ok(n) => heard.extend(buffer.iter().take(n).map(|b| char::from(*b))),
            Err(_) => std::thread::sleep(Duration::from_millis(2)),
        }
    }
}

impl Default for ByHand {
    fn default() -> Self {
        Self::new()
    }
}
