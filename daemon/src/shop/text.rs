//! A TOML text with its places: reading into a type, and faults at a span.

use super::fault::{Fault, nearest};
use serde::de::DeserializeOwned;
use std::ops::Range;

/// Largest file that is read.
const TEXT_LARGEST: usize = 1024 * 1024;

/// A file's text under the name the person knows it by.
#[derive(Debug, Clone, Copy)]
pub struct Text<'a> {
    /// The name.
    pub file: &'a str,
    /// The text.
    pub text: &'a str,
}

impl<'a> Text<'a> {
    /// A text and its name.
    #[must_use]
    pub const fn new(file: &'a str, text: &'a str) -> Self {
        Self { file, text }
    }

    /// Reads it into a type; keys nobody knows are faults.
    ///
    /// # Errors
    /// The first fault of the text's form.
    pub fn read<T: DeserializeOwned>(&self) -> Result<T, Vec<Fault>> {
        if self.text.len() > TEXT_LARGEST {
            return Err(vec![self.at(0..0, None, format!("the file is larger than {} KiB", TEXT_LARGEST / 1024))]);
        }
        toml::from_str(self.text).map_err(|e| vec![self.form(&e)])
    }

    /// A fault of form, with the nearest key where one was not known.
    fn form(&self, e: &toml::de::Error) -> Fault {
        let message = e.message().trim().replace('\n', ", ");
        let mut fault = self.at(e.span().unwrap_or(0..0), None, message.clone());
        if let Some(rest) = message.strip_prefix("unknown field `")
            && let Some((given, known)) = rest.split_once('`')
        {
            let known: Vec<&str> = known.split('`').skip(1).step_by(2).collect();
            fault.key = Some(given.to_owned());
            "this key is not known".clone_into(&mut fault.found);
            fault.nearest = nearest(given, known.iter().copied());
            fault.allowed = Some(known.join(", "));
        }
        fault
    }

    /// A fault at a span of the text.
    #[must_use]
    pub fn at(&self, span: Range<usize>, key: Option<&str>, found: impl Into<String>) -> Fault {
        let start = span.start.min(self.text.len());
        let before = self.text.get(..start).unwrap_or_default();
        let line = before.matches('\n').count();
        let from = before.rfind('\n').map_or(0, |i| i + 1);
        let column = before.get(from..).map_or(0, |l| l.chars().count());
        Fault {
            file: self.file.to_owned(),
            line: u32::try_from(line + 1).unwrap_or(u32::MAX),
            column: u32::try_from(column + 1).unwrap_or(u32::MAX),
            key: key.map(str::to_owned),
            found: found.into(),
            allowed: None,
            nearest: None,
            text: self.text.lines().nth(line).unwrap_or_default().chars().take(160).collect(),
        }
    }
}

/// Gathers faults while reading on.
#[derive(Debug)]
pub struct Faults<'a> {
    text: Text<'a>,
    found: Vec<Fault>,
}

impl<'a> Faults<'a> {
    /// None yet.
    #[must_use]
    pub const fn of(text: Text<'a>) -> Self {
        Self { text, found: Vec::new() }
    }

    /// Adds one.
    pub fn add(&mut self, span: Range<usize>, key: &str, found: impl Into<String>) -> &mut Fault {
        let fault = self.text.at(span, Some(key), found);
        self.found.push(fault);
        let last = self.found.len() - 1;
        &mut self.found[last]
    }

    /// Adds one when a name is not among those known.
    pub fn unless_known<'k>(
        &mut self,
        name: &toml::Spanned<String>,
        key: &str,
        what: &str,
        known: impl IntoIterator<Item = &'k str>,
    ) {
        let known: Vec<&str> = known.into_iter().collect();
        if !known.contains(&name.as_ref().as_str()) {
            let fault = self.add(name.span(), key, format!("there is no {what} `{}`", name.as_ref()));
            fault.nearest = nearest(name.as_ref(), known.iter().copied());
            fault.allowed = Some(known.join(", "));
        }
    }

    /// The value, if nothing was wrong.
    ///
    /// # Errors
    /// Every fault found.
    pub fn or<T>(self, value: T) -> Result<T, Vec<Fault>> {
        if self.found.is_empty() { Ok(value) } else { Err(self.found) }
    }
}
