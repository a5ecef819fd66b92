//! Sealed stretches of the journal: bytes that never change any more, packed, each in a file of its own beside it.
//!
//! The journal stays one run of bytes from 0 on; `sealed/000001` holds its begin, `sealed/000002` what follows, and the
//! file `journal` the rest. A sealed file, numbers big-endian:
//!
//! | what | bytes |
//! |---|---|
//! | blocks of up to 256 KiB of the journal, each by itself as raw deflate (RFC 1951) | |
//! | table, as raw deflate: per block its packed length (u32) and the CRC-32 of its bytes (u32); then per record whose frame begins here the step from the last one's offset (u32) and its checksum (u32) | |
//! | from, to: which bytes of the journal | 16 |
//! | blocks, records, packed and plain length of the table (u32 each) | 16 |
//! | CRC-32 of the plain table and of the numbers before | 4 |
//! | magic `FF 43 48 5A` | 4 |
//!
//! It is written whole under a temporary name and synced before the journal lets go of those bytes.
//!
//! May live here: that format. May not: when something is sealed.

use super::fault::LedgerFault;
use super::folder;
use super::scan::Place;
use flate2::Compression;
use flate2::read::{DeflateDecoder, DeflateEncoder};
use std::fs::File;
use std::io::{self, Read, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

/// Bytes of the journal in one block.
const BLOCK: usize = 256 * 1024;
const MAGIC: [u8; 4] = [0xFF, b'C', b'H', b'Z'];
const TRAILER: usize = 40;
/// A table longer than this is none: records are at least as long as their heads.
const TABLE_MOST: usize = 1 << 30;

/// One sealed file, open for reading.
#[derive(Debug)]
pub(super) struct Sealed {
    file: File,
    path: PathBuf,
    /// Which bytes of the journal it holds.
    pub from: u64,
    pub to: u64,
    blocks: Vec<Block>,
    places: Vec<Place>,
}

#[derive(Debug, Clone, Copy)]
struct Block {
    at: u64,
    packed: u32,
    crc: u32,
}

/// The name of the sealed file of a number, from 1.
pub(super) fn name(folder: &Path, number: usize) -> PathBuf {
    folder.join(format!("{number:06}"))
}

/// Seals bytes `from..` of the journal; `places` are those of the records that begin in them.
///
/// # Errors
/// When the disk does not take it; nothing is there under the name then.
pub(super) fn write(path: &Path, from: u64, bytes: &[u8], places: &[Place]) -> Result<(), LedgerFault> {
    let mut packed = Vec::new();
    let mut table = Vec::new();
    let cannot = |e: &io::Error| LedgerFault::io("sealing a stretch of the journal", path, e);
    for block in bytes.chunks(BLOCK) {
        let one = pack(block).map_err(|e| cannot(&e))?;
        table.extend(length(one.len())?.to_be_bytes());
        table.extend(crc32fast::hash(block).to_be_bytes());
        packed.extend(one);
    }
    let mut last = from;
    for place in places {
        table.extend(length(usize::try_from(place.offset.saturating_sub(last)).unwrap_or(usize::MAX))?.to_be_bytes());
        table.extend(place.crc.to_be_bytes());
        last = place.offset;
    }
    let packed_table = pack(&table).map_err(|e| cannot(&e))?;
    let mut trailer = Vec::with_capacity(TRAILER);
    trailer.extend(from.to_be_bytes());
    trailer.extend(from.saturating_add(bytes.len() as u64).to_be_bytes());
    for n in [bytes.len().div_ceil(BLOCK), places.len(), packed_table.len(), table.len()] {
        trailer.extend(length(n)?.to_be_bytes());
    }
    trailer.extend(check(&table, &trailer).to_be_bytes());
    trailer.extend(MAGIC);
    folder::write_whole(path, |file| {
        file.write_all(&packed)?;
        file.write_all(&packed_table)?;
        file.write_all(&trailer)
    })
}

fn length(n: usize) -> Result<u32, LedgerFault> {
    u32::try_from(n).map_err(|_| LedgerFault::TooLarge {
        what: "a sealed stretch (in bytes)",
        found: n as u64,
        most: u64::from(u32::MAX),
    })
}

fn check(table: &[u8], numbers: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(table);
    crc.update(numbers);
    crc.finalize()
}

fn pack(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut out = Vec::new();
    DeflateEncoder::new(bytes, Compression::default()).read_to_end(&mut out)?;
    Ok(out)
}

/// Unpacks to exactly so many bytes.
fn unpack(packed: &[u8], plain: usize) -> io::Result<Vec<u8>> {
    let mut out = Vec::with_capacity(plain);
    DeflateDecoder::new(packed).take(plain as u64 + 1).read_to_end(&mut out)?;
    if out.len() == plain { Ok(out) } else { Err(harmed("a block is not as long as it was")) }
}

fn harmed(what: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, format!("a sealed stretch is harmed: {what}"))
}

