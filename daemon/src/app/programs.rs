//! The programs of a judged card: short ones are held as they are, long ones lie on the store's shelf and are read from
//! there again, so that what is streamed is never held as a whole.
//!
//! May live here: where the bytes of a program are. May not: what is in them.

use crate::ledger::{Ledger, sha256_of};
use chargehand_types::event::StoredProgram;
use chargehand_types::problem::{Problem, ProblemKind};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read as _, Seek as _};
use std::path::PathBuf;

/// Bytes by the path that the card gives.
pub type Texts = BTreeMap<String, Vec<u8>>;

/// Programs of a card that are longer than this together are not held.
const HELD_MOST: usize = 256 * 1024;

/// The programs of a card.
#[derive(Debug, Clone)]
pub enum Programs {
    /// As they are.
    Held(Texts),
    /// On the shelf.
    Shelved(BTreeMap<String, Shelved>),
}

/// A program on the shelf.
#[derive(Debug, Clone)]
pub struct Shelved {
    file: PathBuf,
    sha256: String,
}

impl Programs {
    /// Lets go of long programs, where all of them are on the shelf; `stored` names them as the card does.
    #[must_use]
    pub fn shelved(self, ledger: &Ledger, stored: &[StoredProgram]) -> Self {
        let Self::Held(texts) = &self else { return self };
        if self.are_short() {
            return self;
        }
        let place = |name: &String| {
            let found = stored.iter().find(|s| s.path == *name)?;
            let file = ledger.program_file(&found.sha256)?;
            Some((name.clone(), Shelved { file, sha256: found.sha256.clone() }))
        };
        match texts.keys().map(place).collect::<Option<BTreeMap<_, _>>>() {
            Some(all) => Self::Shelved(all),
            None => self,
        }
    }

    /// Whether they are short enough to be held.
    #[must_use]
    pub fn are_short(&self) -> bool {
        match self {
            Self::Held(texts) => texts.values().map(Vec::len).sum::<usize>() <= HELD_MOST,
            Self::Shelved(_) => false,
        }
    }

    /// All of them, read where they are not held. May take as long as a disk does.
    ///
    /// # Errors
    /// When the shelf does not give one, or gives other bytes than were put there.
    pub fn all(&self) -> Result<Cow<'_, Texts>, Problem> {
        match self {
            Self::Held(texts) => Ok(Cow::Borrowed(texts)),
            Self::Shelved(shelved) => {
                let read = |(name, program): (&String, &Shelved)| {
                    let mut file = program.open()?;
                    let mut bytes = Vec::new();
                    file.read_to_end(&mut bytes).map_err(|e| lost(program, &e))?;
                    Ok((name.clone(), bytes))
                };
                shelved.iter().map(read).collect::<Result<Texts, Problem>>().map(Cow::Owned)
            }
        }
    }

    /// One that is on the shelf, opened at its first byte once all of it was found to be what was put there; none where it
    /// is held. May take as long as a disk does.
    ///
    /// # Errors
    /// When the shelf does not give it, or gives other bytes.
    pub fn open(&self, name: &str) -> Result<Option<File>, Problem> {
        match self {
            Self::Held(_) => Ok(None),
            Self::Shelved(shelved) => shelved.get(name).map(Shelved::open).transpose(),
        }
    }

    /// The bytes of one that is held.
    #[must_use]
    pub fn held(&self, name: &str) -> Option<&[u8]> {
        match self {
            Self::Held(texts) => texts.get(name).map(Vec::as_slice),
            Self::Shelved(_) => None,
        }
    }
}

impl Shelved {
    #[allow(clippy::disallowed_methods, reason = "long programs are streamed from their file")]
    fn open(&self) -> Result<File, Problem> {
        let mut file = File::open(&self.file).map_err(|e| lost(self, &e))?;
        let found = sha256_of(&mut file).map_err(|e| lost(self, &e))?;
        if found != self.sha256 {
            return Err(lost(self, &io::Error::other("its bytes are no longer those that were stored")));
        }
        file.rewind().map_err(|e| lost(self, &e))?;
        Ok(file)
    }
}

fn lost(program: &Shelved, why: &io::Error) -> Problem {
    let text = format!(
        "The stored program {} cannot be read: {why}. Add its card again; that mends it.",
        program.file.display()
    );
    Problem::new(ProblemKind::MissingOrBusy, text)
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests {
    use super::*;

    fn shelf(bytes: &[u8]) -> (tempfile::TempDir, Ledger, Vec<StoredProgram>) {
        let dir = tempfile::tempdir().unwrap();
        let (ledger, _) = Ledger::open(dir.path()).unwrap();
        let sha256 = ledger.put_program_blocking(bytes.to_vec()).unwrap();
        let stored = vec![StoredProgram { path: "a.nc".into(), sha256, bytes: bytes.len() as u64 }];
        (dir, ledger, stored)
    }

    fn held(bytes: &[u8]) -> Programs {
        Programs::Held([("a.nc".to_owned(), bytes.to_vec())].into())
    }

    #[test]
    fn short_programs_are_held_and_long_ones_are_not() {
        let (short, long) = (b"G0 X1\n".to_vec(), b"G0 X1\n".repeat(100_000));
        let (_dir, ledger, stored) = shelf(&short);
        assert!(matches!(held(&short).shelved(&ledger, &stored), Programs::Held(_)));
        let (_dir, ledger, stored) = shelf(&long);
        let there = held(&long).shelved(&ledger, &stored);
        assert!(matches!(there, Programs::Shelved(_)) && there.held("a.nc").is_none());
        assert_eq!(there.all().unwrap().get("a.nc"), Some(&long));
        let mut bytes = Vec::new();
        there.open("a.nc").unwrap().unwrap().read_to_end(&mut bytes).unwrap();
        assert_eq!(bytes, long);
    }

    #[test]
    fn one_that_is_not_on_the_shelf_is_held() {
        let long = b"G0 X1\n".repeat(100_000);
        let (_dir, ledger, _) = shelf(&long);
        assert!(matches!(held(&long).shelved(&ledger, &[]), Programs::Held(_)));
    }

    #[test]
    fn other_bytes_than_were_stored_are_not_streamed() {
        let long = b"G0 X1\n".repeat(100_000);
        let (dir, ledger, stored) = shelf(&long);
        let there = held(&long).shelved(&ledger, &stored);
        let sha = &stored[0].sha256;
        std::fs::write(dir.path().join("programs").join(&sha[..2]).join(&sha[2..]), b"G0 X2\n").unwrap();
        let why = there.open("a.nc").unwrap_err();
        assert!(why.detail.contains("no longer those"), "{why}");
        assert!(there.all().is_err());
    }
}
