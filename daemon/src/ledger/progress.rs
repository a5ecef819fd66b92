//! How far a cut has come, in two alternating checksummed slots of one small file. No event, never synced on its
//! own: after `kill -9` it is there, after a power cut an older one may be; it only narrows what a stop record says.
//!
//! Keys and values: slot `n` begins at byte `n * 512`: magic `FF 43 48 50`, sequence u64, length u32, CRC-32 over
//! sequence, length and payload, then the payload as JSON; numbers big-endian. The slot with the higher sequence and
//! a right CRC counts.
//!
//! May live here: the slots. May not: what progress means.

use chargehand_types::id::SheetId;
use chargehand_types::quantity::{Point, Tick};
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::FileExt;
use std::path::Path;

const SLOT: usize = 512;
const HEAD: usize = 20;
const MAGIC: [u8; 4] = [0xFF, b'C', b'H', b'P'];

/// How far a cut has come.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// The sheet being cut.
    pub sheet: SheetId,
    /// The operation, from 0.
    pub operation: u32,
    /// The last source line written to the controller.
    pub sent: Option<u32>,
    /// The last source line the controller acknowledged: parsed, not cut.
    pub acknowledged: Option<u32>,
    /// The last source line certainly finished.
    pub done: Option<u32>,
    /// Where the bit was, in work coordinates.
    pub at: Option<Point>,
    /// Machine time.
    pub tick: Tick,
}

/// The open file.
#[derive(Debug)]
pub struct ProgressFile {
    file: File,
    sequence: u64,
}

impl ProgressFile {
    /// Opens it, making it when it is not there, and reads the newest slot that is whole.
    ///
    /// # Errors
    /// When the system does not let us.
    pub fn open(path: &Path) -> io::Result<(Self, Option<Progress>)> {
        let file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path)?;
        let slots = [read_slot(&file, 0)?, read_slot(&file, 1)?];
        let newest = slots.into_iter().flatten().max_by_key(|(sequence, _)| *sequence);
        let (sequence, progress) = newest.map_or((0, None), |(n, p)| (n, Some(p)));
        Ok((Self { file, sequence }, progress))
    }

    /// Writes over the older slot.
    ///
    /// # Errors
    /// When it does not fit a slot or the system does not let us.
    pub fn write(&mut self, progress: &Progress) -> io::Result<()> {
        let sequence = self.sequence.saturating_add(1);
        let slot = encode(sequence, progress)?;
        self.file.write_all_at(&slot, offset(sequence))?;
        self.sequence = sequence;
        Ok(())
    }
}

const fn offset(sequence: u64) -> u64 {
    (sequence % 2) * SLOT as u64
}

fn encode(sequence: u64, progress: &Progress) -> io::Result<Vec<u8>> {
    let payload = serde_json::to_vec(progress)?;
    if payload.len() > SLOT - HEAD {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "the progress does not fit a slot"));
    }
    let length = u32::try_from(payload.len()).unwrap_or(u32::MAX);
    let mut covered = sequence.to_be_bytes().to_vec();
    covered.extend(length.to_be_bytes());
    let crc = check(&covered, &payload);
    let mut slot = MAGIC.to_vec();
    slot.extend(covered);
    slot.extend(crc.to_be_bytes());
    slot.extend(payload);
    slot.resize(SLOT, 0);
    Ok(slot)
}

fn check(covered: &[u8], payload: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(covered);
    crc.update(payload);
    crc.finalize()
}

fn read_slot(file: &File, which: u64) -> io::Result<Option<(u64, Progress)>> {
    let mut slot = [0_u8; SLOT];
    match file.read_exact_at(&mut slot, offset(which)) {
        Ok(()) => Ok(decode(&slot)),
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => Ok(None),
        Err(e) => Err(e),
    }
}

/// The slot's content; none when it is torn, empty or foreign.
fn decode(slot: &[u8]) -> Option<(u64, Progress)> {
    let rest = slot.strip_prefix(&MAGIC)?;
    let (sequence, rest) = rest.split_first_chunk::<8>()?;
    let (length, rest) = rest.split_first_chunk::<4>()?;
    let (crc, rest) = rest.split_first_chunk::<4>()?;
    let payload = rest.get(..usize::try_from(u32::from_be_bytes(*length)).ok()?)?;
    let mut covered = sequence.to_vec();
    covered.extend(length);
    if check(&covered, payload) != u32::from_be_bytes(*crc) {
        return None;
    }
    Some((u64::from_be_bytes(*sequence), serde_json::from_slice(payload).ok()?))
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests {
    use super::*;

    fn at_line(line: u32) -> Progress {
        Progress {
            sheet: SheetId::from("B1-1"),
            operation: 0,
            sent: Some(line + 20),
            acknowledged: Some(line + 9),
            done: Some(line),
            at: Some(Point::default()),
            tick: Tick(u64::from(line) * 1000),
        }
    }

    #[test]
    fn the_newest_progress_is_read() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("progress");
        let (mut file, none) = ProgressFile::open(&path).unwrap();
        assert_eq!(none, None);
        for line in 1..=7 {
            file.write(&at_line(line)).unwrap();
            let (_, read) = ProgressFile::open(&path).unwrap();
            assert_eq!(read, Some(at_line(line)));
        }
    }

    #[test]
    fn a_torn_slot_leaves_the_older_one() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("progress");
        let (mut file, _) = ProgressFile::open(&path).unwrap();
        file.write(&at_line(1)).unwrap();
        file.write(&at_line(2)).unwrap();
        let whole = std::fs::read(&path).unwrap();
        let written = HEAD + serde_json::to_vec(&at_line(2)).unwrap().len();
        for at in 0..written {
            let mut torn = whole.clone();
            torn[at] ^= 0x10; // sequence 2 stands in slot 0
            std::fs::write(&path, torn).unwrap();
            let (mut reopened, read) = ProgressFile::open(&path).unwrap();
            assert_eq!(read, Some(at_line(1)), "byte {at}");
            reopened.write(&at_line(3)).unwrap();
            assert_eq!(ProgressFile::open(&path).unwrap().1, Some(at_line(3)));
        }
    }

    #[test]
    fn progress_beyond_a_slot_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let (mut file, _) = ProgressFile::open(&dir.path().join("progress")).unwrap();
        let long = Progress { sheet: SheetId("x".repeat(600)), ..at_line(1) };
        assert!(file.write(&long).is_err());
    }
}
