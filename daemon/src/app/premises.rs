//! The files of the shop, found and opened: the only place that opens config. What they say is read in `shop`.
#![allow(clippy::disallowed_methods, reason = "this is where the shop's files are opened")]

use super::allowance::Allowances;
use super::bow::KnownRest;
use super::crew::Crew;
use super::judging::Known;
use super::planning::booked;
use crate::calendar::Booked;
use crate::shop::checklist::Checklists;
use crate::shop::config::{Config, Port};
use crate::shop::fault::{self, Fault};
use crate::shop::profile::{Profile, profile};
use crate::shop::shelf::{self, Folder, Page};
use chargehand_types::card::Stores;
use chrono::{DateTime, Utc};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// Files a folder of lists or profiles may hold.
const FILES_AT_MOST: usize = 100;

/// What the daemon is told on its command line.
#[derive(Debug, Clone)]
pub struct Options {
    /// `daemon.toml`.
    pub config: PathBuf,
    /// Wins over the file.
    pub store: Option<PathBuf>,
    /// Wins over the file.
    pub socket: Option<PathBuf>,
    /// Wins over the file.
    pub port: Option<String>,
}

/// Everything read.
#[derive(Debug, Clone)]
pub struct Premises {
    /// `daemon.toml`.
    pub config: Config,
    /// Bits, materials, fasteners.
    pub stores: Stores,
    /// The controller's.
    pub profile: Arc<Profile>,
    /// The five lists.
    pub lists: Checklists,
    /// The config's.
    pub folder: PathBuf,
    /// Absolute.
    pub store: PathBuf,
    /// Absolute.
    pub socket: PathBuf,
    /// Who shares the work of a check.
    pub crew: Arc<Crew>,
    /// What was judged lately.
    pub known: Arc<Known>,
    /// How far those answers hold.
    pub allowances: Arc<Allowances>,
    /// The rest of the last sheet that was cut.
    pub rest: Arc<Mutex<Option<KnownRest>>>,
}

/// Why the shop's files cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum PremisesFault {
    /// A file cannot be opened.
    #[error("{0} cannot be read: {1}")]
    Open(PathBuf, std::io::Error),
    /// Files are malformed.
    #[error("{}", fault::told(.0))]
    Faults(Vec<Fault>),
    /// Something that the files allow and this machine does not.
    #[error("{0}")]
    Refused(String),
    /// No threads to share the work of a check.
    #[error("no threads for checking cards: {0}")]
    Workers(#[from] rayon::ThreadPoolBuildError),
}

/// Reads everything.
///
/// # Errors
/// What cannot be opened, or every fault of every file.
pub fn read(options: &Options) -> Result<Premises, PremisesFault> {
    let folder = options.config.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    let Some(daemon) = page(&options.config)? else {
        let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
        return Err(PremisesFault::Open(options.config.clone(), missing));
    };
    let files = Folder {
        daemon,
        bits: page(&folder.join("bits.toml"))?,
        materials: page(&folder.join("materials.toml"))?,
        fasteners: page(&folder.join("fasteners.toml"))?,
        checklists: pages(&folder.join("checklists"))?,
        controllers: pages(&folder.join("controllers"))?,
    };
    let shop = shelf::read(&files).map_err(PremisesFault::Faults)?;
    let profile = profile(&shop.controller.file, &shop.controller.text).map_err(PremisesFault::Faults)?;
    let mut config = shop.config;
    if let Some(port) = &options.port {
        config.machine.port = Port::from(port.clone());
    }
    refuse_scripted_on_real_ports(&config)?;
    let store = options.store.clone().unwrap_or_else(|| folder.join(&config.store));
    let socket = options.socket.clone().unwrap_or_else(|| folder.join(&config.api.socket));
    let (stores, lists) = (shop.stores, shop.checklists);
    let crew = Arc::new(Crew::new()?);
    let folder = folder.to_owned();
    Ok(Premises {
        config,
        stores,
        profile: Arc::new(profile),
        lists,
        folder,
        store,
        socket,
        crew,
        known: Arc::default(),
        allowances: Arc::default(),
        rest: Arc::default(),
    })
}

/// Where the store lies. A store named on the command line is taken as it is: what is wrong with the shop's files must
/// not keep anybody from saving it.
///
/// # Errors
/// As [`read`], where only the files tell.
pub fn store_folder(options: &Options) -> Result<PathBuf, PremisesFault> {
    match &options.store {
        Some(store) => Ok(store.clone()),
        None => read(options).map(|premises| premises.store),
    }
}

impl Premises {
    /// What people's own calendars say from now on, read anew: they change while the daemon runs.
    ///
    /// # Errors
    /// When a file cannot be read, or says something that is not understood.
    pub fn booked(&self, now: DateTime<Utc>) -> Result<Vec<Booked>, PremisesFault> {
        let hours = &self.config.hours;
        let read = hours.calendars.iter().map(|calendar| {
            let path = self.folder.join(&calendar.file);
            let text = std::fs::read_to_string(&path).map_err(|e| PremisesFault::Open(path.clone(), e))?;
            booked(&calendar.who, &text, hours, now)
                .map_err(|e| PremisesFault::Refused(format!("{}: {e}", path.display())))
        });
        read.collect()
    }
}

/// A file, if there is one.
fn page(path: &Path) -> Result<Option<Page>, PremisesFault> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Some(Page::new(path.display().to_string(), text))),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(PremisesFault::Open(path.to_owned(), e)),
    }
}

/// The controller profiles of a shop's own, beside its config.
pub(super) fn own_controllers(config: &Path) -> Result<BTreeMap<String, Page>, PremisesFault> {
    pages(&config.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new(".")).join("controllers"))
}

/// Every `.toml` file of a folder by its name without the ending.
fn pages(folder: &Path) -> Result<BTreeMap<String, Page>, PremisesFault> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(BTreeMap::new()),
        Err(e) => return Err(PremisesFault::Open(folder.to_owned(), e)),
    };
    let mut found = BTreeMap::new();
    for entry in entries.take(FILES_AT_MOST) {
        let path = entry.map_err(|e| PremisesFault::Open(folder.to_owned(), e))?.path();
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        if let (Some(name), Some(page)) = (path.file_stem().map(|s| s.to_string_lossy().into_owned()), page(&path)?) {
            found.insert(name, page);
        }
    }
    Ok(found)
}

/// A scripted operator is let in only where nothing real can move.
fn refuse_scripted_on_real_ports(config: &Config) -> Result<(), PremisesFault> {
    match &config.machine.port {
        Port::Path(path) if config.bench.scripted_operator && !crate::serial::is_pseudo_terminal(path) => {
            Err(PremisesFault::Refused(format!(
                "[bench] scripted_operator = true is for a pseudo-terminal only, and {path} is none. Take the key \
                 out: a scripted operator must never move a real machine."
            )))
        }
        Port::Path(_) | Port::Simulated => Ok(()),
    }
}
