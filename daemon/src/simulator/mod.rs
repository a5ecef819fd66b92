//! Room `simulator`: the practice machine behind a real pseudo-terminal, on a thread of its own, with the daemon's
//! one clock (which may run fast).
//!
//! May live here: the pseudo-terminal and the loop. May not: what the machine says or does; that is `practice`.

mod cable;
mod thread;

#[cfg(test)]
mod speed;
#[cfg(test)]
mod tests;

use crate::link::wire::TickSource;
use crate::practice::{Habits, Hand, Setup, Tally};
use crate::serial::Bell;
use cable::Cable;
use chargehand_types::quantity::Point;
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use thread::Machine;

/// A practice machine at the end of a pseudo-terminal.
pub struct Simulator {
    path: String,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// What the handle and the thread share.
pub(in crate::simulator) struct Shared {
    asks: Mutex<VecDeque<Ask>>,
    bell: Bell,
    seen: Mutex<Seen>,
}

/// What the thread is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::simulator) enum Ask {
    Unplug,
    Plug,
    Hand(Hand),
    End,
}

/// How the machine stood when the thread last looked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// Where the carriage truly was, machine coordinates.
    pub at: Point,
    /// Sums over its life.
    pub tally: Tally,
    /// Whether somebody had the port open.
    pub open: bool,
}

impl Simulator {
    /// Starts a kind machine.
    ///
    /// # Errors
    /// When the system gives no pseudo-terminal or no thread.
    pub fn start(setup: Setup, clock: Arc<dyn TickSource>) -> std::io::Result<Self> {
        Self::begin(setup, Habits::default(), clock, Cable::new(None)?)
    }

    /// Starts a machine with such habits, whose port is found under a name of its own: a link that is there while the
    /// cable is in, as a device's name by its identity is. Unplugged and plugged in again it leads to another device.
    ///
    /// # Errors
    /// When the system gives no pseudo-terminal or no thread, or the name cannot be made.
    pub fn start_named(
        setup: Setup,
        habits: Habits,
        clock: Arc<dyn TickSource>,
        name: PathBuf,
    ) -> std::io::Result<Self> {
        Self::begin(setup, habits, clock, Cable::new(Some(name))?)
    }

    fn begin(setup: Setup, habits: Habits, clock: Arc<dyn TickSource>, cable: Cable) -> std::io::Result<Self> {
        let shared = Arc::new(Shared { asks: Mutex::default(), bell: Bell::new()?, seen: Mutex::new(Seen::default()) });
        let path = cable.path();
        let machine = Machine::new(setup, habits, clock, cable, Arc::clone(&shared));
        let thread = std::thread::Builder::new().name("practice".to_owned()).spawn(move || machine.live())?;
        Ok(Self { path, shared, thread: Some(thread) })
    }

    /// The port to open.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Pulls the cable.
    pub fn unplug(&self) {
        self.ask(Ask::Unplug);
    }

    /// Puts it in again.
    pub fn plug(&self) {
        self.ask(Ask::Plug);
    }

    /// Does something at the machine itself.
    pub fn hand(&self, hand: Hand) {
        self.ask(Ask::Hand(hand));
    }

    /// How it stood when its thread last looked.
    #[must_use]
    pub fn seen(&self) -> Seen {
        *self.shared.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn ask(&self, ask: Ask) {
        self.shared.asks.lock().unwrap_or_else(PoisonError::into_inner).push_back(ask);
        self.shared.bell.ring();
    }
}

impl Drop for Simulator {
    fn drop(&mut self) {
        self.ask(Ask::End);
        if let Some(thread) = self.thread.take() {
            // a thread that panicked has said so already
            let _ = thread.join();
        }
    }
}
