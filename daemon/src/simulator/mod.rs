//! Room `simulator`: the practice machine behind a real pseudo-terminal, on a thread of its own, with the daemon's
//! one clock (which may run fast).
//!
//! May live here: the pseudo-terminal and the loop. May not: what the machine says or does; that is `practice`.

use crate::link::wire::TickSource;
use crate::practice::{Controller, Setup};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::OFlags;
use rustix::io::Errno;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::os::fd::{AsFd, OwnedFd};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// Longest wait between two looks at the clock.
const LONGEST_WAIT: Duration = Duration::from_millis(50);

/// A practice machine at the end of a pseudo-terminal.
pub struct Simulator {
    path: String,
    end: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Simulator {
    /// Starts it.
    ///
    /// # Errors
    /// When the system gives no pseudo-terminal or no thread.
    pub fn start(setup: Setup, clock: Arc<dyn TickSource>) -> std::io::Result<Self> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let path = ptsname(&master, Vec::new())?.to_string_lossy().into_owned();
        make_raw(&path)?;
        let flags = rustix::fs::fcntl_getfl(&master)?;
        rustix::fs::fcntl_setfl(&master, flags | OFlags::NONBLOCK)?;
        let end = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&end);
        let thread = std::thread::Builder::new()
            .name("practice".to_owned())
            .spawn(move || run(&master, setup, clock.as_ref(), &stop))?;
        Ok(Self { path, end, thread: Some(thread) })
    }

    /// The port to open.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }
}

impl Drop for Simulator {
    fn drop(&mut self) {
        self.end.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            // a thread that panicked has said so already
            let _ = thread.join();
        }
    }
}

/// No echo and no editing, before anybody opens it; the descriptor is closed again, or the exclusive flag would stay.
fn make_raw(path: &str) -> std::io::Result<()> {
    let slave: OwnedFd = rustix::fs::open(path, OFlags::RDWR | OFlags::NOCTTY, rustix::fs::Mode::empty())?;
    let mut settings = tcgetattr(slave.as_fd())?;
    settings.make_raw();
    tcsetattr(slave.as_fd(), OptionalActions::Now, &settings)?;
    Ok(())
}

fn run(master: &OwnedFd, setup: Setup, clock: &dyn TickSource, end: &AtomicBool) {
    let mut machine = Controller::new(setup, clock.now());
    let mut buffer = [0_u8; 1024];
    let mut unsent: Vec<u8> = Vec::new();
    let mut was_open = false;
    while !end.load(Ordering::SeqCst) {
        let now = clock.now();
        match rustix::io::read(master, &mut buffer) {
            Ok(n) if n > 0 => {
                was_open = true;
                machine.take(now, buffer.get(..n).unwrap_or_default());
            }
            // nobody has the other end open: what was said is lost, as on a cable that is out
            Ok(_) | Err(Errno::IO) if was_open => {
                was_open = false;
                unsent.clear();
                machine.unplugged();
            }
            Ok(_) | Err(_) => {}
        }
        machine.advance(now);
        unsent.extend(machine.output(now));
        if let Ok(n) = rustix::io::write(master, &unsent) {
            unsent.drain(..n);
        }
        wait(master, clock, machine.next_wake(), !unsent.is_empty());
    }
}

fn wait(master: &OwnedFd, clock: &dyn TickSource, until: Option<chargehand_types::quantity::Tick>, more: bool) {
    let real = until.map_or(LONGEST_WAIT, |t| clock.real_until(t)).min(LONGEST_WAIT);
    let timeout = Timespec { tv_sec: 0, tv_nsec: i64::from(real.subsec_nanos()) };
    let wanted = if more { PollFlags::IN | PollFlags::OUT } else { PollFlags::IN };
    let mut fds = [PollFd::new(master, wanted)];
    // an interrupted wait is a wait that ended early
    let polled = poll(&mut fds, Some(&timeout));
    let hung_up = fds.first().is_some_and(|f| f.revents().contains(PollFlags::HUP));
    if polled.is_ok() && hung_up {
        // a hang-up is told at once and for ever; do not spin on it
        let rest = Timespec { tv_sec: 0, tv_nsec: 2_000_000 };
        let _ = poll(&mut [], Some(&rest));
    }
}
