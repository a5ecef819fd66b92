//! Every file of a shop's folder at once: one checked [`Shop`], or every fault of every file.
//!
//! May live here: which files there are, what stands in for one that is missing, and what one file says of another. May
//! not: finding the folder or opening its files, and the form of any one file.

use super::check::Check;
use super::checklist::{self, Checklist, Checklists};
use super::config::{self, Config};
use super::fault::Fault;
use super::profile::{ACKNOWLEDGED_WINDOW, NUMBERED_CHECKSUM};
use super::stores;
use super::text::{Doc, Path};
use chargehand_types::card::{Material, Stores};
use chargehand_types::checklist::ListKind;
use std::collections::BTreeMap;

/// The text of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Its name, for faults.
    pub file: String,
    /// What it says.
    pub text: String,
}

impl Page {
    /// A file and its text.
    #[must_use]
    pub fn new(file: impl Into<String>, text: impl Into<String>) -> Self {
        Self { file: file.into(), text: text.into() }
    }
}

/// The texts of a shop's folder. What is none comes from the defaults built in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folder {
    /// `daemon.toml`.
    pub daemon: Page,
    /// `bits.toml`.
    pub bits: Option<Page>,
    /// `materials.toml`.
    pub materials: Option<Page>,
    /// `fasteners.toml`.
    pub fasteners: Option<Page>,
    /// `checklists/NAME.toml`, by name.
    pub checklists: BTreeMap<String, Page>,
    /// `controllers/NAME.toml`, by name.
    pub controllers: BTreeMap<String, Page>,
}

impl Folder {
    /// A folder with nothing but `daemon.toml`.
    #[must_use]
    pub const fn with(daemon: Page) -> Self {
        Self {
            daemon,
            bits: None,
            materials: None,
            fasteners: None,
            checklists: BTreeMap::new(),
            controllers: BTreeMap::new(),
        }
    }
}

/// A whole shop.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// `daemon.toml`.
    pub config: Config,
    /// Bits, materials and fasteners.
    pub stores: Stores,
    /// The lists of a sheet and of the day.
    pub checklists: Checklists,
    /// The text of the controller profile that `daemon.toml` names, for [`super::profile`] to read.
    pub controller: Page,
}

const BITS: &str = include_str!("../../../config/bits.toml");
const MATERIALS: &str = include_str!("../../../config/materials.toml");
const FASTENERS: &str = include_str!("../../../config/fasteners.toml");

/// The controller profiles that ship.
const CONTROLLERS: [(&str, &str); 2] =
    [("acknowledged-window", ACKNOWLEDGED_WINDOW), ("numbered-checksum", NUMBERED_CHECKSUM)];

/// A list as it ships.
const fn shipped(kind: ListKind) -> &'static str {
    match kind {
        ListKind::Securing => include_str!("../../../config/checklists/securing.toml"),
        ListKind::Tooling => include_str!("../../../config/checklists/tooling.toml"),
        ListKind::Ready => include_str!("../../../config/checklists/ready.toml"),
        ListKind::TakingOff => include_str!("../../../config/checklists/taking-off.toml"),
        ListKind::Checking => include_str!("../../../config/checklists/checking.toml"),
        ListKind::Opening => include_str!("../../../config/checklists/opening.toml"),
        ListKind::Closing => include_str!("../../../config/checklists/closing.toml"),
        ListKind::HandOver => include_str!("../../../config/checklists/hand-over.toml"),
        ListKind::AfterPowerCut => include_str!("../../../config/checklists/after-power-cut.toml"),
    }
}

