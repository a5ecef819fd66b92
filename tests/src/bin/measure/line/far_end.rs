//! The far end of the line, for measuring: a controller that shares no code with the daemon. It keeps the wire's time
//! (8N1: ten bits a byte), answers each line once its last byte is through, and moves in no time at all.
//!
//! May live here: the wire's time, answers, where the bit was told to go. May not: what a figure should be.

use super::bit::Bit;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::OFlags;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::collections::VecDeque;
use std::os::fd::OwnedFd;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// It still moves for so long after its last line.
const MOVES_FOR: Duration = Duration::from_millis(30);

/// A controller at the end of a pseudo-terminal.
pub struct FarEnd {
    /// The device to open.
    pub device: PathBuf,
    /// When each hold byte could be read.
    pub holds: mpsc::Receiver<Instant>,
    seen: Arc<Mutex<Seen>>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// What it has seen.
#[derive(Debug, Clone, Copy, Default)]
pub struct Seen {
    /// Lines that tell of a place, and all bytes so far.
    pub lines: u64,
    /// All bytes.
    pub bytes: u64,
    /// Seconds of wire time since it began at which the last of them was through.
    pub through: f64,
    /// Most bytes that were handed over and not yet through.
    pub most_below: u64,
    /// Most bytes that waited in the system unread.
    pub most_unread: u64,
}

impl FarEnd {
    /// Begins.
    pub fn start(baud: u32) -> std::io::Result<Self> {
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&end)?;
        unlockpt(&end)?;
        let flags = rustix::fs::fcntl_getfl(&end)?;
        rustix::fs::fcntl_setfl(&end, flags | OFlags::NONBLOCK)?;
        let device = PathBuf::from(ptsname(&end, Vec::new())?.to_string_lossy().into_owned());
        let (tell, holds) = mpsc::channel();
        let (seen, over) = (Arc::new(Mutex::new(Seen::default())), Arc::new(AtomicBool::new(false)));
        let mut wire = Wire::new(end, baud, tell, Arc::clone(&seen));
        let ends = Arc::clone(&over);
        let thread = std::thread::Builder::new().name("far end".to_owned()).spawn(move || {
            // a yardstick is looked at before what it measures, where the system allows that
            let _ = rustix::process::setpriority_process(None, AHEAD);
            while !ends.load(Ordering::Relaxed) {
                wire.turn();
            }
        })?;
        Ok(Self { device, holds, seen, over, thread: Some(thread) })
    }

    /// What it has seen by now.
    pub fn seen(&self) -> Seen {
        *self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The most of everything counts from now on.
    pub fn count_anew(&self) {
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        (seen.most_below, seen.most_unread) = (0, 0);
    }
}

impl Drop for FarEnd {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // one that panicked has said so
            let _ = thread.join();
        }
    }
}

/// The rank of its thread (nice value).
const AHEAD: i32 = -15;

/// What the thread owns.
struct Wire {
    end: OwnedFd,
    byte: f64,
    begun: Instant,
    /// When all that was handed over is through, in seconds.
    free: f64,
    coming: VecDeque<(f64, u8)>,
    line: Vec<u8>,
    /// Words on their way back: when they are through.
    going: VecDeque<(f64, String)>,
    back_free: f64,
    held: bool,
    /// Answers that wait for the end of a hold.
    kept: usize,
    last_line: f64,
    bit: Bit,
    holds: mpsc::Sender<Instant>,
    seen: Arc<Mutex<Seen>>,
}

impl Wire {
    fn new(end: OwnedFd, baud: u32, holds: mpsc::Sender<Instant>, seen: Arc<Mutex<Seen>>) -> Self {
        Self {
            end,
            byte: 10.0 / f64::from(baud),
            begun: Instant::now(),
            free: 0.0,
            coming: VecDeque::new(),
            line: Vec::new(),
            going: VecDeque::new(),
            back_free: 0.0,
            held: false,
            kept: 0,
            last_line: -1.0,
            bit: Bit::default(),
            holds,
            seen,
        }
    }

