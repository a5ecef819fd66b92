//! The store folder as one thing: lock, journal, shelf, progress file, index. Only the store thread has it.
//!
//! May live here: the order in which they are opened, used and closed. May not: formats, threads.

use super::backup::Snapshot;
use super::draft::Draft;
use super::fault::LedgerFault;
use super::fold::State;
use super::folder;
use super::index::{self, Index, IndexFault, Loaded, Mark};
use super::journal::{self, Header, Journal, READ_MOST};
use super::lock::StoreLock;
use super::pages::FilePages;
use super::progress::{Progress, ProgressFile};
use super::restore;
use super::shelf::Shelf;
use super::thread::Opening;
use chargehand_types::event::Event;
use chargehand_types::id::Seq;
use std::io;
use std::path::{Path, PathBuf};

/// Bytes of the journal that are packed away at the end of the daemon's day; on opening only a multiple of it is, which
/// a day that ended by itself never leaves.
const SEAL_AT: u64 = 8 * 1024 * 1024;
const SEAL_ON_OPENING: u64 = 4 * SEAL_AT;

/// The open store.
pub(super) struct Store {
    dir: PathBuf,
    journal: Journal<FilePages>,
    shelf: Shelf,
    progress: ProgressFile,
    index: Option<Index>,
    index_dir: PathBuf,
    state: State,
    /// Events folded into `state` but not yet in the index.
    behind: Vec<Event>,
    _lock: StoreLock,
}

impl Store {
    /// Opens a store, making it when there is none.
    pub(super) fn open(dir: &Path) -> Result<(Self, Opening), LedgerFault> {
        folder::make(dir)?;
        let lock = StoreLock::take(dir)?;
        if dir.join(restore::UNDER_WAY).exists() {
            return Err(LedgerFault::HalfRestored { dir: dir.display().to_string() });
        }
        let (mut journal, mut words) = open_journal(dir)?;
        if journal.unsealed() >= SEAL_ON_OPENING
            && let Err(fault) = journal.seal()
        {
            words.push(format!("The journal could not be packed away, and is kept as it is: {fault}"));
            (journal, _) = open_journal(dir)?;
        }
        let shelf = Shelf::open(&dir.join("programs"))?;
        let progress_path = dir.join("progress");
        let (progress, last) = ProgressFile::open(&progress_path)
            .map_err(|e| LedgerFault::io("opening the progress file", &progress_path, &e))?;
        let index_dir = dir.join("index");
        let (index, state) = open_index(&index_dir, &journal, &mut words)?;
        let opening = Opening { state: state.clone(), progress: last, words };
        let behind = Vec::new();
        let store =
            Self { dir: dir.to_owned(), journal, shelf, progress, index, index_dir, state, behind, _lock: lock };
        Ok((store, opening))
    }

    pub(super) fn append(&mut self, drafts: Vec<Draft>) -> Result<Vec<Event>, LedgerFault> {
        self.journal.append(drafts)
    }

    /// Folds appended events, after their answer was given.
    pub(super) fn fold(&mut self, events: Vec<Event>) {
        for event in &events {
            self.state.apply(event);
        }
        if self.index.is_some() {
            self.behind.extend(events);
        }
    }

    pub(super) fn put_program(&self, bytes: &[u8]) -> Result<String, LedgerFault> {
        self.shelf.put(bytes)
    }

    pub(super) fn program(&self, sha256: &str) -> Result<Vec<u8>, LedgerFault> {
        self.shelf.get(sha256)
    }

    pub(super) fn events_after(&self, seq: Seq, limit: usize) -> Result<Vec<Event>, LedgerFault> {
        self.journal.events_after(seq, limit)
    }

    /// How far the store goes now.
    pub(super) fn snapshot(&self) -> Snapshot {
        Snapshot {
            journal: self.dir.join("journal"),
            programs: self.dir.join("programs"),
            name: self.journal.name().to_owned(),
            last: self.journal.last(),
            end: self.journal.end(),
        }
    }

    pub(super) fn note_progress(&mut self, progress: &Progress) {
        if let Err(e) = self.progress.write(progress) {
            tracing::warn!("how far the cut has come could not be noted: {e}");
        }
    }

    /// Events the index lags behind.
    pub(super) const fn lag(&self) -> usize {
        self.behind.len()
    }

    /// Brings the index up to date. A failure costs the index until the next start, nothing else.
    pub(super) fn bring_index_up(&mut self) {
        let events = std::mem::take(&mut self.behind);
        let Some(mut index) = self.index.take() else {
            return;
        };
        match index.commit(&self.state, &events, &mark(&self.journal, self.state.seq())) {
            Ok(()) => self.index = Some(index),
            Err(fault) => {
                tracing::warn!("the index is given up until the next start: {fault}");
                index::close(index);
                if let Err(fault) = index::throw_away(&self.index_dir) {
                    tracing::warn!("{fault}");
                }
            }
        }
    }

    /// Brings the index up to date and gives everything back, the lock last.
    pub(super) fn close(mut self) {
        if self.lag() > 0 {
            self.bring_index_up();
        }
        if let Some(index) = self.index.take() {
            index::close(index);
        }
        if self.journal.unsealed() >= SEAL_AT
            && let Err(fault) = self.journal.seal()
        {
            tracing::warn!("the journal could not be packed away, and is kept as it is: {fault}");
        }
    }
}

