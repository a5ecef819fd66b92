//! The shop of the simulated days: its files in a folder of its own, its card, its store.

use super::chance::Chance;
use super::rules::Broken;
use crate::disk::SmallDisk;
use crate::workshop::{CARD, copy, repository};
use chargehand_daemon::app::{ByHand, MachineClock, Options, Premises, read_premises};
use chargehand_types::check::CardFiles;
use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;

/// Reports a second that the days are lived with, while something moves and while all stands.
const REPORTS_HZ: f64 = 1.0;
const STILL_HZ: f64 = 0.2;
/// Longer than between two of them.
const SILENT_AFTER_MS: u64 = 8000;

/// A day's store is a fifth of it.
const DISK_MIB: u32 = 24;
/// Room left at most on a disk that is called full: some records still fit.
const ALMOST_FULL: u64 = 16 * 1024;

/// A shop.
pub struct Shop {
    _folder: TempDir,
    /// What its store lies on, where such a disk may be had.
    disk: Option<SmallDisk>,
    /// Its files, read.
    pub premises: Arc<Premises>,
    /// Its card.
    pub card: CardFiles,
    /// From this turn of a day on, all that is told and commanded is printed, for whoever looks into a broken rule.
    pub watch_from: Option<u64>,
}

impl Shop {
    /// The demo's shop with the short card, in memory where there is such a folder.
    ///
    /// # Errors
    /// When its files cannot be written or read.
    pub fn new() -> Result<Self, Broken> {
        let memory = Path::new("/dev/shm");
        let within = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
        let folder = tempfile::Builder::new().prefix("days-").tempdir_in(within).map_err(|e| e.to_string())?;
        copy(&repository().join("config/demo"), folder.path());
        copy(&repository().join("tests/cases-own").join(CARD), folder.path());
        let config = folder.path().join("daemon.toml");
        let text = std::fs::read_to_string(&config).map_err(|e| e.to_string())?;
        std::fs::write(&config, text + "\n[bench]\nscripted_operator = true\n").map_err(|e| e.to_string())?;
        let disk = SmallDisk::of(DISK_MIB);
        let options = Options {
            config,
            store: Some(disk.as_ref().map_or_else(|| folder.path().join("store"), |disk| disk.path("store"))),
            socket: Some(folder.path().join("daemon.sock")),
            port: None,
        };
        let mut premises = read_premises(&options).map_err(|e| e.to_string())?;
        let profile = Arc::make_mut(&mut premises.profile);
        profile.keys.reports_hz.moving = REPORTS_HZ;
        profile.keys.reports_hz.still = STILL_HZ;
        profile.keys.silent_after_ms = SILENT_AFTER_MS;
        let card = crate::client::files(&folder.path().join("label-board.card.toml"));
        Ok(Self { _folder: folder, disk, premises: Arc::new(premises), card, watch_from: None })
    }

    /// An empty store.
    pub fn empty(&self) {
        // there may be none yet
        let _ = std::fs::remove_dir_all(&self.premises.store);
    }

    /// Opens the store and puts a foreman to work. The one before may still be letting go of it.
    ///
    /// # Errors
    /// When the store cannot be opened.
    pub async fn open(&self, clock: &Arc<MachineClock>) -> Result<ByHand, Broken> {
        let mut why = String::new();
        for _ in 0..2000 {
            match ByHand::open(Arc::clone(&self.premises), Arc::clone(clock)).await {
                Ok(hand) => return Ok(hand),
                Err(e) => why = e.to_string(),
            }
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        Err(format!("the store cannot be opened: {why}"))
    }

    /// Fills the disk, where it is one of its own; whether it is.
    pub fn fill_disk(&self, chance: &mut Chance) -> bool {
        let Some(disk) = &self.disk else { return false };
        disk.fill(usize::try_from(chance.below(ALMOST_FULL)).unwrap_or(0));
        true
    }

    /// There is room again.
    pub fn make_room(&self) {
        if let Some(disk) = &self.disk {
            disk.make_room();
        }
    }

    /// Half a frame at the end of the journal, as a write that was cut off leaves it.
    pub fn tear(&self, chance: &mut Chance) {
        let journal = self.premises.store.join("journal");
        if let Ok(mut file) = std::fs::OpenOptions::new().append(true).open(journal) {
            let torn: Vec<u8> = (0..chance.between(1, 60)).map(|_| chance.below(256) as u8).collect();
            // a journal that cannot be torn stays whole
            let _ = file.write_all(&torn);
        }
    }
}
