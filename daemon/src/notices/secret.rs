//! A password, read from its file. It is shown nowhere: not in a log, not in an answer, not in what did not get through.

use std::path::Path;

/// A password.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl std::fmt::Debug for Secret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret(…)")
    }
}

impl Secret {
    /// Reads it; the end of the line is not part of it.
    ///
    /// # Errors
    /// With the file and why it cannot be read.
    pub fn read(file: &Path) -> Result<Self, String> {
        #[allow(clippy::disallowed_methods, reason = "the password's file")]
        let text = std::fs::read_to_string(file).map_err(|e| format!("{}: {e}", file.display()))?;
        let text = text.trim_end_matches(['\n', '\r']);
        if text.is_empty() {
            return Err(format!("{} is empty; it holds the password and nothing else", file.display()));
        }
        Ok(Self(text.to_owned()))
    }

    /// The password itself, for the wire alone.
    pub(super) fn plain(&self) -> &str {
        &self.0
    }
}
