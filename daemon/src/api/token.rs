//! The terminal's token: whoever can read its file sits at the machine. Compared in constant time.
//!
//! May live here: making, writing and comparing it. May not: what it allows.

use super::fault::ApiFault;
use std::fmt;
use std::fs::OpenOptions;
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use subtle::ConstantTimeEq;

/// The header that carries it.
pub const HEADER: &str = "chargehand-token";
/// Its file's name, in the socket's folder.
pub const FILE: &str = "terminal-token";
/// Random bytes in it.
const BYTES: usize = 32;

/// The token, as hex.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(…)")
    }
}

impl Token {
    /// A new one, by chance.
    ///
    /// # Errors
    /// When the system has no chance to give.
    pub fn make() -> Result<Self, ApiFault> {
        let mut chance = [0_u8; BYTES];
        #[allow(clippy::disallowed_methods, reason = "a token comes from chance")]
        getrandom::fill(&mut chance)
            .map_err(|e| ApiFault::io("making the terminal's token", Path::new(FILE), io::Error::other(e)))?;
        Ok(Self(chance.iter().map(|b| format!("{b:02x}")).collect()))
    }

    /// One that is known already.
    #[must_use]
    pub const fn of(hex: String) -> Self {
        Self(hex)
    }

    /// Writes it beside the socket, for its owner's eyes only, and answers where.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn write_beside(&self, socket: &Path) -> Result<PathBuf, ApiFault> {
        let path = socket.with_file_name(FILE);
        let new = socket.with_file_name(format!(".{FILE}.new"));
        let written = match std::fs::remove_file(&new) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
            Ok(()) | Err(_) => self.write(&new).and_then(|()| std::fs::rename(&new, &path)),
        };
        written.map_err(|e| ApiFault::io("writing the terminal's token", &path, e))?;
        Ok(path)
    }

    fn write(&self, path: &Path) -> io::Result<()> {
        let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)?;
        writeln!(file, "{}", self.0)
    }

    /// Whether this is it.
    #[must_use]
    pub fn is(&self, given: &[u8]) -> bool {
        self.0.as_bytes().ct_eq(given).into()
    }
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn only_the_whole_token_counts() {
        let token = Token::of("ab12".into());
        assert!(token.is(b"ab12"));
        for wrong in [&b""[..], b"ab1", b"ab123", b"AB12", b"ab13"] {
            assert!(!token.is(wrong));
        }
    }

    #[test]
    fn its_file_is_for_its_owner() {
        let dir = tempfile::tempdir().unwrap();
        let socket = dir.path().join("s.sock");
        Token::make().unwrap().write_beside(&socket).unwrap();
        let token = Token::make().unwrap();
        let path = token.write_beside(&socket).unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(token.is(text.trim().as_bytes()) && text.trim().len() == 64);
        assert_eq!(std::fs::metadata(path).unwrap().permissions().mode() & 0o777, 0o600);
        assert_eq!(format!("{token:?}"), "Token(…)", "never in a log");
    }
}
