//! A backup of a store in use: the journal up to the last whole append, and every program its records name. The journal
//! only grows at its end, so it is read beside the store thread, which goes on meanwhile.
//!
//! The index, the progress of a cut and torn tails are not in it: the first is built anew, the others tell of one moment.
//!
//! May live here: reading a store into a backup. May not: the format of one (`chargehand_types::backup`).

use super::fault::LedgerFault;
use super::frame::HEAD;
use super::journal::event_of;
use super::pages::{FilePages, Pages};
use super::scan::{self, Reader};
use super::shelf::Shelf;
use chargehand_types::backup::{CONTENT_MOST, Head, Writing};
use chargehand_types::event::What;
use chargehand_types::id::Seq;
use memchr::memmem;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// How the kind of an event that names programs is written.
const NAMES_PROGRAMS: &[u8] = b"card.added";

/// How far a store goes at one moment. What it covers never changes any more.
#[derive(Debug, Clone)]
pub struct Snapshot {
    pub(super) journal: PathBuf,
    pub(super) programs: PathBuf,
    pub(super) name: String,
    pub(super) last: Seq,
    pub(super) end: u64,
}

/// A snapshot that was read through, record by record.
pub struct Sound {
    snapshot: Snapshot,
    pages: FilePages,
    /// By hash; what each is to a person.
    programs: BTreeMap<String, String>,
}

impl Snapshot {
    /// Reads every record and checks it, before the first byte is given out.
    ///
    /// # Errors
    /// When the journal is no longer what was written, or cannot be read.
    pub fn look_through(self) -> Result<Sound, LedgerFault> {
        let pages = FilePages::to_read(&self.journal, self.end)
            .map_err(|e| LedgerFault::io("reading the journal", &self.journal, &e))?;
        let mut reader = Reader::new(&pages)?;
        let mut programs = BTreeMap::new();
        let (mut at, mut sequence) = (0, 0);
        while at < self.end {
            let (head, payload) = match reader.frame(at)? {
                Ok((head, payload)) if head.sequence == sequence => (head, payload),
                Ok((head, _)) => {
                    let what = format!("record {sequence} should be here, record {} is", head.sequence);
                    return Err(scan::damaged(&pages, at, what));
                }
                Err(why) => return Err(scan::damaged(&pages, at, format!("record {sequence}: {why}"))),
            };
            if memmem::find(payload, NAMES_PROGRAMS).is_some()
                && let Ok(event) = event_of(payload)
                && let What::CardAdded { name, programs: named, .. } = event.what
            {
                programs.extend(named.into_iter().map(|p| (p.sha256, format!("{} of card {name}", p.path))));
            }
            at = at.saturating_add((HEAD + head.length) as u64);
            sequence += 1;
        }
        Ok(Sound { snapshot: self, pages, programs })
    }
}

impl Sound {
    /// Gives out the backup, piece by piece, until `take` wants no more. A program that the store cannot give is left
    /// out and told at the end.
    ///
    /// # Errors
    /// When the journal cannot be read any more; what was given out is no whole backup then, and says so itself.
    pub fn give(self, mut take: impl FnMut(Vec<u8>) -> bool) -> Result<(), LedgerFault> {
        match self.give_all(&mut take) {
            Ok(Some(end)) => {
                take(end);
                Ok(())
            }
            Ok(None) => Ok(()),
            Err(fault) => {
                take(Writing::broken_off(&fault.to_string()));
                Err(fault)
            }
        }
    }

    /// Everything but the end, which is answered; none when no more was wanted.
    fn give_all(&self, take: &mut impl FnMut(Vec<u8>) -> bool) -> Result<Option<Vec<u8>>, LedgerFault> {
        let Snapshot { name, last, end, .. } = &self.snapshot;
        let made_by = concat!("chargehand ", env!("CARGO_PKG_VERSION")).to_owned();
        let head = Head { journal: name.clone(), last: *last, journal_bytes: *end, made_by };
        let (mut writing, begun) = Writing::begin(&head);
        if !take(begun) {
            return Ok(None);
        }
        let mut at = 0;
        while at < *end {
            let size = usize::try_from(end - at).map_or(CONTENT_MOST, |left| left.min(CONTENT_MOST));
            let mut piece = vec![0; size];
            self.pages.read(at, &mut piece).map_err(|e| scan::unreadable(&self.pages, &e))?;
            if !take(writing.journal(&piece)) {
                return Ok(None);
            }
            at = at.saturating_add(size as u64);
        }
        let shelf = Shelf::open(&self.snapshot.programs)?;
        let mut left_out = Vec::new();
        for (sha256, what) in &self.programs {
            match shelf.get(sha256) {
                Ok(bytes) if !take(writing.program(sha256, &bytes)) => return Ok(None),
                Ok(_) => {}
                Err(fault) => left_out.push(format!("The program {what}: {fault}.")),
            }
        }
        Ok(Some(writing.end(left_out)))
    }
}
