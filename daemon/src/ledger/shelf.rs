//! The shelf: programs as files named by the SHA-256 of their bytes, `programs/ab/cdef…`, written whole and synced
//! before any event names them, and checked on every reading.
//!
//! May live here: putting and getting bytes. May not: what is in them.

use super::fault::LedgerFault;
use super::folder;
use sha2::{Digest, Sha256};
use std::fs::OpenOptions;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// The largest program kept.
pub const PROGRAM_MOST: u64 = 256 * 1024 * 1024;

/// The shelf's folder.
#[derive(Debug)]
pub struct Shelf {
    dir: PathBuf,
}

/// SHA-256 in lower-case hex of what is read, to its end.
///
/// # Errors
/// When it cannot be read.
pub fn sha256_of(read: &mut impl Read) -> io::Result<String> {
    let mut sum = Sha256::new();
    let mut piece = vec![0; 64 * 1024];
    loop {
        match read.read(&mut piece) {
            Ok(0) => return Ok(hex(&sum.finalize())),
            Ok(n) => sum.update(piece.get(..n).unwrap_or_default()),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

/// The file of a program in a store's folder, whether it is there or not; none for what is no hash.
#[must_use]
pub fn file_in(store: &Path, sha256: &str) -> Option<PathBuf> {
    let shelf = Shelf { dir: store.join("programs") };
    shelf.place(sha256).ok().map(|(_, path)| path)
}

/// SHA-256 in lower-case hex.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

impl Shelf {
    /// Opens the shelf, making its folder.
    ///
    /// # Errors
    /// When the folder cannot be made.
    pub fn open(dir: &Path) -> Result<Self, LedgerFault> {
        folder::make(dir)?;
        Ok(Self { dir: dir.to_owned() })
    }

    /// Puts a program on the shelf and answers its hash, once file and folder are on the disk.
    ///
    /// # Errors
    /// When it is too large or the disk does not take it.
    pub fn put(&self, bytes: &[u8]) -> Result<String, LedgerFault> {
        let found = bytes.len() as u64;
        if found > PROGRAM_MOST {
            return Err(LedgerFault::TooLarge { what: "a program (in bytes)", found, most: PROGRAM_MOST });
        }
        let sha256 = sha256_hex(bytes);
        let (sub, path) = self.place(&sha256)?;
        if self.get(&sha256).is_ok_and(|there| there == bytes) {
            return Ok(sha256);
        }
        folder::make(&sub)?;
        folder::write_whole(&path, |file| file.write_all(bytes))?;
        Ok(sha256)
    }

    /// A program's bytes.
    ///
    /// # Errors
    /// When there is none of this hash, or its bytes no longer have it.
    pub fn get(&self, sha256: &str) -> Result<Vec<u8>, LedgerFault> {
        let (_, path) = self.place(sha256)?;
        let file = match OpenOptions::new().read(true).open(&path) {
            Ok(file) => file,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                return Err(LedgerFault::NoProgram { sha256: sha256.to_owned() });
            }
            Err(e) => return Err(LedgerFault::io("opening a stored program", &path, &e)),
        };
        let mut bytes = Vec::new();
        file.take(PROGRAM_MOST.saturating_add(1))
            .read_to_end(&mut bytes)
            .map_err(|e| LedgerFault::io("reading a stored program", &path, &e))?;
        if sha256_hex(&bytes) == sha256 {
            Ok(bytes)
        } else {
            Err(LedgerFault::ProgramDamaged { sha256: sha256.to_owned() })
        }
    }

    /// Folder and file of a hash. Anything but 64 lower-case hex digits names no program, so no path leads outside.
    fn place(&self, sha256: &str) -> Result<(PathBuf, PathBuf), LedgerFault> {
        let plain = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
        match sha256.split_at_checked(2) {
            Some((first, rest)) if plain => {
                let sub = self.dir.join(first);
                let path = sub.join(rest);
                Ok((sub, path))
            }
            Some(_) | None => Err(LedgerFault::NoProgram { sha256: sha256.to_owned() }),
        }
    }
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_standards() {
        // FIPS 180-4's worked example for SHA-256: the message "abc".
        assert_eq!(sha256_hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_hash_in_pieces_is_the_same() {
        let bytes = vec![7; 200_000];
        assert_eq!(sha256_of(&mut bytes.as_slice()).unwrap(), sha256_hex(&bytes));
    }

    #[test]
    fn what_is_put_is_got() {
        let dir = tempfile::tempdir().unwrap();
        let shelf = Shelf::open(&dir.path().join("programs")).unwrap();
        let sha = shelf.put(b"G0 X1\n").unwrap();
        assert_eq!(shelf.put(b"G0 X1\n").unwrap(), sha);
        assert_eq!(shelf.get(&sha).unwrap(), b"G0 X1\n");
        let kept = dir.path().join("programs").join(&sha[..2]);
        assert_eq!(std::fs::read_dir(kept).unwrap().count(), 1, "no temporary file is left");
    }

    #[test]
    fn a_changed_program_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let shelf = Shelf::open(dir.path()).unwrap();
        let sha = shelf.put(b"G0 X1\n").unwrap();
        std::fs::write(dir.path().join(&sha[..2]).join(&sha[2..]), b"G0 X2\n").unwrap();
        assert_eq!(shelf.get(&sha), Err(LedgerFault::ProgramDamaged { sha256: sha.clone() }));
        // Adding it again from its own file mends it.
        assert_eq!(shelf.put(b"G0 X1\n").unwrap(), sha);
        assert_eq!(shelf.get(&sha).unwrap(), b"G0 X1\n");
    }

    #[test]
    fn no_path_leads_outside() {
        let dir = tempfile::tempdir().unwrap();
        let shelf = Shelf::open(dir.path()).unwrap();
        for name in ["", "..", "../../etc/passwd", &"A".repeat(64), "é", &"é".repeat(32)] {
            assert!(matches!(shelf.get(name), Err(LedgerFault::NoProgram { .. })), "{name}");
        }
    }
}
