//! The thread: takes bytes, commands and time to the link, and brings what the link says to the port and to `app`.

use super::port::{Port, Read};
use crate::link::Link;
use crate::link::wire::{Command, Input, Output, Report, TickSource};
use chargehand_types::quantity::Tick;
use rustix::event::{EventfdFlags, PollFd, PollFlags, Timespec, eventfd, poll};
use std::collections::VecDeque;
use std::os::fd::OwnedFd;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// Where the link's reports go.
pub type Reports = Box<dyn FnMut(Report) + Send>;

/// The line to the controller.
pub struct Line {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    urgent: Mutex<VecDeque<Command>>,
    ordinary: Mutex<VecDeque<Command>>,
    bell: OwnedFd,
    end: AtomicBool,
}

impl Shared {
    fn ring(&self) {
        // a full counter means that the bell rings already
        let _ = rustix::io::write(&self.bell, &1_u64.to_ne_bytes());
    }
}

impl Line {
    /// Starts the thread. The port is opened by it, and opened again whenever it is lost.
    ///
    /// # Errors
    /// When the system gives no thread or no bell.
    pub fn start(
        path: String,
        baud: u32,
        link: Link,
        clock: Arc<dyn TickSource>,
        reports: Reports,
    ) -> std::io::Result<Self> {
        let bell = eventfd(0, EventfdFlags::NONBLOCK | EventfdFlags::CLOEXEC)?;
        let shared = Arc::new(Shared {
            urgent: Mutex::new(VecDeque::new()),
            ordinary: Mutex::new(VecDeque::new()),
            bell,
            end: AtomicBool::new(false),
        });
        let inside = Arc::clone(&shared);
        let thread = std::thread::Builder::new().name("serial".to_owned()).spawn(move || {
            let mut owner = Owner {
                path,
                baud,
                link,
                clock,
                reports,
                port: None,
                unsent: VecDeque::new(),
                wake: Tick(0),
                shared: inside,
                last_why: String::new(),
            };
            owner.open();
            owner.run();
        })?;
        Ok(Self { shared, thread: Some(thread) })
    }

    /// Hands a command over. Hold and stop pass everything that waits.
    pub fn command(&self, command: Command) {
        let queue = match command {
            Command::Hold | Command::Stop => &self.shared.urgent,
            _ => &self.shared.ordinary,
        };
        queue.lock().unwrap_or_else(PoisonError::into_inner).push_back(command);
        self.shared.ring();
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.shared.end.store(true, Ordering::SeqCst);
        self.shared.ring();
        if let Some(thread) = self.thread.take() {
            // a thread that panicked has said so already
            let _ = thread.join();
        }
    }
}

struct Owner {
    path: String,
    baud: u32,
    link: Link,
    clock: Arc<dyn TickSource>,
    reports: Reports,
    port: Option<Port>,
    unsent: VecDeque<u8>,
    wake: Tick,
    shared: Arc<Shared>,
    last_why: String,
}

impl Owner {
    fn run(&mut self) {
        let mut buffer = [0_u8; 1024];
        while !self.shared.end.load(Ordering::SeqCst) {
            self.commands();
            self.write_out();
            self.wait();
            if let Some(port) = &self.port {
                match port.read(&mut buffer) {
                    Read::Bytes(n) => {
                        let bytes = buffer.get(..n).unwrap_or_default().to_vec();
                        self.take(Input::Bytes(&bytes));
                    }
                    Read::Nothing => {}
                    Read::Gone(why) => self.lost(why),
                }
            }
            if self.clock.now() >= self.wake {
                self.take(Input::Woke);
            }
        }
    }

    fn commands(&mut self) {
        loop {
            let next = self.shared.urgent.lock().unwrap_or_else(PoisonError::into_inner).pop_front();
            let next = next.or_else(|| self.shared.ordinary.lock().unwrap_or_else(PoisonError::into_inner).pop_front());
            match next {
                Some(command) => self.take(Input::Command(command)),
                None => return,
            }
        }
    }

    fn take(&mut self, input: Input<'_>) {
        self.link.take(self.clock.now(), input);
        while let Some(output) = self.link.next_output() {
            match output {
                Output::Send { bytes, urgent: true } => {
                    for byte in bytes.into_iter().rev() {
                        self.unsent.push_front(byte);
                    }
                }
                Output::Send { bytes, urgent: false } => self.unsent.extend(bytes),
                Output::DropUnsent => self.unsent.clear(),
                Output::Reopen => self.open(),
                Output::Report(report) => (self.reports)(report),
                Output::WakeAt(tick) => self.wake = tick,
            }
        }
        self.write_out();
    }

    fn open(&mut self) {
        self.port = None;
        self.unsent.clear();
        match Port::open(&self.path, self.baud) {
            Ok(port) => {
                self.port = Some(port);
                self.last_why.clear();
                self.take(Input::Opened);
            }
            Err(why) => {
                if why != self.last_why {
                    tracing::warn!("{why}");
                }
                self.last_why.clone_from(&why);
                self.take(Input::Lost(&why));
            }
        }
    }

    fn lost(&mut self, why: &str) {
        self.port = None;
        self.unsent.clear();
        self.take(Input::Lost(why));
    }

    fn write_out(&mut self) {
        while !self.unsent.is_empty() {
            let Some(port) = &self.port else {
                self.unsent.clear();
                return;
            };
            let (first, _) = self.unsent.as_slices();
            match port.write(first) {
                Ok(0) => return,
                Ok(n) => {
                    self.unsent.drain(..n);
                }
                Err(why) => return self.lost(why),
            }
        }
    }

    /// Waits for bytes, room to write, the bell or the wanted time.
    fn wait(&mut self) {
        let real = self.clock.real_until(self.wake);
        let timeout =
            Timespec { tv_sec: i64::try_from(real.as_secs()).unwrap_or(3600), tv_nsec: i64::from(real.subsec_nanos()) };
        let mut wanted = PollFlags::IN;
        if !self.unsent.is_empty() {
            wanted |= PollFlags::OUT;
        }
        let rung = {
            let mut fds = vec![PollFd::new(&self.shared.bell, PollFlags::IN)];
            if let Some(port) = &self.port {
                fds.push(PollFd::from_borrowed_fd(port.descriptor(), wanted));
            }
            // an interrupted wait is a wait that ended early
            let _ = poll(&mut fds, Some(&timeout));
            fds.first().is_some_and(|bell| bell.revents().contains(PollFlags::IN))
        };
        if rung {
            let mut count = [0_u8; 8];
            let _ = rustix::io::read(&self.shared.bell, &mut count);
        }
    }
}
