//! The thread: takes bytes, commands and time to the conversation, and brings what it says to the port and to `app`.

use super::bell::timespec;
use super::line::Shared;
use super::pace::Pace;
use super::port::{Port, Read};
use super::talker::Talker;
use crate::floor::permit::Epoch;
use crate::link::wire::{Input, Output, Report, TickSource};
use chargehand_types::quantity::Tick;
use rustix::event::{PollFd, PollFlags, poll};
use std::collections::VecDeque;
use std::io::IoSlice;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

/// Where the reports go.
pub type Reports = Box<dyn FnMut(Report) + Send>;

/// Bytes read at once.
const READ: usize = 1024;
/// Pieces that may wait to be written; a conversation that makes more has lost count of its window.
const MOST_UNSENT: usize = 4096;
/// What is told when the thread fails.
const FAILED: &str = "the part that talks to the controller has failed. What the controller still holds may run out; \
                      end chargehand-daemon and start it again";

/// Everything the thread owns.
pub(in crate::serial) struct Owner {
    path: String,
    talker: Box<dyn Talker>,
    clock: Arc<dyn TickSource>,
    reports: Reports,
    shared: Arc<Shared>,
    baud: u32,
    port: Option<Port>,
    /// Acts at once; passes the rest.
    urgent: VecDeque<u8>,
    /// Whole lines: the pace lets one go as a whole, so that dropping what waits leaves no half line behind.
    unsent: VecDeque<Vec<u8>>,
    pace: Pace,
    wake: Tick,
    /// When the pace lets the next line go.
    writes_at: Option<Tick>,
    reopen: bool,
    gone: Option<&'static str>,
    epoch: Epoch,
    last_why: String,
}

impl Owner {
    pub fn new(
        path: String,
        baud: u32,
        talker: Box<dyn Talker>,
        clock: Arc<dyn TickSource>,
        reports: Reports,
        shared: Arc<Shared>,
    ) -> Self {
        let pace = Pace::new(baud, clock.rate());
        Self {
            path,
            talker,
            clock,
            reports,
            shared,
            baud,
            port: None,
            urgent: VecDeque::new(),
            unsent: VecDeque::new(),
            pace,
            wake: Tick(0),
            writes_at: None,
            reopen: true,
            gone: None,
            epoch: Epoch::default(),
            last_why: String::new(),
        }
    }

    /// The life of the thread. It does not end unheard.
    pub fn live(mut self) {
        if catch_unwind(AssertUnwindSafe(|| self.run())).is_err() {
            self.shared.failed.store(true, Ordering::SeqCst);
            tracing::error!("{FAILED}");
            let down = Report::Down { why: FAILED.to_owned(), at: None, epoch: self.epoch.next() };
            // whoever hears the reports may have been what failed
            let _ = catch_unwind(AssertUnwindSafe(|| (self.reports)(down)));
        }
    }

    fn run(&mut self) {
        let mut buffer = [0_u8; READ];
        while !self.shared.end.load(Ordering::SeqCst) {
            self.commands();
            if std::mem::take(&mut self.reopen) {
                self.open();
                continue;
            }
            self.write_out();
            if let Some(why) = self.gone.take() {
                self.lost(why);
                continue;
            }
            let hung_up = self.wait();
            self.read(&mut buffer, hung_up);
            if self.clock.now() >= self.wake {
                self.take(Input::Woke);
            }
        }
    }

    fn commands(&mut self) {
        loop {
            let (next, refused) = {
                let mut queue = self.shared.queue.lock().unwrap_or_else(PoisonError::into_inner);
                (queue.pop(), queue.pop_refused())
            };
            if next.is_none() && refused.is_none() {
                return;
            }
            if let Some(command) = next {
                self.take(Input::Command(command));
                self.write_urgent();
            }
            if let Some(report) = refused {
                self.report(report);
            }
        }
    }

    /// One input, then everything that comes of it.
    fn take(&mut self, input: Input<'_>) {
        self.talker.take(self.clock.now(), input);
        while let Some(output) = self.talker.next_output() {
            match output {
                Output::Send { bytes, urgent: true } => self.urgent.extend(bytes),
                Output::Send { bytes, urgent: false } if self.unsent.len() >= MOST_UNSENT => {
                    tracing::error!("{} bytes were not written: too much waits", bytes.len());
                    self.gone = Some("more waits to be written than can ever be sent");
                }
                Output::Send { bytes, urgent: false } => self.unsent.push_back(bytes),
                Output::DropUnsent => self.unsent.clear(),
                Output::Reopen => self.reopen = true,
                Output::Report(report) => self.report(report),
                Output::WakeAt(tick) => self.wake = tick,
            }
        }
    }

    fn report(&mut self, report: Report) {
        if let Some(epoch) = epoch_of(&report) {
            self.epoch = epoch;
        }
        (self.reports)(report);
    }

