//! The index: the folded state kept in sled, so that opening a store with years in it need not fold them again. It
//! can be thrown away at any time; the journal is the truth.
//!
//! The only way any code here commits: change, `flush`, then our own `fdatasync` on sled's data file, since sled's
//! flush alone does not survive a power cut. Every call runs inside `catch_unwind`: sled can panic on a damaged
//! folder. Whatever goes wrong costs the index, never an event.
//!
//! May live here: opening, loading, committing, throwing away. May not: an answer that cannot be had from the fold.

mod records;

use super::fault::LedgerFault;
use super::fold::{FOLD_VERSION, State};
use super::folder;
use chargehand_types::event::Event;
use chargehand_types::id::Seq;
use records::{Change, KINDS, Kind, check};
use serde::{Deserialize, Serialize};
use sled::transaction::{ConflictableTransactionError, TransactionError, TransactionalTree};
use sled::{Config, Db, IVec, Mode, Transactional, Tree};
use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Memory sled may use for its cache, about.
const CACHE_BYTES: u64 = 16 * 1024 * 1024;
/// Sled's own background sync stays on as a second net.
const SLED_FLUSH_MS: u64 = 500;
/// Changes written at a time while building anew.
const BUILD_STEP: usize = 2_000;
const META_TREE: &[u8] = b"meta";
const META_KEY: &[u8] = b"meta";

/// To which point of which journal the index goes, and the sum of its records' checksums.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Meta {
    fold: u32,
    journal: String,
    seq: Seq,
    crc: u32,
    sum: u64,
}

/// A place in a journal: which journal, which event, and the checksum of its record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The journal's name.
    pub journal: String,
    /// The last event.
    pub seq: Seq,
    /// Its record's checksum; 0 when there is no event yet.
    pub crc: u32,
}

/// The open index.
pub struct Index {
    db: Db,
    trees: Vec<Tree>,
    data: File,
    meta: Option<Meta>,
}

