//! Reading a journal through from its begin: where every record lies, whether the sequence has a gap, and whether
//! what is wrong at the end is a torn tail or damage.
//!
//! A bad frame is a torn tail only if no whole frame follows it anywhere. An append whose last frames are missing is
//! torn as a whole.
//!
//! May live here: that judgement. May not: changing anything.

use super::fault::LedgerFault;
use super::frame::{self, FORMAT, HEAD, Head, MAGIC, NoFrame};
use super::pages::Pages;
use memchr::memmem;
use std::io;

/// Bytes read at a time.
const WINDOW: usize = 1024 * 1024;

/// Where a record lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// From the begin of the file.
    pub offset: u64,
    /// Its checksum, by which a record is told from another of the same sequence.
    pub crc: u32,
}

/// What lies in a journal.
#[derive(Debug)]
pub struct Scanned {
    /// The payload of the header, record 0.
    pub header: Vec<u8>,
    /// Records 1, 2, 3 …
    pub places: Vec<Place>,
    /// Where the last whole append ends.
    pub end: u64,
    /// Why the bytes after `end` do not count, if there are any.
    pub torn: Option<NoFrame>,
}

/// What is known of a journal's begin without reading it: sealed stretches carry their own tables.
#[derive(Debug, Default)]
pub struct Known {
    /// Records 1, 2, 3 …
    pub places: Vec<Place>,
    /// Where the first record begins that is not among them; 0 when none is known.
    pub end: u64,
}

/// Reads a journal through.
///
/// # Errors
/// When it is damaged, newer, or cannot be read.
pub fn scan<P: Pages>(pages: &P) -> Result<Scanned, LedgerFault> {
    scan_beyond(pages, Known::default())
}

/// Reads a journal through from where it is not known any more.
///
/// # Errors
/// When it is damaged, newer, or cannot be read.
pub fn scan_beyond<P: Pages>(pages: &P, known: Known) -> Result<Scanned, LedgerFault> {
    let mut reader = Reader::new(pages)?;
    let header = match reader.frame(0)? {
        Ok((head, payload)) => {
            expect(pages, 0, &head, 0)?;
            payload.to_vec()
        }
        Err(why) => {
            return Err(damaged(pages, 0, format!("its header cannot be read: {why}")));
        }
    };
    let end = known.end.max((HEAD + header.len()) as u64);
    let mut scanned = Scanned { end, header, places: known.places, torn: None };
    let mut at = scanned.end;
    let mut append = Vec::new();
    while at < reader.length {
        let head = match reader.frame(at)? {
            Ok((head, _)) => head,
            Err(why) => {
                refuse_if_more_follows(pages, &mut reader, at, why)?;
                scanned.torn = Some(why);
                return Ok(scanned);
            }
        };
        let sequence = (scanned.places.len() + append.len() + 1) as u64;
        expect(pages, at, &head, sequence)?;
        expect_rest(pages, at, &head, &append)?;
        append.push((Place { offset: at, crc: head.crc }, head.rest));
        at = at.saturating_add((HEAD + head.length) as u64);
        if head.rest == 0 {
            scanned.places.extend(append.drain(..).map(|(place, _)| place));
            scanned.end = at;
        }
    }
    if !append.is_empty() {
        scanned.torn = Some(NoFrame::Short);
    }
    Ok(scanned)
}

fn expect<P: Pages>(pages: &P, at: u64, head: &Head, sequence: u64) -> Result<(), LedgerFault> {
    if head.format > FORMAT {
        return Err(LedgerFault::Newer {
            what: format!("a record of the journal {}", pages.path().display()),
            found: u64::from(head.format),
            known: u64::from(FORMAT),
        });
    }
    if head.sequence != sequence {
        let what = format!("record {sequence} should be here, record {} is", head.sequence);
        return Err(damaged(pages, at, what));
    }
    Ok(())
}

/// Within one append the count of following frames goes down by one.
fn expect_rest<P: Pages>(pages: &P, at: u64, head: &Head, append: &[(Place, u16)]) -> Result<(), LedgerFault> {
    match append.last() {
        Some((_, before)) if before.checked_sub(1) != Some(head.rest) => {
            Err(damaged(pages, at, "records of one append do not belong together".to_owned()))
        }
        Some(_) | None => Ok(()),
    }
}

