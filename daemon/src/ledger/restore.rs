//! A backup back into a store. It is read through twice: once to judge it, with nothing written, and once to write it.
//!
//! The store's folder must be empty. The file [`UNDER_WAY`] lies in it until everything is on the disk: a restore that
//! was cut short is not taken for a store, and the next one begins it again.
//!
//! May live here: judging a backup, writing it out. May not: adding to a store that has something in it.

use super::fault::LedgerFault;
use super::folder;
use super::frame::{self, FORMAT, HEAD, NoFrame};
use super::journal::{Header, NoEvent, event_of};
use super::lock::StoreLock;
use super::shelf::Shelf;
use chargehand_types::backup::{BackupFault, Contents, Piece, Reading};
use chargehand_types::event::{EVENT_VERSION, What};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

/// Lies in a store's folder while a backup is being written into it.
pub const UNDER_WAY: &str = "restoring";
/// The journal while it is being written.
const UNFINISHED: &str = ".journal.restored";
/// Bytes read at a time.
const STEP: usize = 256 * 1024;

/// Judges a backup: every byte of it, every record in it, and that every program the records name is there.
///
/// # Errors
/// When it is not whole, damaged, of a newer build, or cannot be read.
pub fn judge(file: &Path) -> Result<Contents, LedgerFault> {
    let mut records = Records::default();
    let mut there = BTreeSet::new();
    let contents = read(file, |piece| {
        match piece {
            Piece::Journal(bytes) => records.take(&bytes, file)?,
            Piece::Program(head) => {
                there.insert(head.sha256);
            }
            Piece::Head(_) | Piece::Bytes(_) | Piece::End(_) => {}
        }
        Ok(())
    })?;
    records.finish(&contents, &there, file)?;
    Ok(contents)
}

/// Writes a backup into the folder of a store that is not there yet or empty.
///
/// # Errors
/// When the backup is not fit ([`judge`]), something is in the folder, a daemon has it, or the disk does not take it.
pub fn restore(file: &Path, into: &Path) -> Result<Contents, LedgerFault> {
    judge(file)?;
    folder::make(into)?;
    let _lock = StoreLock::take(into)?;
    make_empty(into)?;
    folder::write_whole(&into.join(UNDER_WAY), |mark| writeln!(mark, "{}", file.display()))?;
    let contents = write_out(file, into)?;
    let done = into.join(UNDER_WAY);
    std::fs::remove_file(&done).map_err(|e| LedgerFault::io("finishing the restore", &done, &e))?;
    folder::sync(into)?;
    Ok(contents)
}

/// Only what an unfinished restore left may be there, and it is taken away; beside it the lock that was just taken.
fn make_empty(dir: &Path) -> Result<(), LedgerFault> {
    let fault = |e: &io::Error| LedgerFault::io("looking at the store's folder", dir, e);
    let mut there = Vec::new();
    for entry in std::fs::read_dir(dir).map_err(|e| fault(&e))? {
        let name = entry.map_err(|e| fault(&e))?.file_name();
        if name != "lock" {
            there.push(name);
        }
    }
    if there.is_empty() {
        return Ok(());
    }
    if !there.iter().any(|name| name == UNDER_WAY) {
        return Err(LedgerFault::NotEmpty { dir: dir.display().to_string() });
    }
    // the mark goes last
    there.retain(|name| name != UNDER_WAY);
    for name in there {
        let path = dir.join(name);
        let gone = if path.is_dir() { std::fs::remove_dir_all(&path) } else { std::fs::remove_file(&path) };
        gone.map_err(|e| LedgerFault::io("taking away an unfinished restore", &path, &e))?;
    }
    Ok(())
}

fn write_out(file: &Path, into: &Path) -> Result<Contents, LedgerFault> {
    let unfinished = into.join(UNFINISHED);
    let cannot = |e: io::Error| LedgerFault::io("writing the journal", &unfinished, &e);
    let mut journal = folder::new_file(&unfinished).map_err(cannot)?;
    let shelf = Shelf::open(&into.join("programs"))?;
    let mut program: Option<Vec<u8>> = None;
    let contents = read(file, |piece| {
        if let (Piece::Program(_) | Piece::End(_), Some(bytes)) =
            (&piece, program.take_if(|_| !matches!(piece, Piece::Bytes(_))))
        {
            shelf.put(&bytes)?;
        }
        match piece {
            Piece::Head(_) | Piece::End(_) => {}
            Piece::Journal(bytes) => journal.write_all(&bytes).map_err(cannot)?,
            Piece::Program(_) => program = Some(Vec::new()),
            Piece::Bytes(bytes) => program.get_or_insert_default().extend(bytes),
        }
        Ok(())
    })?;
    journal.sync_all().and_then(|()| std::fs::rename(&unfinished, into.join("journal"))).map_err(cannot)?;
    folder::sync(into)?;
    Ok(contents)
}

