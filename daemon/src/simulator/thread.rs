//! The thread: brings bytes and time to the practice machine, and what it says to whoever has the port open.

use super::cable::{Cable, Read};
use super::{Ask, Seen, Shared};
use crate::link::wire::TickSource;
use crate::practice::{Controller, Habits, Setup};
use crate::serial::timespec;
use chargehand_types::quantity::Tick;
use rustix::event::{PollFd, PollFlags, poll};
use std::ops::ControlFlow;
use std::sync::{Arc, PoisonError};
use std::time::Duration;

/// Longest wait between two looks at the clock.
const LONGEST_WAIT: Duration = Duration::from_millis(50);
/// Between two looks whether somebody has opened the port: the system does not tell.
const CLOSED_WAIT: Duration = Duration::from_millis(4);
/// Bytes the machine's line must have room for before more are read.
const WORTH_READING: usize = 32;
/// Bytes that wait for a reader before the oldest are lost, as in a terminal nobody reads.
const MOST_UNREAD: usize = 64 * 1024;

/// Everything the thread owns.
pub(in crate::simulator) struct Machine {
    controller: Controller,
    clock: Arc<dyn TickSource>,
    cable: Cable,
    shared: Arc<Shared>,
    unread: Vec<u8>,
    open: bool,
    plug_at: Option<Tick>,
}

impl Machine {
    pub fn new(setup: Setup, habits: Habits, clock: Arc<dyn TickSource>, cable: Cable, shared: Arc<Shared>) -> Self {
        let controller = Controller::with_habits(setup, habits, clock.now());
        Self { controller, clock, cable, shared, unread: Vec::new(), open: false, plug_at: None }
    }

    /// The life of the thread.
    pub fn live(mut self) {
        while self.asked().is_continue() {
            let now = self.clock.now();
            self.controller.advance(now);
            self.mind_cable(now);
            self.read(now);
            self.write(now);
            self.tell();
            self.wait();
        }
    }

    fn asked(&mut self) -> ControlFlow<()> {
        loop {
            let ask = self.shared.asks.lock().unwrap_or_else(PoisonError::into_inner).pop_front();
            match ask {
                None => return ControlFlow::Continue(()),
                Some(Ask::End) => return ControlFlow::Break(()),
                Some(Ask::Unplug) => self.unplug(),
                Some(Ask::Plug) => self.plug(),
                Some(Ask::Hand(hand)) => self.controller.hand(self.clock.now(), hand),
            }
        }
    }

    fn unplug(&mut self) {
        self.plug_at = None;
        self.cable.unplug();
        self.closed();
    }

    fn plug(&mut self) {
        self.plug_at = None;
        if let Err(e) = self.cable.plug() {
            tracing::error!("the practice machine cannot be plugged in again: {e}");
        }
    }

    /// Nobody listens: what was said is lost, as on a cable that is out.
    fn closed(&mut self) {
        self.open = false;
        self.unread.clear();
        self.controller.unplugged();
    }

    fn mind_cable(&mut self, now: Tick) {
        if let Some(back_ms) = self.controller.take_unplug() {
            self.unplug();
            self.plug_at = back_ms.map(|ms| now.after_ms(u64::from(ms)));
        }
        if self.plug_at.is_some_and(|t| now >= t) {
            self.plug();
        }
        if !self.open && self.cable.is_open() {
            self.open = true;
            self.controller.opened(now);
        }
    }

    fn read(&mut self, now: Tick) {
        let mut buffer = [0_u8; 256];
        while self.open && self.controller.room() >= WORTH_READING {
            let room = self.controller.room().min(buffer.len());
            let Some(some) = buffer.get_mut(..room) else { return };
            match self.cable.read(some) {
                Read::Bytes(n) => self.controller.take(now, buffer.get(..n).unwrap_or_default()),
                Read::Nothing => return,
                Read::Closed => self.closed(),
            }
        }
    }

    fn write(&mut self, now: Tick) {
        let said = self.controller.output(now);
        if self.open {
            self.unread.extend(said);
        }
        let lost = self.unread.len().saturating_sub(MOST_UNREAD);
        self.unread.drain(..lost);
        if !self.unread.is_empty() {
            let n = self.cable.write(&self.unread);
            self.unread.drain(..n.min(self.unread.len()));
        }
    }

    fn tell(&self) {
        let seen = Seen { at: self.controller.truly_at(), tally: self.controller.tally(), open: self.open };
        *self.shared.seen.lock().unwrap_or_else(PoisonError::into_inner) = seen;
    }

    fn wait(&mut self) {
        let room = self.controller.room() >= WORTH_READING;
        let room_at = self.controller.room_at().filter(|_| !room);
        let next = [self.controller.next_wake(), room_at, self.plug_at].into_iter().flatten().min();
        let longest = if self.open { LONGEST_WAIT } else { CLOSED_WAIT };
        let timeout = timespec(next.map_or(longest, |t| self.clock.real_until(t)).min(longest));
        let mut wanted = PollFlags::empty();
        if room {
            wanted |= PollFlags::IN;
        }
        if !self.unread.is_empty() {
            wanted |= PollFlags::OUT;
        }
        let bell = PollFd::new(&self.shared.bell, PollFlags::IN);
        // an interrupted wait is a wait that ended early; a port nobody has open is told as hung up for ever
        let (rung, hung_up) = match self.cable.end().filter(|_| self.open) {
            Some(end) => {
                let mut fds = [bell, PollFd::from_borrowed_fd(end, wanted)];
                let _ = poll(&mut fds, Some(&timeout));
                (!fds[0].revents().is_empty(), fds[1].revents().contains(PollFlags::HUP))
            }
            None => {
                let mut fds = [bell];
                let _ = poll(&mut fds, Some(&timeout));
                (!fds[0].revents().is_empty(), false)
            }
        };
        if rung {
            self.shared.bell.silence();
        }
        if hung_up && !room {
            self.closed();
        }
    }
}
