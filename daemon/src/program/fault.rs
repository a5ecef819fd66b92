//! One thing wrong with a program: the rule broken, where, and the excerpt with a caret.
//!
//! May live here: faults and their look. May not: the rules' own sentences, deciding that a rule is broken.

use super::motion::Place;
pub use super::rule::{Foreign, Kind, NoProgram, Rule};
use std::fmt;

/// Characters a line may have, its end not counted (NISTIR 6556 3.3.1).
pub const LINE_LIMIT: usize = 256;
/// Faults that are kept; a program with more is read on, but not told in more detail.
pub const MOST_FAULTS: usize = 100;

/// One thing wrong with a program.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Where it begins.
    pub place: Place,
    /// The first column past it.
    pub until: u32,
    /// The rule broken, with its facts.
    pub rule: Rule,
    /// The line it is in, cut to [`LINE_LIMIT`].
    pub text: Box<str>,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}: {}", self.place.line, self.place.column, self.rule)
    }
}

impl std::error::Error for Fault {}

impl Fault {
    /// At a stretch of a line's bytes.
    #[must_use]
    pub fn new(line: u32, columns: std::ops::Range<usize>, rule: Rule, text: &[u8]) -> Self {
        let shown = text.get(..LINE_LIMIT.min(text.len())).unwrap_or_default();
        let start = clip(columns.start);
        Self {
            place: Place { line, column: start },
            until: clip(columns.end).max(start + 1),
            rule,
            text: String::from_utf8_lossy(shown).into(),
        }
    }

    /// What to change.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        self.rule.hint()
    }

    /// Whether the language is broken, or this controller cannot do it.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.rule.kind()
    }

    /// The line with a caret under what is wrong. Control characters show as spaces.
    #[must_use]
    pub fn excerpt(&self) -> String {
        let number = self.place.line.to_string();
        let line: String = self.text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let before = self.place.column.saturating_sub(1) as usize;
        let width = (self.until.saturating_sub(self.place.column)).max(1) as usize;
        format!("{number} | {line}\n{} | {}{}", " ".repeat(number.len()), " ".repeat(before), "^".repeat(width))
    }
}

fn clip(offset: usize) -> u32 {
    u32::try_from(offset).unwrap_or(u32::MAX - 2).saturating_add(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_caret_stands_under_the_word() {
        let fault = Fault::new(12, 7..12, Rule::UnknownLetter('U'), b"G1 X10 U5.00");
        assert_eq!(fault.excerpt(), "12 | G1 X10 U5.00\n   |        ^^^^^");
        assert_eq!(fault.to_string(), "line 12, column 8: no word begins with U");
    }
}