/// Why an index is of no use.
#[derive(Debug, thiserror::Error)]
pub enum IndexFault {
    /// The database said so.
    #[error("{0}")]
    Sled(#[from] sled::Error),
    /// The database panicked.
    #[error("it is damaged: {0}")]
    Panicked(String),
    /// The disk said so.
    #[error("{0}")]
    Disk(#[from] LedgerFault),
    /// The disk said so, under sled.
    #[error("{0}")]
    Io(#[from] std::io::Error),
    /// A record in it is not what was written.
    #[error("it is damaged: {0}")]
    Damaged(&'static str),
    /// It cannot be read as this build writes it.
    #[error("it is not understood: {0}")]
    NotUnderstood(#[from] serde_json::Error),
}

/// How often a lock that is still on the index is waited for, each time longer, up to so long: two seconds in all.
const LET_GO_TRIES: u32 = 90;
const LET_GO_WAIT: Duration = Duration::from_millis(25);

/// What an index had to say when it was opened.
pub enum Loaded {
    /// The state up to a point; the journal agrees with that point.
    State(Box<State>),
    /// There is nothing in it yet.
    Empty,
    /// It must be built anew, for this reason.
    Unfit(&'static str),
}

impl Index {
    /// Opens the index and reads it whole. `known` answers the checksum of an event's record in the journal.
    ///
    /// # Errors
    /// When it is damaged or the disk does not let us; throw it away then.
    pub fn open(dir: &Path, journal: &str, known: impl Fn(Seq) -> Option<u32>) -> Result<(Self, Loaded), IndexFault> {
        guarded(|| {
            let mut index = Self::open_files(dir)?;
            let loaded = index.load(journal, &known)?;
            Ok((index, loaded))
        })
    }

    /// The store's own lock keeps every other daemon out, so a lock that is still on the index is our own last one: sled
    /// lets go of it when its threads have ended, a moment after it was closed.
    #[allow(clippy::disallowed_methods, reason = "waits for a thread of sled's that nobody can join")]
    fn open_when_let_go(dir: &Path) -> Result<sled::Db, sled::Error> {
        let config = Config::new()
            .path(dir)
            .mode(Mode::LowSpace)
            .cache_capacity(CACHE_BYTES)
            .flush_every_ms(Some(SLED_FLUSH_MS));
        let mut tries = 0;
        loop {
            match config.open() {
                Err(fault) if tries < LET_GO_TRIES && fault.to_string().contains("could not acquire lock") => {
                    tries += 1;
                    std::thread::sleep(LET_GO_WAIT.min(Duration::from_millis(u64::from(tries))));
                }
                opened => return opened,
            }
        }
    }

    fn open_files(dir: &Path) -> Result<Self, IndexFault> {
        let db = Self::open_when_let_go(dir)?;
        let mut trees = Vec::with_capacity(KINDS.len() + 1);
        for kind in KINDS {
            trees.push(db.open_tree(kind.tree())?);
        }
        trees.push(db.open_tree(META_TREE)?);
        for entry in std::fs::read_dir(dir)? {
            let entry = entry?;
            if entry.file_type()?.is_file() {
                folder::open(&entry.path())?.sync_all()?;
            }
        }
        folder::sync(dir)?;
        if let Some(above) = dir.parent() {
            folder::sync(above)?;
        }
        let data = folder::open(&dir.join("db"))?;
        Ok(Self { db, trees, data, meta: None })
    }

    fn load(&mut self, journal: &str, known: &impl Fn(Seq) -> Option<u32>) -> Result<Loaded, IndexFault> {
        let Some(bytes) = self.meta_tree()?.get(META_KEY)? else {
            let empty = self.trees.iter().all(Tree::is_empty);
            return Ok(if empty { Loaded::Empty } else { Loaded::Unfit("its building was not finished") });
        };
        let meta: Meta = serde_json::from_slice(&bytes)?;
        if meta.fold != FOLD_VERSION {
            return Ok(Loaded::Unfit("another version of Chargehand wrote it"));
        }
        if meta.journal != journal {
            return Ok(Loaded::Unfit("it belongs to another journal"));
        }
        let crc = if meta.seq == Seq(0) { Some(0) } else { known(meta.seq) };
        match crc {
            None => return Ok(Loaded::Unfit("it is ahead of the journal")),
            Some(crc) if crc != meta.crc => return Ok(Loaded::Unfit("it is unlike the journal")),
            Some(_) => {}
        }
        let state = self.read_state(&meta)?;
        self.meta = Some(meta);
        Ok(Loaded::State(Box::new(state)))
    }

    fn read_state(&self, meta: &Meta) -> Result<State, IndexFault> {
        let mut state = State::default();
        let mut sum = 0_u64;
        for (kind, tree) in KINDS.into_iter().zip(&self.trees) {
            let mut joined = records::Joined::default();
            for pair in tree.iter() {
                let (key, value) = pair?;
                sum = sum.wrapping_add(u64::from(check(&key, &value)));
                joined.add(&key, &value)?;
            }
            if kind == Kind::Sheets {
                records::read_sheets(&mut state, &joined.values().collect::<Vec<_>>())?;
            } else {
                joined.values().try_for_each(|value| kind.read(&mut state, value))?;
            }
        }
        if sum != meta.sum {
            return Err(IndexFault::Damaged("its records do not add up"));
        }
        if state.seq() != meta.seq {
            return Err(IndexFault::Damaged("its state and its mark are not of the same event"));
        }
        Ok(state)
    }

    /// Brings the index from where it stands to `state`, which is its own state with `events` folded in. What it
    /// changes and the mark of how far it goes are one transaction.
    ///
    /// # Errors
    /// When the database or the disk says so; throw the index away then.
    pub fn commit(&mut self, state: &State, events: &[Event], mark: &Mark) -> Result<(), IndexFault> {
        guarded(|| {
            let changes = Change::after(state, events, &self.outlived(state)?)?;
            let sum = self.meta.as_ref().map_or(0, |m| m.sum);
            let meta = self.trees.as_slice().transaction(|trees| transact(trees, &changes, mark, sum)).map_err(told)?;
            self.sync()?;
            self.meta = Some(meta);
            Ok(())
        })
    }

    /// Writes the whole state into an empty index; the mark comes last, so a building cut short is noticed.
    ///
    /// # Errors
    /// When the database or the disk says so; throw the index away then.
    pub fn build(&mut self, state: &State, mark: &Mark) -> Result<(), IndexFault> {
        guarded(|| {
            let mut sum = 0_u64;
            for (nth, change) in Change::all(state)?.into_iter().enumerate() {
                let tree = self.tree(change.kind)?;
                for (key, value) in change.records() {
                    sum = sum.wrapping_add(u64::from(check(&key, &value)));
                    tree.insert(key, value)?;
                }
                if nth % BUILD_STEP == BUILD_STEP - 1 {
                    self.sync()?;
                }
            }
            self.sync()?;
            let meta = Meta::at(mark, sum);
            self.meta_tree()?.insert(META_KEY, serde_json::to_vec(&meta)?)?;
            self.sync()?;
            self.meta = Some(meta);
            Ok(())
        })
    }

    /// Commands kept here that the state no longer remembers.
    fn outlived(&self, state: &State) -> Result<Vec<Seq>, IndexFault> {
        let oldest = state.answered.oldest();
        let mut gone = Vec::new();
        for pair in self.tree(Kind::Answered)?.iter() {
            match (records::seq_of(&pair?.0), oldest) {
                (Some(seq), Some(oldest)) if seq < oldest => gone.push(seq),
                (Some(_) | None, Some(_) | None) => break,
            }
        }
        Ok(gone)
    }

    /// What was written is on the disk after this.
    fn sync(&self) -> Result<(), IndexFault> {
        self.db.flush()?;
        self.data.sync_data()?;
        Ok(())
    }

    fn tree(&self, kind: Kind) -> Result<&Tree, IndexFault> {
        self.trees.get(kind.place()).ok_or(IndexFault::Damaged("a tree is missing"))
    }

    fn meta_tree(&self) -> Result<&Tree, IndexFault> {
        self.trees.get(KINDS.len()).ok_or(IndexFault::Damaged("a tree is missing"))
    }
}

impl Meta {
    fn at(mark: &Mark, sum: u64) -> Self {
        let Mark { journal, seq, crc } = mark.clone();
        Self { fold: FOLD_VERSION, journal, seq, crc, sum }
    }
}

type Aborted = ConflictableTransactionError<IndexFault>;

/// One transaction over every tree; it may be run several times and keeps nothing outside.
fn transact(trees: &[TransactionalTree], changes: &[Change], mark: &Mark, mut sum: u64) -> Result<Meta, Aborted> {
    let missing = || Aborted::Abort(IndexFault::Damaged("a tree is missing"));
    let take = |sum: &mut u64, key: &[u8], old: Option<IVec>| {
        if let Some(old) = &old {
            *sum = sum.wrapping_sub(u64::from(check(key, old)));
        }
        old.is_some()
    };
    for change in changes {
        let tree = trees.get(change.kind.place()).ok_or_else(missing)?;
        let mut next = 0_u16;
        for (key, value) in change.records() {
            sum = sum.wrapping_add(u64::from(check(&key, &value)));
            let old = tree.insert(key.as_slice(), value)?;
            take(&mut sum, &key, old);
            next = next.saturating_add(1);
        }
        // pieces of an earlier, longer value
        loop {
            let key = records::key(&change.id, next);
            let old = tree.remove(key.as_slice())?;
            if !take(&mut sum, &key, old) || next == u16::MAX {
                break;
            }
            next = next.saturating_add(1);
        }
    }
    let meta = Meta::at(mark, sum);
    let bytes = serde_json::to_vec(&meta).map_err(|e| Aborted::Abort(e.into()))?;
    trees.get(KINDS.len()).ok_or_else(missing)?.insert(META_KEY, bytes)?;
    Ok(meta)
}

fn told(fault: TransactionError<IndexFault>) -> IndexFault {
    match fault {
        TransactionError::Abort(fault) => fault,
        TransactionError::Storage(fault) => fault.into(),
    }
}

/// Runs a piece of work on sled; a panic becomes a fault.
fn guarded<T>(work: impl FnOnce() -> Result<T, IndexFault>) -> Result<T, IndexFault> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|cause| {
        let text = cause
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| cause.downcast_ref::<&str>().copied())
            .unwrap_or("the database gave up");
        Err(IndexFault::Panicked(text.to_owned()))
    })
}

/// Closes an index. Dropping sled can panic too.
pub fn close(index: Index) {
    // Nothing is lost when it fails: what was committed is synced, and the rest can be built anew.
    let _ = catch_unwind(AssertUnwindSafe(move || drop(index)));
}

/// Moves the folder of a useless index aside, over an earlier one.
///
/// # Errors
/// When the disk does not let us.
pub fn throw_away(dir: &Path) -> Result<PathBuf, LedgerFault> {
    let aside = dir.with_extension("damaged");
    let moved = match std::fs::remove_dir_all(&aside) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e),
        Ok(()) | Err(_) => std::fs::rename(dir, &aside),
    };
    moved.map_err(|e| LedgerFault::io("moving the index aside", dir, &e))?;
    Ok(aside)
}
