//! Power cuts: the store on a real ext4 file system in an image file; the daemon is stopped where it is at a random moment
//! under load, the blocks as the system had written them by then are copied, and the copy is mounted and started from.
//!
//! What this models is a drive without a cache of its own. Needs root, loop devices and `mkfs.ext4`.
//!
//! May live here: images, mounts, the moment. May not: what must be so afterwards (`watch`).

use crate::client::files;
use crate::days::chance::Chance;
use crate::load::{Came, Load, Pace};
use crate::watch::Watch;
use crate::workshop::Workshop;
use rustix::process::geteuid;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;
use tempfile::TempDir;

const RATE: f64 = 60.0;
const IMAGE_BYTES: u64 = 64 * 1024 * 1024;
/// The power goes within this, once there is load.
const LOAD_MS: u64 = 2_500;
/// Between two commands of a desk that writes slowly.
const SLOWLY: Duration = Duration::from_millis(50);

/// How a run is set up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Kind {
    /// The store was used and properly closed before.
    pub existing: bool,
    /// Written to as quickly as it answers, or slowly.
    pub burst: bool,
}

/// Every kind, in turn.
pub const KINDS: [Kind; 4] = [
    Kind { existing: false, burst: true },
    Kind { existing: true, burst: true },
    Kind { existing: false, burst: false },
    Kind { existing: true, burst: false },
];

/// What came of one run.
#[derive(Debug, Default, Clone, Copy)]
pub struct Told {
    /// Answered commands, all found.
    pub found: u64,
    /// Commands that were done though the answer did not come.
    pub extra: u64,
    /// The index had to be built anew.
    pub index_anew: bool,
    /// A torn tail was cut off the journal.
    pub torn: bool,
    /// Times the blocks changed while they were read.
    pub moved: u64,
}

/// Why power cuts cannot be tried here; none when they can.
#[must_use]
pub fn missing() -> Option<String> {
    if !geteuid().is_root() {
        return Some("it takes root to mount a file system".to_owned());
    }
    let image = match Image::make() {
        Ok(image) => image,
        Err(why) => return Some(why),
    };
    image.mounted().err()
}

/// One power cut.
///
/// # Errors
/// What is not as it must be.
pub fn run(kind: Kind, seed: u64) -> Result<Told, String> {
    let mut chance = Chance::of(seed);
    let image = Image::make()?;
    let (mut watch, mut came) = (Watch::default(), Came::default());
    let mut shop = Workshop::new(RATE);
    let card = files(&shop.card());
    let moved;
    let copy = {
        let mounted = image.mounted()?;
        let store = mounted.path().join("store");
        let client = shop.start_with(&["--store", &store.display().to_string()]);
        client.add_card(&shop.card()).map_err(|p| p.to_string())?;
        client.add_batch(crate::workshop::CARD, 4).map_err(|p| p.to_string())?;
        let client = if kind.existing {
            let load = Load::begin(&client, &card, chance.next(), 2, Pace::Burst);
            sleep(Duration::from_millis(300));
            shop.end();
            came = load.ended();
            shop.start_with(&["--store", &store.display().to_string()])
        } else {
            client
        };
        watch.look(&client, &store, came).map_err(|why| format!("before the power went: {why}"))?;
        let pace = if kind.burst { Pace::Burst } else { Pace::Every(SLOWLY) };
        let load = Load::begin(&client, &card, chance.next(), 2, pace);
        sleep(Duration::from_millis(1 + chance.below(LOAD_MS)));
        shop.freeze();
        let (copy, changed) = image.copied()?;
        moved = changed;
        shop.kill();
        came = load.ended();
        copy
    };
    let mounted = copy.mounted().map_err(|why| format!("the file system does not come back: {why}"))?;
    let store = mounted.path().join("store");
    let client = shop.start_with(&["--store", &store.display().to_string()]);
    let answered = (came.answered.len() + came.acts.len()) as u64;
    let (extra, log) = (watch.extra, shop.log());
    watch.look(&client, &store, came).map_err(|why| format!("{why}\n{log}"))?;
    watch.send_unanswered(&client)?;
    let told = Told {
        found: answered,
        extra: watch.extra - extra,
        index_anew: log.contains("built anew") || log.contains("without its index"),
        torn: log.contains("were cut off"),
        moved,
    };
    shop.kill();
    drop(mounted);
    Ok(told)
}

/// A file system in a file.
struct Image {
    folder: TempDir,
}

/// A mounted one, for as long as this lives.
struct Mounted {
    at: PathBuf,
}

impl Mounted {
    fn path(&self) -> &Path {
        &self.at
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        // the daemon on it was killed a moment ago and may not have let go of its files yet
        for _ in 0..100 {
            if said("umount", &[&self.at]).is_ok() {
                return;
            }
            sleep(Duration::from_millis(50));
        }
        // something went wrong while the daemon was still on it
        let _ = said("umount", &[Path::new("-l"), &self.at]);
    }
}

impl Image {
    fn make() -> Result<Self, String> {
        let image = Self::empty()?;
        let file = File::create(image.file()).map_err(|e| e.to_string())?;
        file.set_len(IMAGE_BYTES).map_err(|e| e.to_string())?;
        said("mkfs.ext4", &[Path::new("-q"), Path::new("-F"), &image.file()])?;
        Ok(image)
    }

    fn empty() -> Result<Self, String> {
        let folder = tempfile::Builder::new().prefix("image-").tempdir().map_err(|e| e.to_string())?;
        std::fs::create_dir(folder.path().join("at")).map_err(|e| e.to_string())?;
        Ok(Self { folder })
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("image")
    }

    /// Its blocks, as they have been written by now.
    /// The blocks as they were at one moment, and how often they changed while they were read: the daemon is stopped, but the
    /// system may still be writing, and what is read from front to back meanwhile never was on a disk.
    fn copied(&self) -> Result<(Self, u64), String> {
        let copy = Self::empty()?;
        let blocks = || std::fs::read(self.file()).map_err(|e| format!("reading the image: {e}"));
        let (mut before, mut moved) = (blocks()?, 0);
        loop {
            let after = blocks()?;
            if after == before {
                break;
            }
            (before, moved) = (after, moved + 1);
        }
        std::fs::write(copy.file(), before).map_err(|e| format!("copying the image: {e}"))?;
        Ok((copy, moved))
    }

    fn mounted(&self) -> Result<Mounted, String> {
        let at = self.folder.path().join("at");
        said("mount", &[Path::new("-o"), Path::new("loop"), &self.file(), &at])?;
        Ok(Mounted { at })
    }
}

fn said(program: &str, arguments: &[&Path]) -> Result<(), String> {
    let output = Command::new(program).args(arguments).stdin(Stdio::null()).output();
    let output = output.map_err(|e| format!("{program}: {e}"))?;
    if output.status.success() {
        return Ok(());
    }
    Err(format!("{program}: {}", String::from_utf8_lossy(&output.stderr).trim()))
}
