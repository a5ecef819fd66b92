//! The files of the shop, found and read: the only place that opens config.
#![allow(clippy::disallowed_methods, reason = "this is where the shop's files are opened")]

use crate::shop::checklist::{Checklist, checklist};
use crate::shop::config::{self, Config, Port};
use crate::shop::fault::Fault;
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, Profile, profile};
use crate::shop::{fault, stores};
use chargehand_types::card::Stores;
use chargehand_types::checklist::ListKind;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

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
    /// By kind.
    pub lists: BTreeMap<ListKind, Checklist>,
    /// Absolute.
    pub store: PathBuf,
    /// Absolute.
    pub socket: PathBuf,
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
}

/// Defaults built into the daemon, for what is missing beside the config file.
const BITS: &str = include_str!("../../../config/bits.toml");
const MATERIALS: &str = include_str!("../../../config/materials.toml");
const FASTENERS: &str = include_str!("../../../config/fasteners.toml");

const fn default_list(kind: ListKind) -> &'static str {
    match kind {
        ListKind::Securing => include_str!("../../../config/checklists/securing.toml"),
        ListKind::Tooling => include_str!("../../../config/checklists/tooling.toml"),
        ListKind::Ready => include_str!("../../../config/checklists/ready.toml"),
        ListKind::TakingOff => include_str!("../../../config/checklists/taking-off.toml"),
        ListKind::Checking => include_str!("../../../config/checklists/checking.toml"),
    }
}

/// Reads everything.
///
/// # Errors
/// What cannot be opened, or every fault of every file.
pub fn read(options: &Options) -> Result<Premises, PremisesFault> {
    let text =
        std::fs::read_to_string(&options.config).map_err(|e| PremisesFault::Open(options.config.clone(), e))?;
    let folder = options.config.parent().unwrap_or_else(|| Path::new(".")).to_owned();
    let mut faults = Vec::new();
    let file = shown(&options.config);
    let config = keep(config::read(&file, &text), &mut faults);
    let bits = keep(beside(&folder, "bits.toml", BITS, stores::bits)?, &mut faults);
    let materials = keep(beside(&folder, "materials.toml", MATERIALS, stores::materials)?, &mut faults);
    let fasteners = keep(beside(&folder, "fasteners.toml", FASTENERS, stores::fasteners)?, &mut faults);
    let mut lists = BTreeMap::new();
    for kind in ListKind::ALL {
        let name = format!("checklists/{}.toml", kind.word());
        let read = beside(&folder, &name, default_list(kind), |f, t| checklist(kind, f, t))?;
        if let Some(list) = keep(read, &mut faults) {
            lists.insert(kind, list);
        }
    }
    let (Some(mut config), Some(bits), Some(materials), Some(fasteners)) = (config, bits, materials, fasteners) else {
        return Err(PremisesFault::Faults(faults));
    };
    if let Some(port) = &options.port {
        config.machine.port = Port::from(port.clone());
    }
    let name = format!("controllers/{}.toml", config.machine.profile);
    let profile = match shipped(&config.machine.profile) {
        Some(default) => keep(beside(&folder, &name, default, profile)?, &mut faults),
        None => {
            let path = folder.join(&name);
            let text = std::fs::read_to_string(&path).map_err(|e| PremisesFault::Open(path.clone(), e))?;
            keep(profile(&shown(&path), &text), &mut faults)
        }
    };
    let Some(profile) = profile.filter(|_| faults.is_empty()) else {
        return Err(PremisesFault::Faults(faults));
    };
    refuse_scripted_on_real_ports(&config)?;
    let store = options.store.clone().unwrap_or_else(|| folder.join(&config.store));
    let socket = options.socket.clone().unwrap_or_else(|| folder.join(&config.api.socket));
    let stores = Stores { bits, materials, fasteners };
    Ok(Premises { config, stores, profile: Arc::new(profile), lists, store, socket })
}

/// The text of a profile that ships.
fn shipped(name: &str) -> Option<&'static str> {
    (name == "acknowledged-window").then_some(ACKNOWLEDGED_WINDOW)
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}

fn keep<T>(read: Result<T, Vec<Fault>>, faults: &mut Vec<Fault>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(found) => {
            faults.extend(found);
            None
        }
    }
}

/// A file beside the config file, or the default where there is none.
fn beside<T>(
    folder: &Path,
    name: &str,
    default: &str,
    read: impl Fn(&str, &str) -> Result<T, Vec<Fault>>,
) -> Result<Result<T, Vec<Fault>>, PremisesFault> {
    let path = folder.join(name);
    match std::fs::read_to_string(&path) {
        Ok(text) => Ok(read(&shown(&path), &text)),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(read(name, default)),
        Err(e) => Err(PremisesFault::Open(path, e)),
    }
}

/// A scripted operator is let in only where nothing real can move.
fn refuse_scripted_on_real_ports(config: &Config) -> Result<(), PremisesFault> {
    if !config.bench.scripted_operator {
        return Ok(());
    }
    match &config.machine.port {
        Port::Simulated => Ok(()),
        Port::Path(path) if crate::serial::is_pseudo_terminal(path) => Ok(()),
        Port::Path(path) => Err(PremisesFault::Refused(format!(
            "[bench] scripted_operator = true is for a pseudo-terminal only, and {path} is none. Take the key out: a \
             scripted operator must never move a real machine."
        ))),
    }
}
