//! A backup as it crosses the wire and lies in a file: the journal, byte by byte, and every program its records name.
//! Whoever receives one checks it while it comes in; nothing needs the store to tell whether it is whole.
//!
//! # Byte by byte
//!
//! Six bytes `FF 43 48 42` and the format's version (u16), then blocks; numbers big-endian:
//!
//! | bytes | what |
//! |---|---|
//! | 0 | kind: `h` head, `j` piece of the journal, `p` a program begins, `b` piece of it, `e` end, `x` broken off |
//! | 1-4 | length of the content |
//! | 5-8 | CRC-32 (IEEE 802.3) over kind, length and content |
//! | 9- | content |
//!
//! Order: `h`, every `j`, then for each program `p` and its `b`s, `e`. `h`, `p` and `e` are JSON; `e` tells the SHA-256 of
//! every byte before it. `x` says in words why no end will come. Without an `e` a backup is not whole.
//!
//! May live here: writing and reading these bytes. May not: files; what the records say.

mod reading;
#[cfg(test)]
mod tests;
mod writing;

pub use reading::{Piece, Reading};
pub use writing::Writing;

use crate::id::Seq;
use serde::{Deserialize, Serialize};
use sha2::Digest;

/// The version of the format that this build writes.
pub const FORMAT: u16 = 1;
/// Bytes of content in a block at most.
pub const CONTENT_MOST: usize = 1024 * 1024;
/// Bytes of one program at most; the shelf takes no larger one.
pub const PROGRAM_MOST: u64 = 256 * 1024 * 1024;

const MAGIC: [u8; 4] = [0xFF, b'C', b'H', b'B'];
const OPENING: usize = 6;
const BEFORE_CONTENT: usize = 9;

const HEAD: u8 = b'h';
const JOURNAL: u8 = b'j';
const PROGRAM: u8 = b'p';
const BYTES: u8 = b'b';
const END: u8 = b'e';
const BROKEN: u8 = b'x';

/// What a backup is of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// The journal's own name.
    pub journal: String,
    /// Its last record.
    pub last: Seq,
    /// Bytes of the journal.
    pub journal_bytes: u64,
    /// Which program made it.
    pub made_by: String,
}

/// One program begins.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProgramHead {
    /// Of its bytes, in hex.
    pub sha256: String,
    /// How many they are.
    pub bytes: u64,
}

/// How a backup ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tail {
    /// Of every byte before this block, in hex.
    pub sha256: String,
    /// Programs in it.
    pub programs: u64,
    /// Programs that records name and the store could not give, as sentences.
    pub left_out: Vec<String>,
}

/// What is in a backup that was read to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contents {
    /// Of what.
    pub head: Head,
    /// How it ended.
    pub tail: Tail,
    /// All of it, in bytes.
    pub bytes: u64,
}

impl Contents {
    /// One sentence.
    #[must_use]
    pub fn told(&self) -> String {
        let programs = match self.tail.programs {
            1 => "1 program".to_owned(),
            n => format!("{n} programs"),
        };
        format!("{} records of the journal {} and {programs}, {} bytes", self.head.last, self.head.journal, self.bytes)
    }
}

/// Why a backup cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BackupFault {
    /// Something else.
    #[error("it is no backup of Chargehand, or its first bytes were changed")]
    NoBackup,
    /// Of a later build.
    #[error(
        "it was made by a newer Chargehand (format {found}, this one knows formats up to {FORMAT}); use the newer one"
    )]
    Newer {
        /// The version found.
        found: u16,
    },
    /// The end is missing.
    #[error("it is not whole: it ends at byte {at}, before its end was written")]
    Short {
        /// Where.
        at: u64,
    },
    /// Bytes are not those that were written.
    #[error("it is damaged at byte {at}: {what}")]
    Damaged {
        /// Where.
        at: u64,
        /// What was found.
        what: String,
    },
    /// The store could not give the rest.
    #[error("its making was broken off: {0}")]
    BrokenOff(String),
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn sha256_hex(hash: sha2::Sha256) -> String {
    hex(&hash.finalize())
}

fn check(kind: u8, content: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(&[kind]);
    crc.update(&length(content).to_be_bytes());
    crc.update(content);
    crc.finalize()
}

fn length(content: &[u8]) -> u32 {
    u32::try_from(content.len()).unwrap_or(u32::MAX)
}
