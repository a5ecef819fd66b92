//! Collecting faults while values are judged, so that one reading tells them all.
//!
//! May live here: rules that many files share (limits of a number, names, points). May not: rules of one file.

use super::fault::Fault;
use super::text::{Doc, Path, in_order};
use chargehand_types::quantity::plain;

/// The longest name a shop may give to a thing.
const LONGEST_NAME: usize = 64;
/// The longest line of words for people.
const LONGEST_WORDS: usize = 400;

/// Where a range of numbers begins.
#[derive(Debug, Clone, Copy)]
pub(super) enum From {
    /// At this number.
    At(f64),
    /// Just above it.
    Above(f64),
}

/// A range of numbers that makes sense for a key, in the unit of the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    from: From,
    to: f64,
    unit: &'static str,
}

impl Limits {
    /// From a number to another, both allowed.
    pub(super) const fn from(from: f64, to: f64, unit: &'static str) -> Self {
        Self { from: From::At(from), to, unit }
    }

    /// More than a number, up to another.
    pub(super) const fn above(above: f64, to: f64, unit: &'static str) -> Self {
        Self { from: From::Above(above), to, unit }
    }

    fn hold(self, value: f64) -> bool {
        let begun = match self.from {
            From::At(least) => value >= least,
            From::Above(least) => value > least,
        };
        begun && value <= self.to
    }

    fn told(self) -> String {
        let space = if self.unit.is_empty() { "" } else { " " };
        let to = plain(self.to);
        match self.from {
            From::At(least) => format!("{} to {to}{space}{}", plain(least), self.unit),
            From::Above(least) => {
                format!("more than {}, up to {to}{space}{}", plain(least), self.unit)
            }
        }
    }
}

/// Whether this is a name as keys and file names bear it.
#[must_use]
pub fn is_name(name: &str) -> bool {
    let sound = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '-' | '_' | '.');
    let begins = name.starts_with(|c: char| c.is_ascii_lowercase() || c.is_ascii_digit());
    begins && name.chars().all(sound) && name.len() <= LONGEST_NAME
}

/// What a name may be made of, for people.
#[must_use]
pub fn form_of_a_name() -> String {
    format!("small letters a to z, digits, `-`, `_` and `.`, at most {LONGEST_NAME} characters")
}

/// The faults found so far in one text.
#[derive(Debug)]
pub(super) struct Check<'d, 't> {
    doc: &'d Doc<'t>,
    faults: Vec<Fault>,
}

impl<'d, 't> Check<'d, 't> {
    pub(super) fn new(doc: &'d Doc<'t>) -> Self {
        Self { doc, faults: Vec::new() }
    }

    /// The value when there was no fault.
    pub(super) fn done<T>(self, value: T) -> Result<T, Vec<Fault>> {
        if self.faults.is_empty() { Ok(value) } else { Err(in_order(self.faults)) }
    }

    /// Tells a fault at a key.
    pub(super) fn tell(&mut self, path: &Path, found: impl Into<String>, allowed: impl Into<String>) {
        self.faults.push(self.doc.fault(path).found(found).allowed(allowed));
    }

    /// Tells that a key is missing from its table.
    pub(super) fn missing(&mut self, table: &Path, key: &str, why: &str) {
        let fault = self.doc.fault(&table.key(key));
        self.faults.push(fault.found(format!("the key `{key}` is missing")).allowed(why));
    }

    /// Tells that a key stands where it means nothing.
    pub(super) fn idle(&mut self, table: &Path, key: &str, why: &str) {
        self.tell(&table.key(key), format!("`{key}` means nothing here"), why);
    }

    /// A number within limits.
    pub(super) fn number(&mut self, path: &Path, value: f64, limits: Limits) {
        if !limits.hold(value) {
            let space = if limits.unit.is_empty() { "" } else { " " };
            self.tell(path, format!("found {}{space}{}", plain(value), limits.unit), limits.told());
        }
    }

    /// A number within limits, where there is one.
    pub(super) fn number_if(&mut self, path: &Path, value: Option<f64>, limits: Limits) {
        if let Some(value) = value {
            self.number(path, value, limits);
        }
    }

    /// One of the names that another file or section gives.
    pub(super) fn one_of<'n>(
        &mut self,
        path: &Path,
        what: &str,
        name: &str,
        names: impl IntoIterator<Item = &'n String>,
    ) {
        let names: Vec<&String> = names.into_iter().collect();
        if !names.iter().any(|n| *n == name) {
            let found = format!("there is no {what} `{name}`");
            self.faults.push(self.doc.fault(path).found(found).one_of(name, names));
        }
    }

    /// A name of the time zone data, which are too many to list.
    pub(super) fn zone(&mut self, path: &Path, name: &str, names: &[String]) {
        let found = format!("there is no time zone `{}`", name.escape_debug());
        let fault = self.doc.fault(path).found(found).one_of(name, names);
        self.faults.push(fault.allowed("a name like Europe/Oslo or America/Halifax"));
    }

    /// A name as keys and file names bear it: small letters, digits, `-`, `_`, `.`, beginning with a letter or digit.
    pub(super) fn name(&mut self, path: &Path, name: &str) {
        if !is_name(name) {
            self.tell(path, format!("`{}` is no name", name.escape_debug()), form_of_a_name());
        }
    }

    /// Words for people: one line, not empty, without control characters.
    pub(super) fn words(&mut self, path: &Path, words: &str) {
        if words.trim().is_empty() || words.chars().any(char::is_control) {
            self.tell(path, "these are no words for people", "one line of text");
        } else if words.chars().count() > LONGEST_WORDS {
            self.tell(path, "the text is too long to be read", format!("at most {LONGEST_WORDS} characters"));
        }
    }

    /// A list that must not be longer than its limit.
    pub(super) fn no_more_than(&mut self, path: &Path, count: usize, most: usize) {
        if count > most {
            self.tell(path, format!("a list of {count}"), format!("at most {most}"));
        }
    }

    /// Names that may not be given twice.
    pub(super) fn once<'n>(&mut self, what: &str, names: impl IntoIterator<Item = (Path, &'n str)>) {
        let mut seen: Vec<&str> = Vec::new();
        for (path, name) in names {
            if seen.contains(&name) {
                self.tell(&path, format!("the {what} `{name}` is there twice"), "each name once");
            }
            seen.push(name);
        }
    }
}
