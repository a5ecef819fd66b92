//! The disk under the journal as a small trait, so that a test can be a disk that crashes on demand.
//!
//! May live here: the trait and the real file. May not: what is in the bytes.

use super::folder;
use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::{FileExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// Bytes that only grow at their end, and are on the disk once `sync` said so.
pub trait Pages {
    /// What to call it in messages.
    fn path(&self) -> &Path;
    /// Bytes there.
    ///
    /// # Errors
    /// When the disk says so.
    fn length(&self) -> io::Result<u64>;
    /// Reads exactly `into.len()` bytes.
    ///
    /// # Errors
    /// When there are fewer, or the disk says so.
    fn read(&self, offset: u64, into: &mut [u8]) -> io::Result<()>;
    /// Adds bytes at the end.
    ///
    /// # Errors
    /// When the disk says so; some of the bytes may be there then.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Makes sure that everything appended is on the disk.
    ///
    /// # Errors
    /// When the disk says so; nothing is known of the bytes since the last sync then.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts the end off. Only for what no one was ever told of.
    ///
    /// # Errors
    /// When the disk says so.
    fn cut(&mut self, length: u64) -> io::Result<()>;
    /// Keeps bytes aside before they are cut off, on the disk, and says where.
    ///
    /// # Errors
    /// When the disk says so.
    fn keep_aside(&mut self, bytes: &[u8]) -> io::Result<String>;
}

/// A real file.
#[derive(Debug)]
pub struct FilePages {
    path: PathBuf,
    file: File,
    end: u64,
}

/// Torn tails kept aside at most; the daemon refuses to start beyond that.
const TORN_MOST: u32 = 10_000;

impl FilePages {
    /// Opens a file that is there.
    ///
    /// # Errors
    /// When the system does not let us.
    pub fn open(path: &Path) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).write(true).open(path)?;
        let end = file.metadata()?.len();
        Ok(Self { path: path.to_owned(), file, end })
    }

    /// Opens a file as far as it goes at some moment, to be read only.
    ///
    /// # Errors
    /// When the system does not let us, or the file does not go that far.
    pub fn to_read(path: &Path, end: u64) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).open(path)?;
        if file.metadata()?.len() < end {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        Ok(Self { path: path.to_owned(), file, end })
    }

    /// A free name beside the journal.
    fn torn_file(&self) -> io::Result<(PathBuf, File)> {
        for number in 1..=TORN_MOST {
            let mut name = self.path.as_os_str().to_owned();
            name.push(format!("-{number}.torn"));
            let path = PathBuf::from(name);
            match OpenOptions::new().write(true).create_new(true).mode(0o640).open(&path) {
                Ok(file) => return Ok((path, file)),
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(e),
            }
        }
        Err(io::Error::other("too many torn tails are kept beside the journal"))
    }
}

impl Pages for FilePages {
    fn path(&self) -> &Path {
        &self.path
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.end)
    }

    fn read(&self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        self.file.read_exact_at(into, offset)
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all_at(bytes, self.end)?;
        self.end = self.end.saturating_add(bytes.len() as u64);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.file.set_len(length)?;
        self.end = length;
        self.file.sync_all()
    }

    fn keep_aside(&mut self, bytes: &[u8]) -> io::Result<String> {
        let (path, file) = self.torn_file()?;
        file.write_all_at(bytes, 0)?;
        file.sync_all()?;
        if let Some(dir) = path.parent() {
            folder::open(dir)?.sync_all()?;
        }
        Ok(path.display().to_string())
    }
}
