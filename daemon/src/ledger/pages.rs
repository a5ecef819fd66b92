//! The disk under the journal as a small trait, so that a test can be a disk that crashes on demand.
//!
//! May live here: the trait and the real file. May not: what is in the bytes.

use super::fault::LedgerFault;
use super::folder;
use super::frame::{self, HEAD};
use super::scan::{Known, Place};
use super::sealed::{self, Sealed};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{FileExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Bytes that only grow at their end, and are on the disk once `sync` said so.
pub trait Pages {
    /// What to call it in messages.
    fn path(&self) -> &Path;
    /// Bytes there.
    ///
    /// # Errors
    /// When the disk says so.
    fn length(&self) -> io::Result<u64>;
    /// What is known of its begin without reading it; asked once.
    fn known(&mut self) -> Known {
        Known::default()
    }
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

/// A real file, with the sealed stretches that came before what it holds.
#[derive(Debug)]
pub struct FilePages {
    path: PathBuf,
    file: File,
    /// The place of the journal at which the file's own bytes begin, and the bytes before them in the file.
    base: u64,
    skip: u64,
    end: u64,
    sealed: Vec<Sealed>,
    /// The block of a sealed stretch that was read last, and where it begins.
    block: Mutex<Option<(u64, Vec<u8>)>>,
    /// A block that is harmed reads as nothing but noughts, so that what follows it can be found.
    lenient: bool,
}

/// Bytes of the journal in one sealed stretch, about.
const STRETCH: u64 = 16 * 1024 * 1024;

/// The folder of the sealed stretches of a journal.
fn folder_of(journal: &Path) -> PathBuf {
    journal.with_file_name("sealed")
}

/// Opens the sealed stretches that hold the journal's bytes up to `base`. What is sealed from there on is left over from
/// a sealing that was cut short: the journal's own file has it too.
fn whole(folder: &Path, base: u64) -> io::Result<Vec<Sealed>> {
    let mut sealed: Vec<Sealed> = Vec::new();
    let mut at = 0;
    while at < base {
        let path = sealed::name(folder, sealed.len() + 1);
        let harmed = |what: &str| io::Error::new(io::ErrorKind::InvalidData, format!("{}: {what}", path.display()));
        let stretch = Sealed::open(&path).map_err(|e| harmed(&e.to_string()))?;
        if stretch.from != at || stretch.to > base {
            return Err(harmed("it does not follow what was sealed before it"));
        }
        at = stretch.to;
        sealed.push(stretch);
    }
    Ok(sealed)
}

/// Those of them that can still be opened.
fn what_is_left(folder: &Path, base: u64) -> io::Result<Vec<Sealed>> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        files.push(entry?.path());
    }
    files.sort();
    let mut sealed: Vec<Sealed> = Vec::new();
    for stretch in files.iter().filter_map(|path| Sealed::open(path).ok()) {
        if stretch.to <= base && sealed.last().is_none_or(|last| last.to <= stretch.from) {
            sealed.push(stretch);
        }
    }
    Ok(sealed)
}

/// Torn tails kept aside at most; the daemon refuses to start beyond that.
const TORN_MOST: u32 = 10_000;

impl FilePages {
    /// Opens a file that is there.
    ///
    /// # Errors
    /// When the system does not let us.
    pub fn open(path: &Path) -> io::Result<Self> {
        Self::of(OpenOptions::new().read(true).write(true).open(path)?, path, false)
    }

    /// Opens a file of which not everything may be there any more, to read what is left of it.
    ///
    /// # Errors
    /// When the system does not let us.
    pub fn open_what_is_left(path: &Path) -> io::Result<Self> {
        Self::of(OpenOptions::new().read(true).write(true).open(path)?, path, true)
    }

    fn of(file: File, path: &Path, lenient: bool) -> io::Result<Self> {
        let length = file.metadata()?.len();
        let mut begin = vec![0; usize::try_from(length).unwrap_or(usize::MAX).min(HEAD + 8)];
        file.read_exact_at(&mut begin, 0)?;
        let folder = folder_of(path);
        let (base, skip, sealed) = match frame::linked(&begin) {
            Ok((0, skip)) => (0, skip, Vec::new()),
            Ok((base, skip)) if lenient => (base, skip, what_is_left(&folder, base)?),
            Ok((base, skip)) => (base, skip, whole(&folder, base)?),
            // no sealed stretch, no link: the reading of the journal tells what is wrong with its begin
            Err(_) if !sealed::name(&folder, 1).exists() => (0, 0, Vec::new()),
            Err(_) if lenient => {
                let sealed = what_is_left(&folder, u64::MAX)?;
                (sealed.last().map_or(0, |last| last.to), 0, sealed)
            }
            Err(why) => {
                return Err(io::Error::new(io::ErrorKind::InvalidData, format!("its begin cannot be read: {why}")));
            }
        };
        let skip = skip as u64;
        let end = base.saturating_add(length.saturating_sub(skip));
        let block = Mutex::new(None);
        Ok(Self { path: path.to_owned(), file, base, skip, end, sealed, block, lenient })
    }

