//! A backup being read, in pieces of any size as they come in. Every block is checked before it is told.

use super::{
    BEFORE_CONTENT, BROKEN, BYTES, BackupFault, CONTENT_MOST, Contents, END, FORMAT, HEAD, Head, JOURNAL, MAGIC,
    OPENING, PROGRAM, PROGRAM_MOST, ProgramHead, Tail, check, sha256_hex,
};
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

/// One checked piece of a backup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// What it is of. Always first.
    Head(Head),
    /// The next bytes of the journal.
    Journal(Vec<u8>),
    /// A program begins.
    Program(ProgramHead),
    /// Its next bytes. They are known to be right only once the next piece is told.
    Bytes(Vec<u8>),
    /// It is whole.
    End(Tail),
}

/// A backup being read.
#[derive(Default)]
pub struct Reading {
    waiting: Vec<u8>,
    /// Where `waiting` begins.
    at: u64,
    hash: Sha256,
    opened: bool,
    head: Option<Head>,
    journal_left: u64,
    program: Option<Underway>,
    programs: u64,
    tail: Option<Tail>,
}

/// A program some of whose bytes have come.
struct Underway {
    head: ProgramHead,
    left: u64,
    hash: Sha256,
}

impl Reading {
    /// Takes in what came next.
    pub fn feed(&mut self, bytes: &[u8]) {
        self.waiting.extend(bytes);
    }

    /// The next piece; none when more has to come in first.
    ///
    /// # Errors
    /// When the bytes are not those of a whole backup.
    pub fn piece(&mut self) -> Result<Option<Piece>, BackupFault> {
        if !self.opened && !self.open()? {
            return Ok(None);
        }
        if self.tail.is_some() {
            return if self.waiting.is_empty() { Ok(None) } else { Err(self.damaged("something follows its end")) };
        }
        let Some((kind, content)) = self.block()? else { return Ok(None) };
        let piece = self.told(kind, &content)?;
        let size = BEFORE_CONTENT + content.len();
        if kind != END {
            self.hash.update(self.waiting.get(..size).unwrap_or_default());
        }
        self.waiting.drain(..size);
        self.at = self.at.saturating_add(size as u64);
        Ok(Some(piece))
    }

    /// What was in it, once nothing more comes.
    ///
    /// # Errors
    /// When its end did not come.
    pub fn finish(self) -> Result<Contents, BackupFault> {
        match (self.head, self.tail) {
            (Some(head), Some(tail)) if self.waiting.is_empty() => Ok(Contents { head, tail, bytes: self.at }),
            _ => Err(BackupFault::Short { at: self.at.saturating_add(self.waiting.len() as u64) }),
        }
    }

    fn open(&mut self) -> Result<bool, BackupFault> {
        let begun = self.waiting.len().min(MAGIC.len());
        if self.waiting.get(..begun) != MAGIC.get(..begun) {
            return Err(BackupFault::NoBackup);
        }
        let Some(opening) = self.waiting.get(..OPENING) else { return Ok(false) };
        match opening {
            [.., high, low] => match u16::from_be_bytes([*high, *low]) {
                FORMAT => {}
                found if found > FORMAT => return Err(BackupFault::Newer { found }),
                _ => return Err(BackupFault::NoBackup),
            },
            _ => return Ok(false),
        }
        self.hash.update(opening);
        self.waiting.drain(..OPENING);
        self.at = OPENING as u64;
        self.opened = true;
        Ok(true)
    }

    /// The next block, once all of it is there; it is left where it is.
    fn block(&self) -> Result<Option<(u8, Vec<u8>)>, BackupFault> {
        let Some((&kind, rest)) = self.waiting.split_first() else { return Ok(None) };
        let Some((length, rest)) = rest.split_first_chunk::<4>() else { return Ok(None) };
        let length = usize::try_from(u32::from_be_bytes(*length)).unwrap_or(usize::MAX);
        if length > CONTENT_MOST {
            return Err(self.damaged("a block longer than any is"));
        }
        let Some((crc, rest)) = rest.split_first_chunk::<4>() else { return Ok(None) };
        let Some(content) = rest.get(..length) else { return Ok(None) };
        if check(kind, content) != u32::from_be_bytes(*crc) {
            return Err(self.damaged("a block's checksum is wrong"));
        }
        Ok(Some((kind, content.to_vec())))
    }

    /// What a block says, at its place among the others.
    fn told(&mut self, kind: u8, content: &[u8]) -> Result<Piece, BackupFault> {
        if kind == BROKEN {
            return Err(BackupFault::BrokenOff(String::from_utf8_lossy(content).into_owned()));
        }
        if self.head.is_none() != (kind == HEAD) {
            return Err(self.damaged("its head is not where it belongs"));
        }
        match kind {
            HEAD => {
                let head: Head = self.json(content)?;
                self.journal_left = head.journal_bytes;
                self.head = Some(head.clone());
                Ok(Piece::Head(head))
            }
            JOURNAL => {
                self.journal_left = self
                    .journal_left
                    .checked_sub(content.len() as u64)
                    .ok_or_else(|| self.damaged("the journal is longer than its head says"))?;
                Ok(Piece::Journal(content.to_vec()))
            }
            PROGRAM => {
                self.end_of_part()?;
                let head: ProgramHead = self.json(content)?;
                if head.bytes > PROGRAM_MOST {
                    return Err(self.damaged("a program longer than any is"));
                }
                self.programs += 1;
                self.program = Some(Underway { left: head.bytes, head: head.clone(), hash: Sha256::new() });
                Ok(Piece::Program(head))
            }
            BYTES => {
                let stray = self.damaged("bytes that belong to no program");
                let program = self.program.as_mut().ok_or_else(|| stray.clone())?;
                program.left = program.left.checked_sub(content.len() as u64).ok_or(stray)?;
                program.hash.update(content);
                Ok(Piece::Bytes(content.to_vec()))
            }
            END => {
                self.end_of_part()?;
                let tail: Tail = self.json(content)?;
                if tail.programs != self.programs || tail.sha256 != sha256_hex(self.hash.clone()) {
                    return Err(self.damaged("its bytes are not those its end tells of"));
                }
                self.tail = Some(tail.clone());
                Ok(Piece::End(tail))
            }
            _ => Err(self.damaged("a block of no known kind")),
        }
    }

    /// The journal, or a program, must be whole where something else begins.
    fn end_of_part(&mut self) -> Result<(), BackupFault> {
        if self.journal_left > 0 {
            return Err(self.damaged("the journal is shorter than its head says"));
        }
        match self.program.take() {
            Some(p) if p.left > 0 || sha256_hex(p.hash.clone()) != p.head.sha256 => {
                Err(self.damaged("a program's bytes do not have its hash"))
            }
            Some(_) | None => Ok(()),
        }
    }

    fn json<T: DeserializeOwned>(&self, content: &[u8]) -> Result<T, BackupFault> {
        serde_json::from_slice(content).map_err(|e| self.damaged(&format!("a block is not understood: {e}")))
    }

    fn damaged(&self, what: &str) -> BackupFault {
        BackupFault::Damaged { at: self.at, what: what.to_owned() }
    }
}
