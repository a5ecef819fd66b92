//! Text folded into lines of a width, each with a meaning.
//!
//! May live here: folding, cutting, drawing a stack of lines. May not: words.

use super::settings::Colours;
use super::theme::{Meaning, style};
use crate::words::{Words, say};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// A line of text in pieces of one meaning each.
pub type Row = Vec<(String, Meaning)>;

/// A stack of lines that never exceed a width.
#[derive(Debug, Clone)]
pub struct Page {
    width: usize,
    rows: Vec<Row>,
}

impl Page {
    /// An empty one.
    #[must_use]
    pub fn new(width: u16) -> Self {
        Self { width: usize::from(width).max(1), rows: Vec::new() }
    }

    /// How wide it is.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// How many lines there are.
    #[must_use]
    pub fn height(&self) -> usize {
        self.rows.len()
    }

    /// An empty line, unless nothing stands above it.
    pub fn gap(&mut self) {
        if self.rows.last().is_some_and(|r| !r.is_empty()) {
            self.rows.push(Vec::new());
        }
    }

    /// A text of one meaning, folded.
    pub fn text(&mut self, text: &str, meaning: Meaning) {
        self.hanging("", text, meaning, meaning);
    }

    /// A head, and a text beside it that folds under itself.
    pub fn hanging(&mut self, head: &str, text: &str, head_meaning: Meaning, meaning: Meaning) {
        let indent = head.chars().count();
        let room = self.width.saturating_sub(indent).max(1);
        for (i, line) in fold(text, room).into_iter().enumerate() {
            let mut row = Row::new();
            if indent > 0 {
                row.push(if i == 0 { (head.to_owned(), head_meaning) } else { (" ".repeat(indent), Meaning::Plain) });
            }
            row.push((line, meaning));
            self.rows.push(row);
        }
    }

    /// A row as it is; what is too long is cut when it is drawn.
    pub fn row(&mut self, row: Row) {
        self.rows.push(row);
    }

    /// Keeps at most so many lines, and says when some are missing.
    pub fn keep(&mut self, height: usize, words: &Words) {
        if self.rows.len() > height {
            self.rows.truncate(height);
            if let Some(last) = self.rows.last_mut() {
                *last = vec![(say!(words, "screen.more-room"), Meaning::Faint)];
            }
        }
    }

    /// Keeps at most so many lines, the last one among them: it says what to press.
    pub fn keep_last(&mut self, height: usize, words: &Words) {
        let last = self.rows.last().cloned();
        let cut = self.rows.len() > height;
        self.keep(if cut { height.saturating_sub(1) } else { height }, words);
        self.rows.extend(last.filter(|_| cut && height > 1));
    }

    /// Takes the empty lines out.
    pub fn squeeze(&mut self) {
        self.rows.retain(|row| row.iter().any(|(text, _)| !text.trim().is_empty()));
    }

    /// Shows the lines below so many, as far as there are more than fit; says how many stand above and below.
    pub fn scroll(&mut self, above: usize, height: usize, words: &Words) {
        let most = self.rows.len().saturating_sub(height.saturating_sub(1));
        if self.rows.len() <= height {
            return;
        }
        let above = above.min(most);
        self.rows.drain(..above);
        let room = height.saturating_sub(1);
        let below = self.rows.len().saturating_sub(room);
        self.rows.truncate(room);
        self.rows.push(vec![(say!(words, "screen.scrolled", above = above, below = below), Meaning::Faint)]);
    }

    /// Draws the lines from the top of an area.
    pub fn draw(&self, area: Rect, buf: &mut Buffer, colours: Colours) {
        for (row, y) in self.rows.iter().zip(area.top()..area.bottom()) {
            let mut x = area.left();
            for (text, meaning) in row {
                let room = usize::from(area.right().saturating_sub(x));
                let cut = text.trim_end().chars().count() > room;
                let (end, _) = buf.set_stringn(x, y, text, room, style(*meaning, colours));
                if cut && let Some(cell) = buf.cell_mut((area.right().saturating_sub(1), y)) {
                    // what does not fit is seen to be cut
                    cell.set_char('…');
                }
                x = end;
            }
        }
    }
}

/// Folds at spaces; a word longer than the width is broken.
#[must_use]
pub fn fold(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        let mut used = 0;
        for word in paragraph.split_whitespace() {
            let mut word: Vec<char> = word.chars().collect();
            if used > 0 && used + 1 + word.len() > width {
                lines.push(std::mem::take(&mut line));
                used = 0;
            }
            while word.len() > width {
                let rest = word.split_off(width);
                lines.push(word.into_iter().collect());
                word = rest;
            }
            if used > 0 {
                line.push(' ');
                used += 1;
            }
            used += word.len();
            line.extend(word);
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_fold_and_break() {
        assert_eq!(fold("set the bit free", 8), ["set the", "bit free"]);
        assert_eq!(fold("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(fold("", 5), [""]);
    }

    #[test]
    fn a_head_hangs() {
        let mut page = Page::new(12);
        page.hanging("1. ", "set the bit free", Meaning::Strong, Meaning::Plain);
        let text: Vec<String> =
            page.rows.iter().map(|r| r.iter().map(|(t, _)| t.as_str()).collect::<String>()).collect();
        assert_eq!(text, ["1. set the", "   bit free"]);
    }

    #[test]
    fn scrolling_loses_no_line() {
        let whole = |above| {
            let mut page = Page::new(60);
            for i in 0..9 {
                page.text(&i.to_string(), Meaning::Plain);
            }
            page.scroll(above, 4, crate::words::english());
            page.rows.iter().map(|r| r[0].0.clone()).collect::<Vec<_>>()
        };
        assert_eq!(whole(0), ["0", "1", "2", "… 0 lines above, 6 below: Up and Down"]);
        assert_eq!(whole(99), ["6", "7", "8", "… 6 lines above, 0 below: Up and Down"]);
    }

    #[test]
    fn what_is_missing_is_told() {
        let mut page = Page::new(60);
        for _ in 0..5 {
            page.text("line", Meaning::Plain);
        }
        page.keep(3, crate::words::english());
        assert_eq!(page.height(), 3);
        assert!(page.rows[2][0].0.contains("more room"));
    }
}
