//! The line of the program a finding speaks of, with a caret under its word.
//!
//! May live here: finding lines in bytes and drawing the caret. May not: reading the words.

use chargehand_types::finding::Finding;

/// Characters of a line that are shown (NISTIR 6556 3.3.1 allows 256).
const SHOWN: usize = 256;

/// Adds the excerpt to every finding with a line and none yet. The program is run through once.
pub(super) fn add(bytes: &[u8], findings: &mut [Finding]) {
    let mut wanted: Vec<&mut Finding> =
        findings.iter_mut().filter(|f| f.line.is_some() && f.facts.excerpt.is_none()).collect();
    wanted.sort_by_key(|f| f.line);
    let mut lines = Lines { rest: bytes, number: 0, text: &[] };
    for finding in wanted {
        let line = finding.line.unwrap_or_default();
        if lines.reach(line) {
            finding.facts.excerpt = Some(drawn(line, lines.text, finding.column));
        }
    }
}

/// Lines end with LF, CR or both.
struct Lines<'a> {
    rest: &'a [u8],
    number: u32,
    text: &'a [u8],
}

impl Lines<'_> {
    /// Goes on to a line; false where the program is shorter.
    fn reach(&mut self, line: u32) -> bool {
        while self.number < line && !self.rest.is_empty() {
            let end = memchr::memchr2(b'\n', b'\r', self.rest).unwrap_or(self.rest.len());
            let (text, after) = self.rest.split_at(end);
            self.text = text;
            self.number += 1;
            let both = after.starts_with(b"\r\n");
            self.rest = after.get(if both { 2 } else { 1 }..).unwrap_or_default();
        }
        self.number == line
    }
}

fn drawn(line: u32, text: &[u8], column: Option<u32>) -> String {
    let shown = text.get(..SHOWN.min(text.len())).unwrap_or_default();
    let line_text: String =
        String::from_utf8_lossy(shown).chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let number = line.to_string();
    let head = format!("{number} | {line_text}");
    let Some(before) = column.and_then(|c| (c as usize).checked_sub(1)).filter(|b| *b < shown.len()) else {
        return head;
    };
    let word = shown.get(before + 1..).unwrap_or_default();
    let more = word.iter().take_while(|b| matches!(b, b'0'..=b'9' | b'.' | b'-' | b'+')).count();
    format!("{head}\n{} | {}{}", " ".repeat(number.len()), " ".repeat(before), "^".repeat(more + 1))
}

#[cfg(test)]
mod tests {
    use super::super::cause::bare;
    use super::*;
    use chargehand_types::finding::Code;

    fn excerpt(bytes: &[u8], line: u32, column: u32) -> Option<String> {
        let mut found = bare(Code::NoFeed, "slots");
        (found.line, found.column) = (Some(line), Some(column));
        let mut all = [found];
        add(bytes, &mut all);
        all[0].facts.excerpt.clone()
    }

    #[test]
    fn caret_stands_under_the_word() {
        let program = b"G21\r\nG0 X1\rN5 G1 X-2.5\n\nM2";
        assert_eq!(excerpt(program, 3, 7).unwrap(), "3 | N5 G1 X-2.5\n  |       ^^^^^");
        assert_eq!(excerpt(program, 1, 1).unwrap(), "1 | G21\n  | ^^^");
        assert_eq!(excerpt(program, 5, 1).unwrap(), "5 | M2\n  | ^^");
        assert_eq!(excerpt(program, 4, 1).unwrap(), "4 | ");
        assert_eq!(excerpt(program, 9, 1), None);
    }
}
