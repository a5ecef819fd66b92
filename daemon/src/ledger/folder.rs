//! Folders and whole files that are on the disk once they are said to be: made, synced, and their folder synced.
//!
//! May live here: the order of writing, syncing and renaming. May not: formats.

use super::fault::LedgerFault;
use std::fs::{DirBuilder, File, OpenOptions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::Path;

/// Makes a folder, and those above it, unless it is there; each one's own folder is synced.
pub(super) fn make(dir: &Path) -> Result<(), LedgerFault> {
    if dir.is_dir() {
        return Ok(());
    }
    let above = match dir.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        Some(_) | None => Path::new("."),
    };
    make(above)?;
    match DirBuilder::new().mode(0o750).create(dir) {
        Ok(()) => sync(above),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists && dir.is_dir() => Ok(()),
        Err(e) => Err(LedgerFault::io("making a folder of the store", dir, &e)),
    }
}

/// Syncs a folder: names made, renamed or removed in it are on the disk after that.
pub(super) fn sync(dir: &Path) -> Result<(), LedgerFault> {
    open(dir).and_then(|d| d.sync_all()).map_err(|e| LedgerFault::io("syncing a folder of the store", dir, &e))
}

/// Opens a file or folder for reading.
pub(super) fn open(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).open(path)
}

/// A new file of the store, open for writing.
pub(super) fn new_file(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create(true).truncate(true).mode(0o640).open(path)
}

/// Writes a file so that under its name there is only ever the whole of it: a temporary name, synced, renamed, the
/// folder synced.
pub(super) fn write_whole(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> Result<(), LedgerFault> {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let temporary = path.with_file_name(format!(".{name}.new"));
    let written = new_file(&temporary)
        .and_then(|mut file| {
            fill(&mut file)?;
            file.sync_all()
        })
        .and_then(|()| std::fs::rename(&temporary, path));
    if let Err(e) = written {
        // Half a file under its temporary name would only take room; failing to remove it loses nothing.
        let _ = std::fs::remove_file(&temporary);
        return Err(LedgerFault::io("writing a file of the store", path, &e));
    }
    match path.parent() {
        Some(dir) => sync(dir),
        None => Ok(()),
    }
}
