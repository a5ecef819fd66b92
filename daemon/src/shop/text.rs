//! TOML text into values, with every fault of its form told at once and in plain words.
//!
//! May live here: parsing, places of keys, unknown and missing keys, wrong types. May not: rules between values.

mod path;
mod row;
mod words;

pub use path::{Path, Step};
pub use row::Row;

use super::fault::Fault;
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::de::{DeTable, Deserializer};
use toml::{Spanned, de};

/// A file with more faults than this is told only so many.
const MOST_FAULTS: usize = 50;
/// No file a shop writes is larger.
pub const LARGEST_FILE: usize = 4 << 20;

/// Reads a text as `T`.
///
/// Give every table of `T` `#[serde(deny_unknown_fields)]`; avoid `flatten` and untagged enums, which lose places,
/// and plain arrays, which let a list be too long unseen: [`Row`] does not.
///
/// # Errors
/// Every fault of its form: what is no TOML, unknown keys with the nearest valid one, missing keys, wrong types.
/// After a fault reading goes on without the faulty key, so that the rest of the file is told too.
pub fn read<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, Vec<Fault>> {
    Doc::parse(file, text)?.read()
}

/// A parsed text that still knows the place of every key.
#[derive(Debug)]
pub struct Doc<'t> {
    file: &'t str,
    text: &'t str,
    root: Spanned<DeTable<'t>>,
}

impl<'t> Doc<'t> {
    /// Parses a text as TOML.
    ///
    /// # Errors
    /// Every fault of syntax the parser finds.
    pub fn parse(file: &'t str, text: &'t str) -> Result<Self, Vec<Fault>> {
        if text.len() > LARGEST_FILE {
            let fault = Fault::at(file, "", 0..0, "")
                .found(format!("the file has {} bytes", text.len()))
                .allowed(format!("at most {LARGEST_FILE} bytes"));
            return Err(vec![fault]);
        }
        let (root, errors) = DeTable::parse_recoverable(text);
        if errors.is_empty() {
            return Ok(Self { file, text, root });
        }
        let doc = Self { file, text, root };
        Err(in_order(errors.iter().take(MOST_FAULTS).map(|e| doc.broken(e)).collect()))
    }

    /// Reads the parsed text as `T`; see [`read`].
    ///
    /// # Errors
    /// Every fault of its form.
    pub fn read<T: DeserializeOwned>(&self) -> Result<T, Vec<Fault>> {
        let mut root = self.root.clone();
        let mut faults: Vec<Fault> = Vec::new();
        let mut removed: Vec<Path> = Vec::new();
        loop {
            let error = match T::deserialize(Deserializer::from(root.clone())) {
                Ok(value) if faults.is_empty() => return Ok(value),
                Ok(_) => break,
                Err(error) => error,
            };
            // Places in the whole text are told; in what is left of it, places are of another count.
            let span = error.span().unwrap_or(0..0);
            let told = path::at(self.root.get_ref(), &span);
            let left = path::removable(root.get_ref(), &path::at(root.get_ref(), &span));
            let trouble = words::Trouble::of(error.message());
            if !trouble.follows_from(&told, &removed) {
                faults.push(self.formed(&told, span, &trouble));
            }
            if faults.len() >= MOST_FAULTS || !path::remove(root.get_mut(), &left) {
                break;
            }
            removed.push(path::removable(self.root.get_ref(), &told));
        }
        Err(in_order(faults))
    }

    /// A fault at a key, or at the nearest table above it that the text has.
    #[must_use]
    pub fn fault(&self, path: &Path) -> Fault {
        Fault::at(self.file, self.text, self.span(path), path.to_string())
    }

    /// Where a key's value stands; of a table, where its heading stands.
    #[must_use]
    pub fn span(&self, path: &Path) -> Range<usize> {
        let steps = path.steps();
        (1..=steps.len())
            .rev()
            .find_map(|n| path::value(self.root.get_ref(), &path.first(n)))
            .map_or(0..0, Spanned::span)
    }

    fn broken(&self, error: &de::Error) -> Fault {
        let (found, allowed) = words::syntax(error.message());
        Fault::at(self.file, self.text, error.span().unwrap_or(0..0), "").found(found).allowed(allowed)
    }

    fn formed(&self, path: &Path, span: Range<usize>, trouble: &words::Trouble) -> Fault {
        let path = match trouble {
            words::Trouble::Missing(key) => path.key(key),
            _ => path.clone(),
        };
        let fault = Fault::at(self.file, self.text, span, path.to_string());
        trouble.tell(fault)
    }
}

/// Sorted by place, each told once.
pub(in crate::shop) fn in_order(mut faults: Vec<Fault>) -> Vec<Fault> {
    faults.sort_by(|a, b| (a.line, a.column, &a.key).cmp(&(b.line, b.column, &b.key)));
    faults.dedup();
    faults
}

#[cfg(test)]
mod tests;
