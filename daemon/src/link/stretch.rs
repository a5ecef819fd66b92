//! A stretch of lines being streamed: what waits, what is in flight, what holds it up.

use super::path::Path;
use super::wire::Reached;
use crate::sending::{SentLine, Then};
use chargehand_types::quantity::{Point, Tick};
use std::collections::VecDeque;

/// What holds a stretch up.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::link) enum Pause {
    /// Nothing.
    None,
    /// Feed hold was asked for, then; not yet confirmed.
    HoldAsked(Tick),
    /// The axes are held.
    Held,
    /// No more is sent after the next lift.
    LiftWanted,
    /// The lift was sent; it runs out.
    LiftSent,
    /// Ran out after the lift.
    AtLift,
    /// A line that asks for a person has come; what is before it runs out.
    AskSent,
    /// Ran out; a person is asked.
    Asking,
}

/// Told to go on.
#[derive(Debug, Clone, Copy)]
pub(in crate::link) struct Resumed {
    pub at: Tick,
    /// A report asked for before that is still on its way: it says nothing.
    pub stale: bool,
}

/// A stretch.
#[derive(Debug, Clone)]
pub(in crate::link) struct Stretch {
    queue: VecDeque<SentLine>,
    pub more: bool,
    pub wanted: bool,
    pub pause: Pause,
    /// It was told to go on, and no report asked for since has come: it may have started anew and not been heard yet.
    pub resumed: Option<Resumed>,
    pub path: Path,
    /// Work zero when it began: reported machine places are taken from it.
    pub base: Option<Point>,
    queued_bytes: usize,
    /// What was last told of how far it has come.
    pub told: Reached,
}

impl Stretch {
    /// An empty one; lines come later.
    pub fn begin(base: Option<Point>) -> Self {
        Self {
            queue: VecDeque::new(),
            more: true,
            wanted: false,
            pause: Pause::None,
            resumed: None,
            path: Path::default(),
            base,
            queued_bytes: 0,
            told: Reached::default(),
        }
    }

    /// More lines.
    pub fn add(&mut self, lines: Vec<SentLine>) {
        self.wanted = false;
        self.queued_bytes += lines.iter().map(|l| l.bytes.len() + 1).sum::<usize>();
        self.queue.extend(lines);
    }

    /// Bytes that wait.
    pub const fn queued_bytes(&self) -> usize {
        self.queued_bytes
    }

    /// The lines that wait.
    pub fn waiting(&self) -> impl Iterator<Item = &SentLine> {
        self.queue.iter()
    }

    /// The next line, looked at.
    pub fn front(&self) -> Option<&SentLine> {
        self.queue.front()
    }

    /// The next line, taken to be written.
    pub fn pop(&mut self) -> Option<SentLine> {
        let line = self.queue.pop_front()?;
        self.queued_bytes = self.queued_bytes.saturating_sub(line.bytes.len() + 1);
        if !line.bytes.is_empty() {
            self.path.sent(line.source_line);
        }
        if self.pause == Pause::LiftWanted && line.then == Then::Lifted {
            self.pause = Pause::LiftSent;
        }
        Some(line)
    }

    /// Everything written has run out.
    pub fn ran_out(&mut self) {
        // a source line that was written as several is done with the last of them, and that may still be to come
        let next = match self.queue.front() {
            Some(line) => Some(line.source_line),
            None if self.more => self.path.reached().sent,
            None => None,
        };
        self.path.ran_out(next);
    }

    /// Whether lines may be written.
    pub const fn flows(&self) -> bool {
        matches!(self.pause, Pause::None | Pause::LiftWanted) && self.resumed.is_none()
    }

    /// A report came: whether it says how things stand since the stretch was told to go on, if it was.
    pub fn speaks_of_now(&mut self, now: Tick, holding: bool, leaves_within_ms: u64) -> bool {
        let Some(Resumed { at, stale }) = &mut self.resumed else { return true };
        // some time passes until it leaves its hold
        let leaving = holding && now <= at.after_ms(leaves_within_ms);
        if std::mem::take(stale) || leaving {
            return false;
        }
        self.resumed = None;
        true
    }

    /// Whether all lines have been written.
    pub fn is_written(&self) -> bool {
        self.queue.is_empty() && !self.more
    }
}
