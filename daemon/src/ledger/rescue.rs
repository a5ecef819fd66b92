//! Saving what can still be read out of a damaged store into a new one. The damaged store is only read.
//!
//! Every whole record is kept, in order, and numbered anew so that the new journal has no gap; ids and versions stay.
//! What could not be read is told, piece by piece.
//!
//! May live here: that one-way trip. May not: mending in place.

use super::fault::LedgerFault;
use super::folder;
use super::frame::{self, HEAD};
use super::journal::{NoEvent, event_of};
use super::lock::StoreLock;
use super::pages::{FilePages, Pages};
use super::scan::{Reader, next_whole};
use super::shelf::Shelf;
use super::store::new_header;
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

/// Pieces told one by one; beyond that only their number is.
const WORDS_MOST: usize = 100;

/// What came of it.
#[derive(Debug, PartialEq, Eq)]
pub struct Rescued {
    /// Records in the new store.
    pub records: u64,
    /// What could not be saved, as sentences.
    pub lost: Vec<String>,
}

/// Saves a damaged store into a new one.
///
/// # Errors
/// When a daemon still uses the damaged one, there is something in the new place, the records are a newer build's,
/// or the disk does not let us.
pub fn rescue(from: &Path, into: &Path) -> Result<Rescued, LedgerFault> {
    let _lock = StoreLock::take(from)?;
    let path = from.join("journal");
    let pages = FilePages::open_what_is_left(&path).map_err(|e| LedgerFault::io("opening the journal", &path, &e))?;
    refuse_if_something_there(into)?;
    let mut saved = Saved::default();
    saved.read(&pages)?;
    folder::make(into)?;
    let mut bytes = new_header(into)?.framed();
    for event in &saved.events {
        let payload = serde_json::to_vec(event).map_err(|e| LedgerFault::Unwritable(e.to_string()))?;
        frame::write(&mut bytes, 0, event.seq.0, &payload);
    }
    folder::write_whole(&into.join("journal"), |file| file.write_all(&bytes))?;
    saved.copy_programs(&Shelf::open(&from.join("programs"))?, &Shelf::open(&into.join("programs"))?)?;
    Ok(Rescued { records: saved.events.len() as u64, lost: saved.told() })
}

fn refuse_if_something_there(into: &Path) -> Result<(), LedgerFault> {
    match std::fs::read_dir(into) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(LedgerFault::io("looking at the new store's folder", into, &e)),
        Ok(mut entries) => match entries.next() {
            None => Ok(()),
            Some(_) => Err(LedgerFault::NotEmpty { dir: into.display().to_string() }),
        },
    }
}

#[derive(Default)]
struct Saved {
    events: Vec<Event>,
    /// Old place to new place.
    places: BTreeMap<Seq, Seq>,
    lost: Vec<String>,
    untold: usize,
}

impl Saved {
    fn read(&mut self, pages: &impl Pages) -> Result<(), LedgerFault> {
        let mut reader = Reader::new(pages)?;
        let mut at = 0;
        while at < reader.length {
            let read = reader.frame(at)?.map(|(head, payload)| (head, event_of(payload)));
            match read {
                Ok((head, event)) => {
                    if head.sequence > 0 {
                        self.take(Seq(head.sequence), event)?;
                    }
                    at = at.saturating_add((HEAD + head.length) as u64);
                }
                Err(why) => {
                    let next = next_whole(&mut reader, at.saturating_add(1))?;
                    let end = next.map_or(reader.length, |(next, _)| next);
                    self.lose(format!("Bytes {at} to {end} of the journal: {why}."));
                    at = end;
                }
            }
        }
        Ok(())
    }

    fn take(&mut self, old: Seq, event: Result<Event, NoEvent>) -> Result<(), LedgerFault> {
        let mut event = match event {
            Ok(event) => event,
            Err(NoEvent::Newer(found)) => {
                return Err(LedgerFault::Newer {
                    what: format!("record {old} of the journal"),
                    found,
                    known: u64::from(chargehand_types::event::EVENT_VERSION),
                });
            }
            Err(NoEvent::Unreadable(why)) => {
                self.lose(format!("Record {old} is not understood: {why}."));
                return Ok(());
            }
        };
        if self.places.contains_key(&old) {
            self.lose(format!("Record {old} is there twice; the first is kept."));
            return Ok(());
        }
        let new = Seq(self.events.len() as u64 + 1);
        if let What::RecordCorrected { seq, .. } = &mut event.what {
            // a correction of a lost record points nowhere
            *seq = self.places.get(seq).copied().unwrap_or_default();
        }
        self.places.insert(old, new);
        event.seq = new;
        self.events.push(event);
        Ok(())
    }

    /// Copies every program the saved records name.
    fn copy_programs(&mut self, from: &Shelf, into: &Shelf) -> Result<(), LedgerFault> {
        let mut named = BTreeMap::new();
        for event in &self.events {
            if let What::CardAdded { name, programs, .. } = &event.what {
                named.extend(programs.iter().map(|p| (p.sha256.clone(), format!("{} of card {name}", p.path))));
            }
        }
        for (sha256, what) in named {
            match from.get(&sha256) {
                Ok(bytes) => {
                    into.put(&bytes)?;
                }
                Err(fault) => self.lose(format!("The program {what}: {fault}.")),
            }
        }
        Ok(())
    }

    fn lose(&mut self, what: String) {
        if self.lost.len() < WORDS_MOST {
            self.lost.push(what);
        } else {
            self.untold += 1;
        }
    }

    fn told(mut self) -> Vec<String> {
        if self.untold > 0 {
            self.lost.push(format!("And {} more.", self.untold));
        }
        self.lost
    }
}