impl Sealed {
    /// Opens a sealed file and reads its table.
    ///
    /// # Errors
    /// When it is not whole, or the disk says so.
    pub fn open(path: &Path) -> io::Result<Self> {
        let file = folder::open(path)?;
        let size = file.metadata()?.len();
        let trailer_at = size.checked_sub(TRAILER as u64).ok_or_else(|| harmed("it is too short"))?;
        let mut trailer = [0; TRAILER];
        file.read_exact_at(&mut trailer, trailer_at)?;
        let mut numbers = Numbers(&trailer);
        let (from, to) = (numbers.long()?, numbers.long()?);
        let [blocks, records, packed, plain] =
            [numbers.short()?, numbers.short()?, numbers.short()?, numbers.short()?].map(|n| n as usize);
        let crc = numbers.short()?;
        if numbers.0 != MAGIC || plain > TABLE_MOST || plain != (blocks + records) * 8 || from >= to {
            return Err(harmed("its end is not as it was written"));
        }
        let table_at = trailer_at.checked_sub(packed as u64).ok_or_else(|| harmed("its table is missing"))?;
        let mut table = vec![0; packed];
        file.read_exact_at(&mut table, table_at)?;
        let table = unpack(&table, plain)?;
        if check(&table, trailer.get(..32).unwrap_or_default()) != crc {
            return Err(harmed("the checksum of its table is wrong"));
        }
        let mut numbers = Numbers(&table);
        let mut at = 0_u64;
        let mut of_blocks = Vec::with_capacity(blocks);
        for _ in 0..blocks {
            let block = Block { at, packed: numbers.short()?, crc: numbers.short()? };
            at = at.saturating_add(u64::from(block.packed));
            of_blocks.push(block);
        }
        if at != table_at || to - from > blocks as u64 * BLOCK as u64 {
            return Err(harmed("its blocks are not as its table has them"));
        }
        let mut places = Vec::with_capacity(records);
        let mut offset = from;
        for _ in 0..records {
            offset = offset.saturating_add(u64::from(numbers.short()?));
            places.push(Place { offset, crc: numbers.short()? });
        }
        Ok(Self { file, path: path.to_owned(), from, to, blocks: of_blocks, places })
    }

    /// Gives up the places of its records; they are asked for once.
    pub fn take_places(&mut self) -> Vec<Place> {
        std::mem::take(&mut self.places)
    }

    /// The block that holds a byte of the journal: its number, where it begins, and its bytes, checked.
    ///
    /// # Errors
    /// When it is harmed, or the disk says so.
    pub fn block(&self, at: u64) -> io::Result<(u64, Vec<u8>)> {
        let nth = at.saturating_sub(self.from) / BLOCK as u64;
        let block =
            usize::try_from(nth).ok().and_then(|n| self.blocks.get(n)).ok_or_else(|| harmed("a block is missing"))?;
        let begin = self.from + nth * BLOCK as u64;
        let plain = usize::try_from((self.to - begin).min(BLOCK as u64)).unwrap_or(BLOCK);
        let mut packed = vec![0; block.packed as usize];
        self.file.read_exact_at(&mut packed, block.at)?;
        let bytes = unpack(&packed, plain).map_err(|_| self.harmed_at(begin))?;
        if crc32fast::hash(&bytes) == block.crc { Ok((begin, bytes)) } else { Err(self.harmed_at(begin)) }
    }

    /// How many bytes the block has that holds a byte of the journal, and where it begins, without reading it.
    pub fn extent(&self, at: u64) -> (u64, usize) {
        let begin = self.from + at.saturating_sub(self.from) / BLOCK as u64 * BLOCK as u64;
        (begin, usize::try_from((self.to - begin).min(BLOCK as u64)).unwrap_or(BLOCK))
    }

    fn harmed_at(&self, begin: u64) -> io::Error {
        harmed(&format!("the bytes of {} from {begin} on are not those that were written", self.path.display()))
    }
}

/// Numbers read one after the other.
struct Numbers<'a>(&'a [u8]);

impl Numbers<'_> {
    fn short(&mut self) -> io::Result<u32> {
        let (number, rest) = self.0.split_first_chunk::<4>().ok_or_else(|| harmed("a number is missing"))?;
        self.0 = rest;
        Ok(u32::from_be_bytes(*number))
    }

    fn long(&mut self) -> io::Result<u64> {
        let (number, rest) = self.0.split_first_chunk::<8>().ok_or_else(|| harmed("a number is missing"))?;
        self.0 = rest;
        Ok(u64::from_be_bytes(*number))
    }
}
