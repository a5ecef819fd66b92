//! Feeding: the program's bytes through `sending`, a few windows ahead of the link.

use super::stopwatch::Stopwatch;
use crate::link::wire::Reached;
use crate::sending::{Sender, SentLine};
use chargehand_types::quantity::Tick;

/// Bytes of program text read at a time.
const CHUNK: usize = 16 * 1024;

/// An operation being streamed.
pub struct Feeding {
    /// Its place in the order of cutting.
    pub operation: u8,
    bytes: Vec<u8>,
    at: usize,
    finished: bool,
    sender: Sender,
    /// The last line that was cut before it was gone on with.
    before: Option<u32>,
    /// How far it has come.
    pub reached: Reached,
    /// Motion and hold, kept apart.
    pub watch: Stopwatch,
    /// What went wrong in sending, if anything did.
    pub unsendable: Option<String>,
}

impl Feeding {
    /// Begins. `before` is the last line that was cut before, where it is gone on with.
    #[must_use]
    pub fn begin(operation: u8, bytes: Vec<u8>, sender: Sender, before: Option<u32>, now: Tick) -> Self {
        Self {
            operation,
            bytes,
            at: 0,
            finished: false,
            sender,
            before,
            reached: Reached { done: before, ..Reached::default() },
            watch: Stopwatch::start(now),
            unsendable: None,
        }
    }

    /// It has come so far.
    pub fn came(&mut self, at: Reached) -> Reached {
        self.reached = Reached { done: at.done.or(self.before), ..at };
        self.reached
    }

    /// The next lines, about so many bytes of them, and whether there are no more.
    pub fn next(&mut self, wanted: usize) -> (Vec<SentLine>, bool) {
        let mut lines = Vec::new();
        let mut bytes = 0;
        while bytes < wanted {
            if let Some(line) = self.sender.next_line() {
                bytes += line.bytes.len() + 1;
                lines.push(line);
            } else if self.at < self.bytes.len() {
                let end = (self.at + CHUNK).min(self.bytes.len());
                self.sender.push(self.bytes.get(self.at..end).unwrap_or_default());
                self.at = end;
            } else if !self.finished {
                self.sender.finish();
                self.finished = true;
            } else {
                break;
            }
        }
        if let Some(why) = self.sender.cannot_enter() {
            self.unsendable = Some(why.to_string());
        }
        if let Some(fault) = self.sender.faults().first() {
            self.unsendable = Some(format!("line {}: {}", fault.place.line, fault.rule));
        }
        (lines, self.finished && bytes < wanted)
    }
}
