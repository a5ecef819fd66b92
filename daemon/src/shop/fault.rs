//! A fault in a file a shop wrote: where it is, what was found, what is allowed, and the nearest name that would do.
//!
//! May live here: the fault and how it is told. May not: finding faults.

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::fmt;
use std::ops::Range;

/// Longest line that is shown whole; a longer one is cut so that a mistaken binary file stays readable.
const LONGEST_SHOWN: usize = 400;

/// One fault of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file, as the caller named it.
    pub file: String,
    /// 1-based.
    pub line: u32,
    /// 1-based, in characters.
    pub column: u32,
    /// The key, from the top of the file (`bit.c635.diameter`); empty for the file as a whole.
    pub key: String,
    /// What was found, as a sentence without a full stop.
    pub found: String,
    /// What is allowed there; empty where nothing can be listed.
    pub allowed: String,
    /// The nearest name that would be valid.
    pub nearest: Option<String>,
    /// The line as it stands in the file.
    pub excerpt: String,
    /// How many characters from the column on are meant; at least 1.
    pub width: u32,
}

impl Fault {
    /// A fault at a byte range of a text. A range beyond the text points at its end.
    #[must_use]
    pub fn at(file: &str, text: &str, span: Range<usize>, key: impl Into<String>) -> Self {
        let place = Place::of(text, &span);
        Self {
            file: file.to_owned(),
            line: place.line,
            column: place.column,
            key: key.into(),
            found: String::new(),
            allowed: String::new(),
            nearest: None,
            excerpt: place.excerpt,
            width: place.width,
        }
    }

    /// What was found.
    #[must_use]
    pub fn found(mut self, found: impl Into<String>) -> Self {
        self.found = found.into();
        self
    }

    /// What is allowed.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = allowed.into();
        self
    }

    /// Lists the names allowed, and takes the one nearest to `wrong` as the guess.
    #[must_use]
    pub fn one_of<S: AsRef<str>>(mut self, wrong: &str, names: impl IntoIterator<Item = S>) -> Self {
        let mut names: Vec<String> = names.into_iter().map(|n| n.as_ref().to_owned()).collect();
        names.sort();
        names.dedup();
        self.nearest = super::nearest::nearest(wrong, names.iter().map(String::as_str)).map(str::to_owned);
        self.allowed = if names.is_empty() { "nothing".to_owned() } else { names.join(", ") };
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let title = if self.key.is_empty() { self.found.clone() } else { format!("{}: {}", self.key, self.found) };
        let mut group = Level::ERROR.primary_title(title).element(
            Snippet::source(self.excerpt.as_str())
                .path(self.file.as_str())
                .line_start(self.line as usize)
                .annotation(AnnotationKind::Primary.span(self.marked())),
        );
        if !self.allowed.is_empty() {
            group = group.element(Level::NOTE.no_name().message(format!("allowed: {}", self.allowed)));
        }
        if let Some(nearest) = &self.nearest {
            group = group.element(Level::HELP.no_name().message(format!("did you mean `{nearest}`?")));
        }
        f.write_str(&Renderer::plain().render(&[group]))
    }
}

impl std::error::Error for Fault {}

impl Fault {
    /// The byte range of the excerpt that is meant.
    fn marked(&self) -> Range<usize> {
        let mut ends = self.excerpt.char_indices().map(|(i, c)| (i, i + c.len_utf8()));
        let from = self.column.saturating_sub(1) as usize;
        let Some((start, first_end)) = ends.nth(from) else {
            return self.excerpt.len()..self.excerpt.len();
        };
        let rest = self.width.saturating_sub(1) as usize;
        let end = ends.take(rest).last().map_or(first_end, |(_, end)| end);
        start..end
    }
}

/// Every fault of one or more files, one below the other.
#[must_use]
pub fn told(faults: &[Fault]) -> String {
    faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n\n")
}

struct Place {
    line: u32,
    column: u32,
    excerpt: String,
    width: u32,
}

impl Place {
    fn of(text: &str, span: &Range<usize>) -> Self {
        let start = floor_char(text, span.start);
        let end = floor_char(text, span.end).max(start);
        let before = text.get(..start).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        let rest = text.get(line_start..).unwrap_or_default();
        let line_text = rest.lines().next().unwrap_or_default();
        let in_line = start.saturating_sub(line_start).min(line_text.len());
        let marked = end.saturating_sub(start).min(line_text.len().saturating_sub(in_line));
        let lead = line_text.get(..in_line).unwrap_or_default();
        let meant = line_text.get(in_line..in_line + marked).unwrap_or_default();
        Self {
            line: count(before.matches('\n').count()) + 1,
            column: count(lead.chars().count()) + 1,
            excerpt: line_text.chars().take(LONGEST_SHOWN).collect(),
            width: count(meant.chars().count()).max(1),
        }
    }
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX - 1)
}

fn floor_char(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "[bit.c635]\ntitle = \"é 6.35\"\ndiamter = 6.35\n";

    #[test]
    fn line_and_column_are_counted() {
        let at = TEXT.find("6.35\"").unwrap();
        let fault = Fault::at("bits.toml", TEXT, at..at + 4, "bit.c635.title");
        assert_eq!((fault.line, fault.column, fault.width), (2, 12, 4));
    }

    #[test]
    fn telling_shows_line_and_caret() {
        let at = TEXT.find("diamter").unwrap();
        let fault = Fault::at("bits.toml", TEXT, at..at + 7, "bit.c635.diamter")
            .found("there is no such key")
            .one_of("diamter", ["kind", "diameter"]);
        let told = fault.to_string();
        let wanted = "error: bit.c635.diamter: there is no such key\n --> bits.toml:3:1\n  |\n\
                      3 | diamter = 6.35\n  | ^^^^^^^\n  |\n  = allowed: diameter, kind\n  \
                      = did you mean `diameter`?";
        assert_eq!(told, wanted);
    }

    #[test]
    fn places_beyond_the_text_are_survived() {
        for span in [0..0, 900..950, TEXT.len()..TEXT.len() + 1] {
            let fault = Fault::at("x", TEXT, span, "").found("it ends too early");
            assert!(fault.to_string().contains("it ends too early"));
        }
        assert!(Fault::at("x", "", 0..0, "").to_string().contains("x:1:1"));
    }
}
