//! Feeding: the program's bytes through `sending`, a few windows ahead of the link. A long program is read from its file
//! as it goes and is never held as a whole.

use super::stopwatch::Stopwatch;
use super::work::JudgedCard;
use crate::link::wire::Reached;
use crate::sending::{Sender, SentLine};
use chargehand_types::quantity::Tick;
use std::fs::File;
use std::io::{ErrorKind, Read as _};
use std::sync::Arc;

/// Bytes of program text read at a time.
const CHUNK: usize = 16 * 1024;

/// Where the bytes of a program come from.
pub enum Text {
    /// A card that holds them: they are not copied.
    Held {
        /// The card.
        judged: Arc<JudgedCard>,
        /// Which of its programs.
        program: String,
        /// Bytes taken.
        at: usize,
    },
    /// A file, its whole content known to be what was stored.
    File(File),
}

impl Text {
    /// Hands the next bytes on; false at the end.
    fn next(&mut self, give: impl FnOnce(&[u8])) -> std::io::Result<bool> {
        match self {
            Self::Held { judged, program, at } => {
                let rest = judged.programs.held(program).and_then(|text| text.get(*at..)).unwrap_or_default();
                let piece = rest.get(..CHUNK).unwrap_or(rest);
                *at += piece.len();
                give(piece);
                Ok(!piece.is_empty())
            }
            Self::File(file) => {
                let mut piece = vec![0; CHUNK];
                let read = loop {
                    match file.read(&mut piece) {
                        Err(e) if e.kind() == ErrorKind::Interrupted => {}
                        read => break read?,
                    }
                };
                give(piece.get(..read).unwrap_or_default());
                Ok(read > 0)
            }
        }
    }
}

/// About what a line of a program has, as it is sent.
const BYTES_A_LINE: usize = 14;

/// An operation being streamed.
pub struct Feeding {
    /// Its place in the order of cutting.
    pub operation: u8,
    text: Text,
    ended: bool,
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
    pub fn begin(operation: u8, text: Text, sender: Sender, before: Option<u32>, now: Tick) -> Self {
        Self {
            operation,
            text,
            ended: false,
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
    ///
    /// # Errors
    /// When the program cannot be read on: what was not read is not the end of it.
    pub fn next(&mut self, wanted: usize) -> std::io::Result<(Vec<SentLine>, bool)> {
        let mut lines = Vec::with_capacity(wanted / BYTES_A_LINE);
        let mut bytes = 0;
        while bytes < wanted {
            if let Some(line) = self.sender.next_line() {
                bytes += line.bytes.len() + 1;
                lines.push(line);
            } else if !self.ended {
                let sender = &mut self.sender;
                self.ended = !self.text.next(|piece| sender.push(piece))?;
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
        Ok((lines, self.finished && bytes < wanted))
    }
}
