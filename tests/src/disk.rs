//! A small file system of its own, to be filled.
//!
//! May live here: mounting it, and what else lies on it. May not: what a test expects of a full one.

use rustix::fs::FallocateFlags;
use rustix::process::geteuid;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Bytes of ballast written at once; what is left is filled in ever smaller pieces.
const PIECE: usize = 64 * 1024;
/// What else lies on the disk.
const BALLAST: &str = "ballast";

/// A small file system of its own; gone with this.
#[derive(Debug)]
pub struct SmallDisk {
    folder: tempfile::TempDir,
}

impl SmallDisk {
    /// One of so many mebibytes, where that may be had: it takes root and the right to mount.
    #[must_use]
    pub fn of(mebibytes: u32) -> Option<Self> {
        let folder = tempfile::Builder::new().prefix("disk-").tempdir().expect("a folder can be made");
        let size = format!("size={mebibytes}m");
        let had = geteuid().is_root() && mount(&["-t", "tmpfs", "-o", &size, "tmpfs"], folder.path());
        had.then_some(Self { folder })
    }

    /// A path on it.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// It can be read from now on, and not written.
    pub fn read_only(&self) {
        assert!(mount(&["-o", "remount,ro"], self.folder.path()), "it can be mounted anew");
    }

    /// Something else takes all that is left of it, but for so many bytes.
    pub fn fill(&self, but: usize) {
        let name = self.path(BALLAST);
        let mut ballast = OpenOptions::new().create(true).append(true).open(name).expect("there is room for a name");
        // most of it at once, where the system takes it without writing
        let free = rustix::fs::fstatvfs(&ballast).map_or(0, |told| told.f_bavail.saturating_mul(told.f_frsize));
        let _ = rustix::fs::fallocate(&ballast, FallocateFlags::empty(), 0, free);
        let mut piece = PIECE;
        while piece > 0 {
            if ballast.write(&vec![0; piece]).is_err() {
                piece /= 2;
            }
        }
        let written = ballast.metadata().map_or(0, |m| m.len());
        let kept = written.saturating_sub(u64::try_from(but).unwrap_or(u64::MAX));
        ballast.set_len(kept).expect("less always fits");
    }

    /// There is room again.
    pub fn make_room(&self) {
        let _ = std::fs::remove_file(self.path(BALLAST));
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.folder.path()).stdin(Stdio::null()).status();
    }
}

fn mount(arguments: &[&str], at: &Path) -> bool {
    Command::new("mount").args(arguments).arg(at).stdin(Stdio::null()).output().is_ok_and(|o| o.status.success())
}
