//! The texts of the screens in one language: a key of its message file to a sentence with holes.
//!
//! A language is one TOML file; a shop can bring its own, and what it lacks is said in English. May live here:
//! reading such a file, filling holes. May not: which sentence is said when.

use super::daemon::Sentences;
use std::collections::BTreeMap;
use std::fmt::{Display, Write as _};
use std::sync::OnceLock;

/// The English texts: complete, and what every other language falls back on.
pub const ENGLISH: &str = include_str!("../../words/en.toml");
/// The Spanish texts.
pub const SPANISH: &str =
    concat!(include_str!("../../words/es.toml"), "\n", include_str!("../../words/es-daemon.toml"));

/// The table of a message file that holds the daemon's sentences: English on the left.
const DAEMON: &str = "daemon";

/// The languages that come with the program, by the two letters of ISO 639-1.
pub const SHIPPED: [(&str, &str); 2] = [("en", ENGLISH), ("es", SPANISH)];

/// The texts of one language.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Words {
    texts: BTreeMap<String, String>,
    daemon: Sentences,
}

/// A message file that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WrongWords {
    /// It is no TOML.
    #[error("The file of texts cannot be read: {why}")]
    Form {
        /// Where and why.
        why: String,
    },
    /// A value is neither a text nor a table of texts.
    #[error("In the file of texts `{key}` is no text.")]
    Value {
        /// Which.
        key: String,
    },
}

impl Words {
    /// From the text of a message file: tables of texts, each text named `table.name`.
    ///
    /// # Errors
    /// When it is no TOML, or holds anything but texts.
    pub fn read(file: &str) -> Result<Self, WrongWords> {
        let tables: toml::Table = file.parse().map_err(|e: toml::de::Error| WrongWords::Form { why: e.to_string() })?;
        let (mut texts, mut daemon) = (BTreeMap::new(), BTreeMap::new());
        for (name, table) in tables {
            let toml::Value::Table(table) = table else { return Err(WrongWords::Value { key: name }) };
            for (inner, text) in table {
                let key = format!("{name}.{inner}");
                let toml::Value::String(text) = text else { return Err(WrongWords::Value { key }) };
                if name == DAEMON {
                    daemon.insert(inner, text);
                } else {
                    texts.insert(key, text);
                }
            }
        }
        Ok(Self { texts, daemon: Sentences::of(daemon) })
    }

    /// The text of a key; English where this language has none, the key itself where nobody has.
    #[must_use]
    pub fn text<'a>(&'a self, key: &'a str) -> &'a str {
        match self.texts.get(key) {
            Some(text) => text,
            None => english().texts.get(key).map_or(key, String::as_str),
        }
    }

    /// The text of a key with its holes filled: `{name}` by the value of that name. A hole that nothing fills stays.
    #[must_use]
    pub fn fill(&self, key: &str, values: &[(&str, &dyn Display)]) -> String {
        let mut rest = self.text(key);
        let mut out = String::with_capacity(rest.len() + 16);
        while let Some((before, name, after)) = hole(rest) {
            out.push_str(before);
            match values.iter().find(|(n, _)| *n == name) {
                Some((_, value)) => {
                    // writing to a string does not fail
                    let _ = write!(out, "{value}");
                }
                None => {
                    let _ = write!(out, "{{{name}}}");
                }
            }
            rest = after;
        }
        out.push_str(rest);
        out
    }

    /// What the daemon says, in this language as far as its file has the sentence.
    #[must_use]
    pub fn told(&self, text: &str) -> String {
        self.daemon.told(text)
    }

    /// Whether every sentence of a text of the daemon is in this language's file.
    #[must_use]
    pub fn knows(&self, text: &str) -> bool {
        self.daemon.knows(text)
    }

    /// Whether this language has sentences of the daemon at all; English needs none.
    #[must_use]
    pub fn tells(&self) -> bool {
        self.daemon != Sentences::default()
    }

    /// Every key and its text.
    pub fn all(&self) -> impl Iterator<Item = (&str, &str)> {
        self.texts.iter().map(|(key, text)| (key.as_str(), text.as_str()))
    }
}

/// The first hole of a text: what stands before it, its name, what stands after it.
#[must_use]
pub fn hole(text: &str) -> Option<(&str, &str, &str)> {
    let (before, rest) = text.split_once('{')?;
    let (name, after) = rest.split_once('}')?;
    Some((before, name, after))
}

/// The English texts.
#[must_use]
pub fn english() -> &'static Words {
    static WORDS: OnceLock<Words> = OnceLock::new();
    // a test reads the file; a key stands for its text if it ever could not be read
    WORDS.get_or_init(|| Words::read(ENGLISH).unwrap_or_default())
}

/// The texts of a shipped language, chosen by its two letters; a region behind them changes nothing.
#[must_use]
pub fn shipped(language: &str) -> Option<&'static Words> {
    static SPANISH_WORDS: OnceLock<Words> = OnceLock::new();
    match language.get(..2).unwrap_or_default().to_ascii_lowercase().as_str() {
        _ if language.get(2..3).is_some_and(|c| !"_-.@".contains(c)) => None,
        "en" => Some(english()),
        "es" => Some(SPANISH_WORDS.get_or_init(|| Words::read(SPANISH).unwrap_or_default())),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holes_are_filled_by_name() {
        let words = Words::read("[a]\nb = \"{two} before {one}, {two} again\"\n").unwrap();
        assert_eq!(words.fill("a.b", &[("one", &1), ("two", &"zwei")]), "zwei before 1, zwei again");
        assert_eq!(words.fill("a.b", &[("one", &1)]), "{two} before 1, {two} again");
        assert_eq!(words.fill("a.c", &[]), "a.c");
    }

    #[test]
    fn what_a_language_lacks_is_english() {
        let words = Words::read("[screen]\nnow = \"Jetzt\"\n").unwrap();
        assert_eq!((words.text("screen.now"), words.text("screen.shop")), ("Jetzt", "Shop"));
    }

    #[test]
    fn a_wrong_file_says_where() {
        assert!(matches!(Words::read("a = 1"), Err(WrongWords::Value { key }) if key == "a"));
        assert!(matches!(Words::read("[a]\nb = 1"), Err(WrongWords::Value { key }) if key == "a.b"));
        assert!(matches!(Words::read("[a"), Err(WrongWords::Form { .. })));
    }

    #[test]
    fn two_letters_choose() {
        assert!(shipped("es_ES.UTF-8").is_some() && shipped("es").is_some() && shipped("ES-mx").is_some());
        assert_eq!(shipped("est"), None);
        assert_eq!(shipped("C"), None);
        assert_eq!(shipped(""), None);
        assert_eq!(shipped("ñu"), None);
        assert!(std::ptr::eq(shipped("en_GB").unwrap(), english()));
    }
}