/// Whole frames after a bad one mean that something in the middle was harmed: nothing may be cut off then.
fn refuse_if_more_follows<P: Pages>(
    pages: &P,
    reader: &mut Reader<'_, P>,
    bad: u64,
    why: NoFrame,
) -> Result<(), LedgerFault> {
    match next_whole(reader, bad.saturating_add(1))? {
        None => Ok(()),
        Some((at, sequence)) => {
            Err(damaged(pages, bad, format!("{why}, yet record {sequence} follows whole at byte {at}")))
        }
    }
}

/// The next whole frame at or after a place: where it is, and its sequence.
pub(super) fn next_whole<P: Pages>(
    reader: &mut Reader<'_, P>,
    mut from: u64,
) -> Result<Option<(u64, u64)>, LedgerFault> {
    while let Some(at) = reader.find_magic(from)? {
        if let Ok((head, _)) = reader.frame(at)? {
            return Ok(Some((at, head.sequence)));
        }
        from = at.saturating_add(1);
    }
    Ok(None)
}

pub(super) fn damaged<P: Pages>(pages: &P, offset: u64, what: String) -> LedgerFault {
    LedgerFault::Damaged { file: pages.path().display().to_string(), offset, what }
}

/// Reads frames through a window of the file.
pub(super) struct Reader<'a, P> {
    pages: &'a P,
    pub(super) length: u64,
    start: u64,
    window: Vec<u8>,
}

impl<'a, P: Pages> Reader<'a, P> {
    pub(super) fn new(pages: &'a P) -> Result<Self, LedgerFault> {
        let length = pages.length().map_err(|e| unreadable(pages, &e))?;
        Ok(Self { pages, length, start: 0, window: Vec::new() })
    }

    /// The frame at a place.
    pub(super) fn frame(&mut self, at: u64) -> Result<Result<(Head, &[u8]), NoFrame>, LedgerFault> {
        let wanted = match frame::head(self.bytes(at, HEAD)?) {
            Ok(head) => HEAD + head.length,
            Err(why) => return Ok(Err(why)),
        };
        Ok(frame::read(self.bytes(at, wanted)?))
    }

    /// At least `wanted` bytes from a place, or as many as there are.
    fn bytes(&mut self, at: u64, wanted: usize) -> Result<&[u8], LedgerFault> {
        let there = self.length.saturating_sub(at);
        let wanted = usize::try_from(there).map_or(wanted, |there| wanted.min(there));
        let held = at
            .checked_sub(self.start)
            .and_then(|skip| usize::try_from(skip).ok())
            .filter(|skip| skip.saturating_add(wanted) <= self.window.len());
        let skip = match held {
            Some(skip) => skip,
            None => {
                let size = wanted.max(WINDOW);
                let size = usize::try_from(there).map_or(size, |there| size.min(there));
                self.window.resize(size, 0);
                self.start = at;
                self.pages.read(at, &mut self.window).map_err(|e| unreadable(self.pages, &e))?;
                0
            }
        };
        Ok(self.window.get(skip..skip + wanted).unwrap_or_default())
    }

    /// Where the magic stands next, at or after a place.
    fn find_magic(&mut self, mut from: u64) -> Result<Option<u64>, LedgerFault> {
        while from < self.length {
            let bytes = self.bytes(from, WINDOW)?;
            if let Some(found) = memmem::find(bytes, &MAGIC) {
                return Ok(Some(from.saturating_add(found as u64)));
            }
            // the magic may lie across the edge of the window
            let step = bytes.len().saturating_sub(MAGIC.len() - 1).max(1);
            from = from.saturating_add(step as u64);
        }
        Ok(None)
    }
}

pub(super) fn unreadable<P: Pages>(pages: &P, error: &io::Error) -> LedgerFault {
    if error.kind() == io::ErrorKind::InvalidData {
        return damaged(pages, 0, error.to_string());
    }
    LedgerFault::io("reading the journal", pages.path(), error)
}
