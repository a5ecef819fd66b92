//! The handle to the thread.

use super::bell::Bell;
use super::owner::{Owner, Reports};
use super::queue::Queue;
use super::talker::Talker;
use crate::link::wire::{Command, Report, TickSource};
use crate::rank::{self, Rank};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// The line to the controller.
pub struct Line {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// What the handle and the thread share.
pub(in crate::serial) struct Shared {
    pub queue: Mutex<Queue>,
    pub bell: Bell,
    pub end: AtomicBool,
    pub failed: AtomicBool,
    pub most_below: AtomicUsize,
}

impl Line {
    /// Starts the thread. The port is opened by it, and opened again by its path whenever it is lost.
    ///
    /// # Errors
    /// When the system gives no thread or no bell.
    pub fn start(
        path: String,
        baud: u32,
        talker: impl Talker + 'static,
        clock: Arc<dyn TickSource>,
        reports: Reports,
    ) -> std::io::Result<Self> {
        let shared = Arc::new(Shared {
            queue: Mutex::default(),
            bell: Bell::new()?,
            end: AtomicBool::new(false),
            failed: AtomicBool::new(false),
            most_below: AtomicUsize::new(0),
        });
        let owner = Owner::new(path, baud, Box::new(talker), clock, reports, Arc::clone(&shared));
        let thread = std::thread::Builder::new().name("serial".to_owned()).spawn(move || {
            rank::take(Rank::Port);
            owner.live();
        })?;
        Ok(Self { shared, thread: Some(thread) })
    }

    /// One without a thread: whoever drives the link by hand takes the commands with [`Line::next_by_hand`].
    ///
    /// # Errors
    /// When the system gives no bell.
    pub fn by_hand() -> std::io::Result<Self> {
        let shared = Shared {
            queue: Mutex::default(),
            bell: Bell::new()?,
            end: AtomicBool::new(false),
            failed: AtomicBool::new(false),
            most_below: AtomicUsize::new(0),
        };
        Ok(Self { shared: Arc::new(shared), thread: None })
    }

    /// The next command in the order in which the thread would carry it out, or the report that one is not carried out.
    #[must_use]
    pub fn next_by_hand(&self) -> Option<Result<Command, Report>> {
        let mut queue = self.shared.queue.lock().unwrap_or_else(PoisonError::into_inner);
        queue.pop().map(Ok).or_else(|| queue.pop_refused().map(Err))
    }

    /// Hands a command over. Hold and stop pass everything that waits; a start, a resume or a move that still waits
    /// when they come is not carried out any more, and reported so.
    pub fn command(&self, command: Command) {
        self.shared.queue.lock().unwrap_or_else(PoisonError::into_inner).push(command);
        self.shared.bell.ring();
    }

    /// Whether the thread lives. One that failed has said so by a `Report::Down`, and takes no more commands.
    #[must_use]
    pub fn lives(&self) -> bool {
        !self.shared.failed.load(Ordering::SeqCst)
    }

    /// Most bytes that were ever below us and not yet on the wire: what a hold may have had to wait behind.
    #[must_use]
    pub fn most_below(&self) -> usize {
        self.shared.most_below.load(Ordering::Relaxed)
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.shared.end.store(true, Ordering::SeqCst);
        self.shared.bell.ring();
        if let Some(thread) = self.thread.take() {
            // a thread that panicked has said so already
            let _ = thread.join();
        }
    }
}