/// Reads a whole folder.
///
/// # Errors
/// Every fault of every file, file by file.
pub fn read(folder: &Folder) -> Result<Shop, Vec<Fault>> {
    let mut faults: Vec<Fault> = Vec::new();
    let config = keep(&mut faults, config::read(&folder.daemon.file, &folder.daemon.text));
    let bits = keep(&mut faults, own_or(folder.bits.as_ref(), ("bits.toml", BITS), stores::bits));
    let materials = own_or(folder.materials.as_ref(), ("materials.toml", MATERIALS), stores::materials);
    let materials = keep(&mut faults, materials);
    let fasteners = own_or(folder.fasteners.as_ref(), ("fasteners.toml", FASTENERS), stores::fasteners);
    let fasteners = keep(&mut faults, fasteners);
    let checklists = checklists(&mut faults, &folder.checklists);
    if let Some(config) = &config {
        faults.extend(beside(folder, config, materials.as_ref()));
    }
    let controller = config.as_ref().and_then(|c| controller(folder, &c.machine.profile));
    match (config, bits, materials, fasteners, checklists, controller) {
        (Some(config), Some(bits), Some(materials), Some(fasteners), Some(checklists), Some(controller))
            if faults.is_empty() =>
        {
            Ok(Shop { config, stores: Stores { bits, materials, fasteners }, checklists, controller })
        }
        _ => Err(faults),
    }
}

fn keep<T>(faults: &mut Vec<Fault>, read: Result<T, Vec<Fault>>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(more) => {
            faults.extend(more);
            None
        }
    }
}

fn own_or<T>(
    own: Option<&Page>,
    (file, text): (&str, &str),
    read: fn(&str, &str) -> Result<T, Vec<Fault>>,
) -> Result<T, Vec<Fault>> {
    match own {
        Some(page) => read(&page.file, &page.text),
        None => read(file, text),
    }
}

fn checklists(faults: &mut Vec<Fault>, own: &BTreeMap<String, Page>) -> Option<Checklists> {
    let words = ListKind::ALL.map(ListKind::word);
    for (name, page) in own.iter().filter(|(name, _)| !words.contains(&name.as_str())) {
        let fault = Fault::at(&page.file, &page.text, 0..0, "");
        faults.push(fault.found(format!("there is no list `{name}`")).one_of(name, words));
    }
    let mut lists: Vec<(ListKind, Checklist)> = Vec::new();
    for kind in ListKind::ALL {
        let list = match own.get(kind.word()) {
            Some(page) => checklist::read(&page.file, &page.text, kind),
            None => checklist::read(&format!("checklists/{}.toml", kind.word()), shipped(kind), kind),
        };
        lists.extend(keep(faults, list).map(|list| (kind, list)));
    }
    Checklists::of(lists)
}

/// The shop's own profile of that name, or the one that ships.
fn controller(folder: &Folder, name: &str) -> Option<Page> {
    let shipped = || {
        let (name, text) = CONTROLLERS.iter().find(|(n, _)| *n == name)?;
        Some(Page::new(format!("controllers/{name}.toml"), *text))
    };
    folder.controllers.get(name).cloned().or_else(shipped)
}

/// What `daemon.toml` says of the files beside it.
fn beside(folder: &Folder, config: &Config, materials: Option<&BTreeMap<String, Material>>) -> Vec<Fault> {
    let Ok(doc) = Doc::parse(&folder.daemon.file, &folder.daemon.text) else { return Vec::new() };
    let mut check = Check::new(&doc);
    if let (Some(material), Some(materials)) = (&config.waste_board.material, materials) {
        check.one_of(&Path::top().key("waste_board").key("material"), "material", material, materials.keys());
    }
    for (at, panel) in config.panels.iter().enumerate() {
        if let Some(materials) = materials {
            let place = Path::top().key("stock").at(at).key("material");
            check.one_of(&place, "material", &panel.material, materials.keys());
        }
    }
    let shipped = CONTROLLERS.iter().map(|(name, _)| (*name).to_owned());
    let controllers: Vec<String> = folder.controllers.keys().cloned().chain(shipped).collect();
    let profile = Path::top().key("machine").key("profile");
    check.one_of(&profile, "controller profile", &config.machine.profile, &controllers);
    check.done(()).err().unwrap_or_default()
}

#[cfg(test)]
mod tests;
