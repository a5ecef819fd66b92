//! A backup being written: each call gives the bytes that come next.

use super::{
    BEFORE_CONTENT, BROKEN, BYTES, CONTENT_MOST, END, FORMAT, HEAD, Head, JOURNAL, MAGIC, PROGRAM, ProgramHead, Tail,
    check, length, sha256_hex,
};
use serde::Serialize;
use sha2::{Digest, Sha256};

/// A backup being written.
pub struct Writing {
    hash: Sha256,
    programs: u64,
}

impl Writing {
    /// Begins one: its first bytes.
    #[must_use]
    pub fn begin(head: &Head) -> (Self, Vec<u8>) {
        let mut writing = Self { hash: Sha256::new(), programs: 0 };
        let mut bytes = MAGIC.to_vec();
        bytes.extend(FORMAT.to_be_bytes());
        writing.hash.update(&bytes);
        bytes.extend(writing.block(HEAD, &json(head)));
        (writing, bytes)
    }

    /// The next bytes of the journal.
    #[must_use]
    pub fn journal(&mut self, bytes: &[u8]) -> Vec<u8> {
        self.pieces(JOURNAL, bytes)
    }

    /// A program, whole.
    #[must_use]
    pub fn program(&mut self, sha256: &str, bytes: &[u8]) -> Vec<u8> {
        self.programs += 1;
        let head = ProgramHead { sha256: sha256.to_owned(), bytes: bytes.len() as u64 };
        let mut out = self.block(PROGRAM, &json(&head));
        out.extend(self.pieces(BYTES, bytes));
        out
    }

    /// The last bytes. `left_out` tells what could not be given.
    #[must_use]
    pub fn end(self, left_out: Vec<String>) -> Vec<u8> {
        let tail = Tail { sha256: sha256_hex(self.hash), programs: self.programs, left_out };
        framed(END, &json(&tail))
    }

    /// The last bytes when no end can come.
    #[must_use]
    pub fn broken_off(why: &str) -> Vec<u8> {
        framed(BROKEN, why.as_bytes().get(..CONTENT_MOST).unwrap_or(why.as_bytes()))
    }

    fn pieces(&mut self, kind: u8, bytes: &[u8]) -> Vec<u8> {
        bytes.chunks(CONTENT_MOST).flat_map(|piece| self.block(kind, piece)).collect()
    }

    fn block(&mut self, kind: u8, content: &[u8]) -> Vec<u8> {
        let block = framed(kind, content);
        self.hash.update(&block);
        block
    }
}

fn framed(kind: u8, content: &[u8]) -> Vec<u8> {
    let mut block = Vec::with_capacity(BEFORE_CONTENT + content.len());
    block.push(kind);
    block.extend(length(content).to_be_bytes());
    block.extend(check(kind, content).to_be_bytes());
    block.extend(content);
    block
}

/// Plain texts and numbers: this cannot fail, and an empty block would be refused by whoever reads it.
fn json<T: Serialize>(value: &T) -> Vec<u8> {
    serde_json::to_vec(value).unwrap_or_default()
}