fn mark(journal: &Journal<FilePages>, seq: Seq) -> Mark {
    let crc = journal.crc(seq).unwrap_or_default();
    Mark { journal: journal.name().to_owned(), seq, crc }
}

fn open_journal(dir: &Path) -> Result<(Journal<FilePages>, Vec<String>), LedgerFault> {
    let path = dir.join("journal");
    match path.try_exists() {
        Ok(true) => {}
        Ok(false) => {
            refuse_if_used(dir, &path)?;
            journal::create(&path, &new_header(dir)?)?;
        }
        Err(e) => return Err(LedgerFault::io("looking for the journal", &path, &e)),
    }
    let pages = FilePages::open(&path).map_err(|e| match e.kind() {
        io::ErrorKind::InvalidData => {
            LedgerFault::Damaged { file: path.display().to_string(), offset: 0, what: e.to_string() }
        }
        _ => LedgerFault::io("opening the journal", &path, &e),
    })?;
    Journal::open(pages)
}

/// A store that was used has a journal. An empty one in its place would look as if nothing had ever happened.
fn refuse_if_used(dir: &Path, journal: &Path) -> Result<(), LedgerFault> {
    if ["index", "programs", "sealed"].into_iter().any(|name| dir.join(name).exists()) {
        let file = journal.display().to_string();
        let what = "the file is missing, though the store was used before".to_owned();
        return Err(LedgerFault::Damaged { file, offset: 0, what });
    }
    Ok(())
}

/// A header with a name by chance.
pub(super) fn new_header(dir: &Path) -> Result<Header, LedgerFault> {
    let mut chance = [0_u8; 6];
    #[allow(clippy::disallowed_methods, reason = "a journal's name comes from chance, once in its life")]
    getrandom::fill(&mut chance).map_err(|e| LedgerFault::io("naming the journal", dir, &std::io::Error::other(e)))?;
    Ok(Header {
        journal: chance.iter().map(|b| format!("{b:02x}")).collect(),
        made_by: concat!("chargehand ", env!("CARGO_PKG_VERSION")).to_owned(),
    })
}

/// The state: the index's own with what the journal has beyond it, or the fold of the whole journal.
fn open_index(
    dir: &Path,
    journal: &Journal<FilePages>,
    words: &mut Vec<String>,
) -> Result<(Option<Index>, State), LedgerFault> {
    let (index, state, unfit) = match Index::open(dir, journal.name(), |seq| journal.crc(seq)) {
        Ok((index, Loaded::State(state))) => return catch_up(index, *state, journal, words),
        Ok((index, Loaded::Empty)) => {
            let state = folded(journal)?;
            let missing = (state.seq() > Seq(0)).then(|| "it was missing".to_owned());
            (Ok(index), state, missing)
        }
        Ok((index, Loaded::Unfit(why))) => {
            index::close(index);
            (anew(dir, journal), folded(journal)?, Some(why.to_owned()))
        }
        Err(fault) => (anew(dir, journal), folded(journal)?, Some(fault.to_string())),
    };
    let built = index.and_then(|mut index| {
        index.build(&state, &mark(journal, state.seq()))?;
        Ok(index)
    });
    match built {
        Ok(index) => {
            let word = |why| format!("The index was built anew from the journal: {why}.");
            words.extend(unfit.map(word));
            Ok((Some(index), state))
        }
        Err(fault) => {
            words.push(without_index(&fault));
            Ok((None, state))
        }
    }
}

/// Moves a useless index aside and opens an empty one in its place.
fn anew(dir: &Path, journal: &Journal<FilePages>) -> Result<Index, IndexFault> {
    if dir.exists() {
        index::throw_away(dir)?;
    }
    Index::open(dir, journal.name(), |seq| journal.crc(seq)).map(|(index, _)| index)
}

/// Folds what the journal has beyond the index, into both.
fn catch_up(
    index: Index,
    mut state: State,
    journal: &Journal<FilePages>,
    words: &mut Vec<String>,
) -> Result<(Option<Index>, State), LedgerFault> {
    let mut index = Some(index);
    loop {
        let events = journal.events_after(state.seq(), READ_MOST)?;
        if events.is_empty() {
            return Ok((index, state));
        }
        for event in &events {
            state.apply(event);
        }
        if let Some(mut open) = index.take() {
            match open.commit(&state, &events, &mark(journal, state.seq())) {
                Ok(()) => index = Some(open),
                Err(fault) => {
                    index::close(open);
                    words.push(without_index(&fault));
                }
            }
        }
    }
}

fn without_index(fault: &IndexFault) -> String {
    format!("The store works without its index until the next start: {fault}. Nothing is lost.")
}

fn folded(journal: &Journal<FilePages>) -> Result<State, LedgerFault> {
    let mut state = State::default();
    loop {
        let events = journal.events_after(state.seq(), READ_MOST)?;
        if events.is_empty() {
            return Ok(state);
        }
        for event in &events {
            state.apply(event);
        }
    }
}