    /// Bytes that are not sealed yet.
    #[must_use]
    pub const fn unsealed(&self) -> u64 {
        self.end.saturating_sub(self.base)
    }

    /// Seals everything up to the end; `places` are those of the records that begin in it. The journal is the same
    /// bytes before and after, also when this is cut short anywhere.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub(super) fn seal(&mut self, places: &[Place]) -> Result<(), LedgerFault> {
        let cannot = |what, e: &io::Error| LedgerFault::io(what, &self.path, e);
        let folder = folder_of(&self.path);
        folder::make(&folder)?;
        let mut places = places;
        let mut from = self.base;
        let mut number = self.sealed.len();
        while from < self.end {
            let beyond = places.partition_point(|p| p.offset < from.saturating_add(STRETCH));
            let to = places.get(beyond).map_or(self.end, |next| next.offset);
            let mut bytes = vec![0; usize::try_from(to - from).unwrap_or(usize::MAX)];
            self.read(from, &mut bytes).map_err(|e| cannot("reading what is to be sealed", &e))?;
            let (here, rest) = places.split_at(beyond);
            number += 1;
            sealed::write(&sealed::name(&folder, number), from, &bytes, here)?;
            (places, from) = (rest, to);
        }
        let link = frame::link(self.end);
        folder::write_whole(&self.path, |file| file.write_all(&link))?;
        let mut again = Self::open(&self.path).map_err(|e| cannot("opening the journal", &e))?;
        // their places are known already
        again.sealed.iter_mut().for_each(|s| drop(s.take_places()));
        *self = again;
        Ok(())
    }

    /// Bytes of the sealed stretch that holds a place: copies as many as it has, and says how many.
    fn read_sealed(&self, at: u64, into: &mut [u8]) -> io::Result<usize> {
        let nth = self.sealed.partition_point(|s| s.to <= at);
        let stretch = match self.sealed.get(nth) {
            Some(stretch) if stretch.from <= at => stretch,
            next if self.lenient => {
                let gap = next.map_or(self.base, |next| next.from).saturating_sub(at);
                let most = usize::try_from(gap).unwrap_or(usize::MAX).min(into.len());
                into.iter_mut().take(most).for_each(|byte| *byte = 0);
                return Ok(most);
            }
            Some(_) | None => return Err(io::ErrorKind::UnexpectedEof.into()),
        };
        let (begin, length) = stretch.extent(at);
        let mut kept = self.block.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.as_ref().is_none_or(|(there, _)| *there != begin) {
            *kept = Some(match stretch.block(at) {
                Err(e) if self.lenient && e.kind() == io::ErrorKind::InvalidData => (begin, vec![0; length]),
                read => read?,
            });
        }
        let skip = usize::try_from(at - begin).unwrap_or(usize::MAX);
        let bytes = kept.as_ref().and_then(|(_, bytes)| bytes.get(skip..)).unwrap_or_default();
        let most = bytes.len().min(into.len());
        if let (Some(to), Some(from)) = (into.get_mut(..most), bytes.get(..most)) {
            to.copy_from_slice(from);
        }
        if most == 0 { Err(io::ErrorKind::UnexpectedEof.into()) } else { Ok(most) }
    }

    /// Where a place of the journal lies in the file.
    const fn in_file(&self, at: u64) -> u64 {
        at.saturating_sub(self.base).saturating_add(self.skip)
    }

    /// Opens a file as far as it goes at some moment, to be read only.
    ///
    /// # Errors
    /// When the system does not let us, or the file does not go that far.
    pub fn to_read(path: &Path, end: u64) -> io::Result<Self> {
        let pages = Self::of(OpenOptions::new().read(true).open(path)?, path, false)?;
        if pages.end < end {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        Ok(Self { end, ..pages })
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

    fn known(&mut self) -> Known {
        let places: Vec<Place> = self.sealed.iter_mut().flat_map(Sealed::take_places).collect();
        let end = if self.sealed.is_empty() { 0 } else { self.base };
        Known { places, end }
    }

    fn read(&self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        let (mut at, mut into) = (offset, into);
        while at < self.base && !into.is_empty() {
            let read = self.read_sealed(at, into)?;
            at = at.saturating_add(read as u64);
            into = into.get_mut(read..).unwrap_or_default();
        }
        if into.is_empty() { Ok(()) } else { self.file.read_exact_at(into, self.in_file(at)) }
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all_at(bytes, self.in_file(self.end))?;
        self.end = self.end.saturating_add(bytes.len() as u64);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        if length < self.base {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "what is sealed is never cut off"));
        }
        self.file.set_len(self.in_file(length))?;
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
