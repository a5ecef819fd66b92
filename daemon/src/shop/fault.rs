//! A fault in a file a shop wrote: where, what was found, what is allowed, the nearest valid key.

use std::fmt;

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file's name, as the person knows it.
    pub file: String,
    /// 1-based.
    pub line: u32,
    /// 1-based.
    pub column: u32,
    /// The key concerned.
    pub key: Option<String>,
    /// What was found, as a phrase.
    pub found: String,
    /// What is allowed.
    pub allowed: Option<String>,
    /// The nearest valid name.
    pub nearest: Option<String>,
    /// The line's text.
    pub text: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}: ", self.file, self.line, self.column)?;
        if let Some(key) = &self.key {
            write!(f, "`{key}`: ")?;
        }
        write!(f, "{}", self.found)?;
        if let Some(allowed) = &self.allowed {
            write!(f, "; allowed: {allowed}")?;
        }
        if let Some(nearest) = &self.nearest {
            write!(f, "; did you mean `{nearest}`?")?;
        }
        if !self.text.is_empty() {
            let number = self.line.to_string();
            let gutter = " ".repeat(number.len());
            let pad: String = self
                .text
                .chars()
                .take(self.column.saturating_sub(1) as usize)
                .map(|c| if c == '\t' { '\t' } else { ' ' })
                .collect();
            write!(f, "\n  {number} | {}\n  {gutter} | {pad}^", self.text)?;
        }
        Ok(())
    }
}

/// The name among `known` that is nearest to `given`, if one is near enough to have been meant.
pub fn nearest<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    known
        .into_iter()
        .map(|k| (distance(given, k), k))
        .filter(|(d, k)| *d <= 1 + k.chars().count() / 3)
        .min()
        .map(|(_, k)| k.to_owned())
}

/// Levenshtein's edit distance, on characters.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(64).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().take(64).enumerate() {
        let mut diagonal = i;
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
        for (j, cb) in b.iter().enumerate() {
            let left = row.get(j).copied().unwrap_or(0);
            let above = row.get(j + 1).copied().unwrap_or(0);
            let cost = (diagonal + usize::from(ca != *cb)).min(left + 1).min(above + 1);
            diagonal = above;
            if let Some(cell) = row.get_mut(j + 1) {
                *cell = cost;
            }
        }
    }
    row.last().copied().unwrap_or(0)
}
