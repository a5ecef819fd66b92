//! A disk that keeps a live and a durable image and crashes at a chosen operation.

use crate::ledger::journal::Header;
use crate::ledger::pages::Pages;
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex};

/// What becomes of bytes that were written but not synced when the power went.
#[derive(Debug, Clone, Copy)]
pub enum Unsynced {
    /// None of them is there.
    Lost,
    /// The first half is there.
    Half,
    /// All are there.
    Kept,
    /// The file is as long, but the second half reads as zeros.
    Zeros,
}

impl Unsynced {
    pub const ALL: [Self; 4] = [Self::Lost, Self::Half, Self::Kept, Self::Zeros];
}

#[derive(Debug, Default)]
struct Image {
    live: Vec<u8>,
    durable: Vec<u8>,
    aside: Vec<Vec<u8>>,
    operations: usize,
    crash_at: Option<usize>,
    full_at: Option<usize>,
}

/// The disk; clones are the same disk.
#[derive(Debug, Clone, Default)]
pub struct CrashDisk(Arc<Mutex<Image>>);

pub fn header() -> Header {
    Header { journal: "beef".into(), made_by: "test".into() }
}

impl CrashDisk {
    /// With an empty journal on it.
    pub fn new() -> Self {
        Self::holding(header().framed())
    }

    pub fn holding(bytes: Vec<u8>) -> Self {
        let image = Image { live: bytes.clone(), durable: bytes, ..Image::default() };
        Self(Arc::new(Mutex::new(image)))
    }

    /// Loses power in the middle of this operation, counted from 0.
    pub fn crash_at(self, operation: usize) -> Self {
        self.0.lock().unwrap().crash_at = Some(operation);
        self
    }

    /// Is full at this operation: half of what is appended gets through, once.
    pub fn full_at(self, operation: usize) -> Self {
        self.0.lock().unwrap().full_at = Some(operation);
        self
    }

    pub fn operations(&self) -> usize {
        self.0.lock().unwrap().operations
    }

    pub fn live(&self) -> Vec<u8> {
        self.0.lock().unwrap().live.clone()
    }

    pub fn aside(&self) -> Vec<Vec<u8>> {
        self.0.lock().unwrap().aside.clone()
    }

    /// The disk as it is found after the power comes back.
    pub fn after_power_cut(&self, unsynced: Unsynced) -> Self {
        let image = self.0.lock().unwrap();
        let mut found = image.live.clone();
        let synced = image.durable.len().min(found.len());
        let middle = synced + (found.len() - synced) / 2;
        match unsynced {
            Unsynced::Lost => found.truncate(synced),
            Unsynced::Half => found.truncate(middle),
            Unsynced::Kept => {}
            Unsynced::Zeros => found[middle..].fill(0),
        }
        Self::holding(found)
    }

    fn count(image: &mut Image) -> io::Result<()> {
        let now = image.operations;
        image.operations += 1;
        match image.crash_at {
            Some(crash) if now >= crash => Err(io::Error::other("the power is gone")),
            Some(_) | None => Ok(()),
        }
    }
}

impl Pages for CrashDisk {
    fn path(&self) -> &Path {
        Path::new("journal")
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.0.lock().unwrap().live.len() as u64)
    }

    fn read(&self, offset: u64, into: &mut [u8]) -> io::Result<()> {
        let image = self.0.lock().unwrap();
        let from = usize::try_from(offset).unwrap();
        let bytes = image.live.get(from..from + into.len()).ok_or(io::ErrorKind::UnexpectedEof)?;
        into.copy_from_slice(bytes);
        Ok(())
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut image = self.0.lock().unwrap();
        let was_dead = image.crash_at.is_some_and(|at| image.operations > at);
        let counted = Self::count(&mut image);
        if counted.is_err() {
            if !was_dead {
                image.live.extend(&bytes[..bytes.len() / 2]);
            }
            return counted;
        }
        if image.full_at.is_some_and(|at| at + 1 == image.operations) {
            image.live.extend(&bytes[..bytes.len() / 2]);
            return Err(io::ErrorKind::StorageFull.into());
        }
        image.live.extend(bytes);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut image = self.0.lock().unwrap();
        Self::count(&mut image)?;
        image.durable = image.live.clone();
        Ok(())
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut image = self.0.lock().unwrap();
        Self::count(&mut image)?;
        image.live.truncate(usize::try_from(length).unwrap());
        image.durable = image.live.clone();
        Ok(())
    }

    fn keep_aside(&mut self, bytes: &[u8]) -> io::Result<String> {
        let mut image = self.0.lock().unwrap();
        Self::count(&mut image)?;
        image.aside.push(bytes.to_vec());
        Ok("journal-1.torn".into())
    }
}