    fn open(&mut self) {
        self.close();
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
        self.close();
        self.take(Input::Lost(why));
    }

    fn close(&mut self) {
        self.port = None;
        self.urgent.clear();
        self.unsent.clear();
        self.writes_at = None;
        self.pace.forget();
    }

    fn read(&mut self, buffer: &mut [u8], hung_up: bool) {
        let Some(port) = &self.port else { return };
        match port.read(buffer, hung_up) {
            Read::Bytes(n) => self.take(Input::Bytes(buffer.get(..n).unwrap_or_default())),
            Read::Nothing => {}
            Read::Gone(why) => self.gone = Some(why),
        }
    }

    /// Bytes that act at once keep no pace.
    fn write_urgent(&mut self) {
        while !self.urgent.is_empty() {
            let Some(port) = &self.port else { return self.urgent.clear() };
            let (first, _) = self.urgent.as_slices();
            match port.write(first) {
                Ok(0) => return,
                Ok(n) => {
                    self.urgent.drain(..n);
                    self.wrote(n);
                }
                Err(why) => return self.gone = Some(why),
            }
        }
    }

    fn write_out(&mut self) {
        self.writes_at = None;
        self.write_urgent();
        while let Some(line) = self.unsent.front() {
            let Some(port) = &self.port else { return self.unsent.clear() };
            let (now, held) = (self.clock.now(), port.held());
            self.writes_at = self.pace.wait(now, line.len(), held);
            if self.writes_at.is_some() {
                return;
            }
            // what may go goes in one call: the system wakes whoever hands it to the wire at each
            let mut bytes = 0;
            let may = |line: &&Vec<u8>| {
                bytes += line.len();
                bytes == line.len() || self.pace.takes(now, bytes, held)
            };
            let lines: Vec<IoSlice<'_>> = self.unsent.iter().take_while(may).map(|line| IoSlice::new(line)).collect();
            match port.write_pieces(&lines) {
                Ok(0) => return,
                Ok(n) => {
                    self.drop_written(n);
                    self.wrote(n);
                }
                Err(why) => return self.gone = Some(why),
            }
        }
    }

    /// So many bytes from the front were written.
    fn drop_written(&mut self, mut bytes: usize) {
        while bytes > 0
            && let Some(line) = self.unsent.front_mut()
        {
            if line.len() > bytes {
                line.drain(..bytes);
                return;
            }
            bytes -= line.len();
            self.unsent.pop_front();
        }
    }

    fn wrote(&mut self, bytes: usize) {
        self.pace.wrote(self.clock.now(), bytes);
        self.shared.most_below.store(self.pace.most_seen(), Ordering::Relaxed);
    }

    /// Waits for bytes, room to write, the bell or the wanted time; tells whether the port is hung up.
    fn wait(&mut self) -> bool {
        let rests = self.urgent.is_empty().then(|| self.pace.rest(self.clock.now())).flatten();
        let until = rests.or(self.writes_at).map_or(self.wake, |t| t.min(self.wake));
        let timeout = timespec(self.clock.real_until(until));
        let mut wanted = PollFlags::IN;
        let waits = !self.urgent.is_empty() || !self.unsent.is_empty();
        if waits && self.writes_at.is_none() {
            wanted |= PollFlags::OUT;
        }
        let bell = PollFd::new(&self.shared.bell, PollFlags::IN);
        // an interrupted wait is a wait that ended early
        let (rung, hung_up) = if let Some(port) = self.port.as_ref().filter(|_| rests.is_none()) {
            let mut fds = [bell, PollFd::from_borrowed_fd(port.descriptor(), wanted)];
            let _ = poll(&mut fds, Some(&timeout));
            (fds[0].revents().contains(PollFlags::IN), fds[1].revents().contains(PollFlags::HUP))
        } else {
            let mut fds = [bell];
            let _ = poll(&mut fds, Some(&timeout));
            (fds[0].revents().contains(PollFlags::IN), false)
        };
        if rung {
            self.shared.bell.silence();
        }
        hung_up
    }
}

/// The epoch a report tells of.
const fn epoch_of(report: &Report) -> Option<Epoch> {
    match report {
        Report::Up { epoch, .. }
        | Report::Down { epoch, .. }
        | Report::Refused { epoch, .. }
        | Report::Fault { epoch, .. }
        | Report::Restarted { epoch, .. }
        | Report::Stopped { epoch, .. } => Some(*epoch),
        Report::State(_)
        | Report::WantsLines { .. }
        | Report::Reached(_)
        | Report::Held { .. }
        | Report::HoldUnconfirmed
        | Report::HeldAtLift(_)
        | Report::AtPrompt { .. }
        | Report::Finished(_)
        | Report::Homed
        | Report::HandDone
        | Report::Touched { .. }
        | Report::Raised { .. }
        | Report::SettingTaken
        | Report::NotDone { .. }
        | Report::Said(_) => None,
    }
}
