//! Feeding: the program's bytes through `sending`, a few windows ahead of the link.

use super::stopwatch::Stopwatch;
use super::work::JudgedCard;
use crate::link::wire::Reached;
use crate::sending::{Sender, SentLine};
use chargehand_types::quantity::Tick;
use std::sync::Arc;

/// Bytes of program text read at a time.
const CHUNK: usize = 16 * 1024;

/// An operation being streamed.
pub struct Feeding {
    /// Its place in the order of cutting.
    pub operation: u8,
    /// The card that holds the program: its bytes are not copied.
    judged: Arc<JudgedCard>,
    /// Which of its programs.
    program: String,
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
    /// Begins with a program of a card. `before` is the last line that was cut before, where it is gone on with.
    #[must_use]
    pub fn begin(
        operation: u8,
        (judged, program): (Arc<JudgedCard>, String),
        sender: Sender,
        before: Option<u32>,
        now: Tick,
    ) -> Self {
        Self {
            operation,
            judged,
            program,
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
        let text = self.judged.programs.get(&self.program).map(Vec::as_slice).unwrap_or_default();
        while bytes < wanted {
            if let Some(line) = self.sender.next_line() {
                bytes += line.bytes.len() + 1;
                lines.push(line);
            } else if self.at < text.len() {
                let end = (self.at + CHUNK).min(text.len());
                self.sender.push(text.get(self.at..end).unwrap_or_default());
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