/// Reads a backup through, each piece once it is checked.
fn read(file: &Path, mut take: impl FnMut(Piece) -> Result<(), LedgerFault>) -> Result<Contents, LedgerFault> {
    let cannot = |e: io::Error| LedgerFault::io("reading the backup", file, &e);
    let mut source: File = folder::open(file).map_err(cannot)?;
    let mut step = vec![0; STEP];
    let mut reading = Reading::default();
    loop {
        let size = source.read(&mut step).map_err(cannot)?;
        if size == 0 {
            return reading.finish().map_err(|e| unfit(file, &e));
        }
        reading.feed(step.get(..size).unwrap_or_default());
        while let Some(piece) = reading.piece().map_err(|e| unfit(file, &e))? {
            take(piece)?;
        }
    }
}

fn unfit(file: &Path, why: &BackupFault) -> LedgerFault {
    LedgerFault::Backup { file: file.display().to_string(), why: why.to_string() }
}

/// The journal in a backup, judged record by record as it comes in.
#[derive(Default)]
struct Records {
    waiting: Vec<u8>,
    /// Where `waiting` begins, in the journal.
    at: u64,
    next: u64,
    /// Records of the same append that must still follow.
    rest: u16,
    /// Programs by hash, and what each is to a person.
    named: BTreeMap<String, String>,
}

impl Records {
    fn take(&mut self, bytes: &[u8], file: &Path) -> Result<(), LedgerFault> {
        self.waiting.extend(bytes);
        let waiting = std::mem::take(&mut self.waiting);
        let mut from = 0;
        loop {
            let left = waiting.get(from..).unwrap_or_default();
            match frame::read(left) {
                Ok((head, payload)) => {
                    self.record(&head, payload).map_err(|why| self.harmed(file, &why))?;
                    from += HEAD + head.length;
                    self.at = self.at.saturating_add((HEAD + head.length) as u64);
                }
                Err(NoFrame::Short) => {
                    self.waiting = left.to_vec();
                    return Ok(());
                }
                Err(why) => return Err(self.harmed(file, &why.to_string())),
            }
        }
    }

    fn record(&mut self, head: &frame::Head, payload: &[u8]) -> Result<(), String> {
        if head.format > FORMAT {
            return Err(format!(
                "its records have format {}, this Chargehand knows formats up to {FORMAT}",
                head.format
            ));
        }
        if head.sequence != self.next {
            return Err(format!("record {} should be here, record {} is", self.next, head.sequence));
        }
        if self.rest > 0 && head.rest != self.rest - 1 {
            return Err("records of one append do not belong together".to_owned());
        }
        (self.rest, self.next) = (head.rest, self.next + 1);
        if head.sequence == 0 {
            return serde_json::from_slice::<Header>(payload)
                .map(|_| ())
                .map_err(|e| format!("its header cannot be read: {e}"));
        }
        let event = event_of(payload).map_err(|why| match why {
            NoEvent::Newer(v) => {
                format!(
                    "record {} is of version {v}, this Chargehand knows versions up to {EVENT_VERSION}",
                    head.sequence
                )
            }
            NoEvent::Unreadable(why) => format!("record {} is not understood: {why}", head.sequence),
        })?;
        if let What::CardAdded { name, programs, .. } = event.what {
            self.named.extend(programs.into_iter().map(|p| (p.sha256, format!("{} of card {name}", p.path))));
        }
        Ok(())
    }

    fn finish(self, contents: &Contents, there: &BTreeSet<String>, file: &Path) -> Result<(), LedgerFault> {
        if !self.waiting.is_empty() || self.rest > 0 || self.next != contents.head.last.0.saturating_add(1) {
            return Err(self.harmed(file, "it ends in the middle of a record, or has another number of them"));
        }
        let missing: Vec<&String> =
            self.named.iter().filter(|(sha, _)| !there.contains(*sha)).map(|(_, w)| w).collect();
        if missing.len() == contents.tail.left_out.len() {
            return Ok(());
        }
        Err(self.harmed(file, &format!("programs are missing that it does not tell of: {missing:?}")))
    }

    fn harmed(&self, file: &Path, why: &str) -> LedgerFault {
        let why = format!("its journal cannot be used, at byte {} of it: {why}", self.at);
        LedgerFault::Backup { file: file.display().to_string(), why }
    }
}
