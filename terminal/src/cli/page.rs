//! Text for a screen of 80 columns: lines folded, columns lined up, and the way to stdout.
//!
//! May live here: the shape of text. May not: its words.

use super::end::End;
use serde::Serialize;
use std::io::Write;

/// The width text is folded to.
pub const WIDTH: usize = 80;

/// Folds a text at spaces; every line after the first starts with `indent` spaces. A word longer than a line stays whole.
#[must_use]
pub fn fold(first: &str, text: &str, indent: usize) -> String {
    fold_at(WIDTH, first, text, indent)
}

/// The same at another width.
#[must_use]
pub fn fold_at(width: usize, first: &str, text: &str, indent: usize) -> String {
    let mut out = String::from(first);
    let mut column = first.chars().count();
    let mut fresh = true;
    for word in text.split_whitespace() {
        let long = word.chars().count();
        if !fresh && column + 1 + long > width {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            column = indent;
            fresh = true;
        }
        if !fresh {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += long;
        fresh = false;
    }
    out.push('\n');
    out
}

/// Rows with their columns lined up; the first row is the heading. Numbers (text that starts with a digit) go right.
#[must_use]
pub fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|c| rows.iter().filter_map(|r| r.get(c)).map(|cell| cell.chars().count()).max().unwrap_or(0))
        .collect();
    let right: Vec<bool> = (0..columns)
        .map(|c| rows.iter().skip(1).filter_map(|r| r.get(c)).all(|cell| cell.is_empty() || is_figure(cell)))
        .collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for (c, cell) in row.iter().enumerate() {
            let width = widths.get(c).copied().unwrap_or(0);
            let pad = " ".repeat(width.saturating_sub(cell.chars().count()));
            match right.get(c) {
                Some(true) => line.extend([pad.as_str(), cell]),
                Some(false) | None => line.extend([cell.as_str(), &pad]),
            }
            line.push_str("  ");
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn is_figure(cell: &str) -> bool {
    cell.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit()) && cell.contains(['.', ' '])
        || cell.chars().all(|c| c.is_ascii_digit())
}

/// A short text cut to a width, with a mark where something is missing.
#[must_use]
pub fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let mut out: String = text.chars().take(width.saturating_sub(1)).collect();
    out.push('…');
    out
}

/// Writes to stdout. A reader that went away ends the program quietly.
///
/// # Errors
/// When stdout cannot take it.
pub fn say(text: &str) -> Result<(), End> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(End::Out)
}

/// Writes one document as JSON to stdout.
///
/// # Errors
/// When stdout cannot take it.
pub fn json(document: &impl Serialize) -> Result<(), End> {
    let mut text = serde_json::to_string_pretty(document).map_err(|e| End::Out(e.into()))?;
    text.push('\n');
    say(&text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_stay_within_the_width() {
        let text = fold("  do     ", &"measure the sheet again ".repeat(9), 9);
        assert!(text.lines().count() > 2);
        assert!(text.lines().all(|l| l.chars().count() <= WIDTH));
        assert!(text.lines().skip(1).all(|l| l.starts_with("         measure") || l.starts_with("         ")));
    }

    #[test]
    fn figures_line_up_on_the_right() {
        let row = |a: &str, b: &str| vec![a.to_owned(), b.to_owned()];
        let text = table(&[row("name", "cut"), row("slots", "8.4 m"), row("outlines", "12.1 m")]);
        assert_eq!(text, "name         cut\nslots      8.4 m\noutlines  12.1 m\n");
    }

    #[test]
    fn a_cut_text_shows_it() {
        assert_eq!(cut("abcdef", 4), "abc…");
        assert_eq!(cut("abcd", 4), "abcd");
    }
}
