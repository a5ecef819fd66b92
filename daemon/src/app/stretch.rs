//! Feeding: the program's bytes through `sending`, a few windows ahead of the link.

use super::stopwatch::Stopwatch;
use crate::link::wire::Reached;
use crate::program::motion::Start;
use crate::sending::{Sender, SentLine};
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Tick};

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
    /// How far it has come.
    pub reached: Reached,
    /// Motion and hold, kept apart.
    pub watch: Stopwatch,
    /// What went wrong in sending, if anything did.
    pub unsendable: Option<String>,
}

impl Feeding {
    /// From the program's first line.
    #[must_use]
    pub fn begin(
        operation: u8,
        bytes: Vec<u8>,
        start: Start,
        understands: Understands,
        face: Length,
        now: Tick,
    ) -> Self {
        Self {
            operation,
            bytes,
            at: 0,
            finished: false,
            sender: Sender::new(start, understands, face),
            reached: Reached::default(),
            watch: Stopwatch::start(now),
            unsendable: None,
        }
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
        if let Some(fault) = self.sender.faults().first() {
            self.unsendable = Some(format!("line {}: {}", fault.place.line, fault.rule));
        }
        (lines, self.finished && bytes < wanted)
    }
}
