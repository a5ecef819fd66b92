//! The practice shop: a daemon on a folder of its own with a simulated machine, two cards and a sheet of each.
//!
//! May live here: laying it out, starting and ending its daemon. May not: anything a real shop could not do itself.

mod daemon;
mod lines;
mod shop;

pub use daemon::{Running, program as daemon_program};
pub use lines::{event_line, summary};
pub use shop::Operator;

use crate::client::{Api, ClientFault, Place};
use crate::walker::{Answers, Plan, Stuck, Told, walk};
use chargehand_types::history::{HistoryQuery, SheetRecord};
use chargehand_types::id::{Person, TerminalId};
use std::io;
use std::path::{Path, PathBuf};

/// Who owns the practice shop, as its config says.
pub const OWNER: &str = "Solveig";
/// Who helps there.
pub const HELPER: &str = "Emrik";

/// Why the practice shop cannot be opened or walked.
#[derive(Debug, thiserror::Error)]
pub enum DemoFault {
    /// Its folder cannot be made or written.
    #[error("the practice shop cannot be laid out in {folder}: {error}")]
    Folder {
        /// Where.
        folder: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// Its daemon's program is not there.
    #[error("the daemon's program cannot be run ({program}: {error}). Build or install it beside this program.", program = program.display())]
    Program {
        /// What was tried.
        program: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// Its daemon ended or never answered.
    #[error("the practice shop's daemon {what}. It said:\n{said}")]
    Daemon {
        /// What became of it.
        what: String,
        /// The end of what it wrote.
        said: String,
    },
    /// It says no.
    #[error(transparent)]
    Client(#[from] ClientFault),
    /// The machine is a real one.
    #[error("hands-free is for the practice machine only, and this is none. Nothing was done.")]
    RealMachine,
    /// The operator by rule cannot go on.
    #[error(transparent)]
    Stuck(#[from] Stuck),
}

impl DemoFault {
    /// The exit code.
    #[must_use]
    pub const fn exit(&self) -> u8 {
        match self {
            Self::Folder { .. } | Self::Program { .. } | Self::Daemon { .. } => crate::exit::MISSING,
            Self::RealMachine => crate::exit::REFUSED,
            Self::Client(fault) => fault.exit(),
            Self::Stuck(stuck) => stuck.exit(),
        }
    }
}

/// An open practice shop.
#[derive(Debug)]
pub struct Practice {
    running: Running,
    api: Api,
    // dropped last: the folder goes when the daemon has ended
    folder: Folder,
}

/// The folder of a practice shop.
#[derive(Debug)]
enum Folder {
    Passing(tempfile::TempDir),
    Kept(PathBuf),
}

impl Folder {
    fn path(&self) -> &Path {
        match self {
            Self::Passing(folder) => folder.path(),
            Self::Kept(path) => path,
        }
    }
}

impl Practice {
    /// Lays out the shop, starts its daemon, adds the cards and one sheet of each. With `keep` the folder stays.
    ///
    /// # Errors
    /// See [`DemoFault`].
    pub async fn open(operator: Operator, keep: Option<PathBuf>) -> Result<Self, DemoFault> {
        let folder = match keep {
            Some(path) => Folder::Kept(path),
            None => Folder::Passing(
                tempfile::Builder::new()
                    .prefix("chargehand-demo-")
                    .tempdir()
                    .map_err(|error| DemoFault::Folder { folder: std::env::temp_dir(), error })?,
            ),
        };
        let at = folder.path().to_owned();
        shop::lay_out(&at, operator).map_err(|error| DemoFault::Folder { folder: at.clone(), error })?;
        let socket = at.join("api.sock");
        let api = Api::new(Place::Socket(socket.clone()), TerminalId("demo".to_owned()))?;
        let running = Running::start(&at, &socket, &api).await?;
        let practice = Self { running, api, folder };
        practice.fill().await?;
        Ok(practice)
    }

    async fn fill(&self) -> Result<(), DemoFault> {
        for card in shop::CARDS {
            self.api.add_card(card.files()).await?;
            self.api.add_batch(card.name.into(), 1, None, None).await?;
        }
        Ok(())
    }

    /// Where its daemon listens.
    #[must_use]
    pub fn place(&self) -> &Place {
        self.api.place()
    }

    /// Its folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Plays the operator's part by rule until every sheet is closed, and answers with their records.
    ///
    /// # Errors
    /// See [`DemoFault`].
    pub async fn hands_free(&self, tell: &mut (dyn FnMut(Told) + Send)) -> Result<Vec<SheetRecord>, DemoFault> {
        if !self.api.now().await?.machine.practice {
            return Err(DemoFault::RealMachine);
        }
        let answers = Answers { who: Person(OWNER.to_owned()), ..Answers::default() };
        let sheets = u32::try_from(shop::CARDS.len()).unwrap_or(u32::MAX);
        let closed = walk(&self.api, &Plan { card: None, sheets, answers }, tell).await?;
        let history = self.api.history(&HistoryQuery::default()).await?;
        Ok(history.sheets.into_iter().filter(|r| closed.contains(&r.sheet)).collect())
    }

    /// Asks the daemon to end and waits for it.
    pub async fn close(mut self) {
        self.running.end().await;
    }
}