    fn now(&self) -> f64 {
        self.begun.elapsed().as_secs_f64()
    }

    fn turn(&mut self) {
        self.wait();
        self.read();
        let now = self.now();
        while self.coming.front().is_some_and(|(at, _)| *at <= now)
            && let Some((_, byte)) = self.coming.pop_front()
        {
            self.byte(byte);
        }
        let now = self.now();
        while self.going.front().is_some_and(|(at, _)| *at <= now)
            && let Some((_, words)) = self.going.pop_front()
        {
            // a full terminal loses words, as a line without flow control does
            let _ = rustix::io::write(&self.end, words.as_bytes());
        }
    }

    fn wait(&self) {
        let note = self.coming.iter().find(|(_, b)| matches!(b, b'\n' | b'?' | b'!' | b'~' | 0x18));
        let next = [note.map(|(at, _)| *at), self.going.front().map(|(at, _)| *at)].into_iter().flatten();
        let now = self.now();
        let wait = next.fold(0.02, |soonest: f64, at| soonest.min(at - now));
        let wait = Timespec { tv_sec: 0, tv_nsec: (wait.clamp(0.0, 0.02) * 1.0e9) as i64 };
        let mut fds = [PollFd::new(&self.end, PollFlags::IN)];
        // a wait that is interrupted is one that ended early
        let _ = poll(&mut fds, Some(&wait));
        if fds[0].revents().contains(PollFlags::HUP) {
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn read(&mut self) {
        let unread = rustix::io::ioctl_fionread(&self.end).unwrap_or(0);
        let mut buffer = [0_u8; 512];
        let Ok(n) = rustix::io::read(&self.end, &mut buffer) else { return };
        let (read_at, now) = (Instant::now(), self.now());
        self.free = self.free.max(now);
        for byte in buffer.iter().take(n) {
            if *byte == b'!' {
                // whoever measures may be gone
                let _ = self.holds.send(read_at);
            }
            self.free += self.byte;
            self.coming.push_back((self.free, *byte));
        }
        let below = ((self.free - now) / self.byte).round() as u64;
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.most_below = seen.most_below.max(below);
        seen.most_unread = seen.most_unread.max(unread);
        seen.bytes += n as u64;
        seen.through = self.free;
    }

    fn byte(&mut self, byte: u8) {
        match byte {
            b'?' => self.report(),
            b'!' => self.held = true,
            b'~' => {
                self.held = false;
                for _ in 0..std::mem::take(&mut self.kept) {
                    self.say("ok\r\n");
                }
            }
            0x18 => {
                (self.held, self.kept) = (false, 0);
                self.line.clear();
                self.say("Bench 1.0 [ready]\r\n");
            }
            b'\n' => self.whole_line(),
            0x80.. => {}
            _ => self.line.push(byte),
        }
    }

    fn whole_line(&mut self) {
        let line = String::from_utf8_lossy(&self.line).into_owned();
        self.line.clear();
        self.last_line = self.now();
        if self.bit.told(&line) {
            self.seen.lock().unwrap_or_else(PoisonError::into_inner).lines += 1;
        }
        if self.held {
            self.kept += 1;
        } else {
            self.say("ok\r\n");
        }
    }

    fn report(&mut self) {
        let moves = self.now() - self.last_line < MOVES_FOR.as_secs_f64();
        let word = match (self.held, moves) {
            (true, _) => "Hold:0",
            (false, true) => "Run",
            (false, false) => "Idle",
        };
        let ([x, y, z], [a, b, c]) = (self.bit.at, self.bit.zero);
        self.say(&format!("<{word}|MPos:{x:.3},{y:.3},{z:.3}|FS:0,0|WCO:{a:.3},{b:.3},{c:.3}>\r\n"));
    }

    fn say(&mut self, words: &str) {
        self.back_free = self.back_free.max(self.now()) + self.byte * words.len() as f64;
        self.going.push_back((self.back_free, words.to_owned()));
    }
}
