//! One daemon to a store: a lock on a file in the folder, given back by the system however the daemon ends.
//!
//! May live here: taking the lock and saying who has it. May not: anything else of the store.

use super::fault::LedgerFault;
use rustix::fs::{FlockOperation, flock};
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// Holds the lock while it lives.
#[derive(Debug)]
pub struct StoreLock {
    _file: File,
}

impl StoreLock {
    /// Takes the lock of a store folder.
    ///
    /// # Errors
    /// When another daemon has it, or the folder cannot be written.
    pub fn take(dir: &Path) -> Result<Self, LedgerFault> {
        let path = dir.join("lock");
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .mode(0o640)
            .open(&path)
            .map_err(|e| LedgerFault::io("opening the store's lock", &path, &e))?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => {}
            Err(rustix::io::Errno::WOULDBLOCK) => {
                let mut text = String::new();
                // Who has it is only told; a file that cannot be read leaves it out.
                let _ = file.read_to_string(&mut text);
                let process = text.trim().parse().ok();
                return Err(LedgerFault::Locked { dir: dir.display().to_string(), process });
            }
            Err(e) => return Err(LedgerFault::io("locking the store", &path, &e.into())),
        }
        // The number only helps the next daemon's message; a full disk must not keep the store from opening.
        let _ = file.set_len(0).and_then(|()| writeln!(file, "{}", std::process::id()));
        Ok(Self { _file: file })
    }
}
