//! What can go wrong with the store, told as sentences to people.
//!
//! May live here: the one error type of this room and its way to an API problem. May not: anything that does I/O.

use chargehand_types::problem::{Problem, ProblemKind};
use std::io;
use std::path::Path;

/// What went wrong with the store.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LedgerFault {
    /// No room left.
    #[error(
        "the disk that holds the store is full ({path}); nothing more is taken in until there is room and the daemon is started again"
    )]
    Full {
        /// Where.
        path: String,
    },
    /// The system reported an error.
    #[error("{doing} failed at {path}: {error}")]
    Io {
        /// What was being done, as "writing the journal".
        doing: &'static str,
        /// Where.
        path: String,
        /// What the system said.
        error: String,
    },
    /// Another daemon owns the store.
    #[error(
        "another daemon{} already uses the store {dir}; there is one daemon to a store",
        process.map_or_else(String::new, |p| format!(" (process {p})"))
    )]
    Locked {
        /// The store folder.
        dir: String,
        /// Its process, where it said so.
        process: Option<u32>,
    },
    /// What was written is no longer what is there.
    #[error(
        "the store is damaged: {file}, at byte {offset}: {what}; nothing was changed. Keep a copy of the folder, then start chargehand-daemon with --rescue DIR to save every record that can still be read into a new store"
    )]
    Damaged {
        /// Which file.
        file: String,
        /// Where in it.
        offset: u64,
        /// What was found.
        what: String,
    },
    /// Written by a later build.
    #[error(
        "{what} has version {found}, written by a newer Chargehand; this one knows versions up to {known}. Start the newer one; nothing was changed"
    )]
    Newer {
        /// What.
        what: String,
        /// The version found.
        found: u64,
        /// The newest known.
        known: u64,
    },
    /// The folder cannot be written.
    #[error("the store {path} cannot be written: {error}; give the daemon's user the right to write there")]
    ReadOnly {
        /// Where.
        path: String,
        /// What the system said.
        error: String,
    },
    /// A new store is wanted where something is already.
    #[error("{dir} is not empty, and only an empty store is written into: move it aside, or name another folder")]
    NotEmpty {
        /// The folder.
        dir: String,
    },
    /// A backup that cannot be used.
    #[error("the backup {file} cannot be used: {why}")]
    Backup {
        /// The file.
        file: String,
        /// Why.
        why: String,
    },
    /// A restore that was cut short.
    #[error(
        "a backup was being written into the store {dir}, and that was not finished; restore it again, with the same command"
    )]
    HalfRestored {
        /// The store folder.
        dir: String,
    },
    /// One record or one append beyond its limit.
    #[error("{what} has {found}, at most {most} are taken")]
    TooLarge {
        /// What.
        what: &'static str,
        /// How many.
        found: u64,
        /// The limit.
        most: u64,
    },
    /// An event that would not read back as it was.
    #[error("an event cannot be written down: {0}; this is a fault of the program itself")]
    Unwritable(String),
    /// An earlier fault stands.
    #[error("the store takes nothing more since an earlier fault: {0}")]
    Latched(Box<LedgerFault>),
    /// No such program on the shelf.
    #[error("no program with the hash {sha256} is in the store")]
    NoProgram {
        /// Its hash in hex.
        sha256: String,
    },
    /// A program's bytes no longer have its hash.
    #[error(
        "the stored program {sha256} was changed on disk and will not be sent; add the card again from its own files"
    )]
    ProgramDamaged {
        /// Its hash in hex.
        sha256: String,
    },
    /// Too much is waiting to be written.
    #[error("the store has fallen behind: too much is waiting to be written; try again")]
    Busy,
    /// The store thread is gone.
    #[error("the store is closed")]
    Closed,
}

impl LedgerFault {
    /// From an error of the system.
    #[must_use]
    pub fn io(doing: &'static str, path: &Path, error: &io::Error) -> Self {
        let path = path.display().to_string();
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full { path },
            io::ErrorKind::ReadOnlyFilesystem | io::ErrorKind::PermissionDenied => {
                Self::ReadOnly { path, error: error.to_string() }
            }
            _ => Self::Io { doing, path, error: error.to_string() },
        }
    }

    /// The same fault, said once more after it has stood since earlier.
    #[must_use]
    pub fn latched(&self) -> Self {
        match self {
            Self::Latched(_) => self.clone(),
            other => Self::Latched(Box::new(other.clone())),
        }
    }
}

impl From<LedgerFault> for Problem {
    fn from(fault: LedgerFault) -> Self {
        let kind = match &fault {
            LedgerFault::TooLarge { .. } | LedgerFault::NotEmpty { .. } => ProblemKind::BadRequest,
            LedgerFault::Unwritable(_) => ProblemKind::OurFault,
            LedgerFault::NoProgram { .. } => ProblemKind::NotFound,
            LedgerFault::Full { .. }
            | LedgerFault::Backup { .. }
            | LedgerFault::HalfRestored { .. }
            | LedgerFault::Io { .. }
            | LedgerFault::Locked { .. }
            | LedgerFault::Damaged { .. }
            | LedgerFault::Newer { .. }
            | LedgerFault::ReadOnly { .. }
            | LedgerFault::Latched(_)
            | LedgerFault::ProgramDamaged { .. }
            | LedgerFault::Busy
            | LedgerFault::Closed => ProblemKind::MissingOrBusy,
        };
        Self::new(kind, fault.to_string())
    }
}
