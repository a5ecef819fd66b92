//! What a program's comments say.
//!
//! May live here: finding comments in the text. May not: what they mean.

/// Only so much of a program's head is looked through, in bytes: what it is for stands at its start.
const HEAD: usize = 16 * 1024;
/// Comments kept.
const MOST: usize = 40;

/// Comments of a program's head, in order: `( … )` anywhere in a line, or what follows `;`.
pub(super) fn remarks(bytes: &[u8]) -> Vec<String> {
    let head = String::from_utf8_lossy(bytes.get(..HEAD.min(bytes.len())).unwrap_or_default());
    let mut found = Vec::new();
    for line in head.lines() {
        let mut rest = line;
        while let Some(at) = rest.find(['(', ';']) {
            let (_, from) = rest.split_at(at);
            let (text, left) = if let Some(after) = from.strip_prefix(';') {
                (after, "")
            } else {
                let after = from.strip_prefix('(').unwrap_or_default();
                after.split_once(')').unwrap_or((after, ""))
            };
            let text: String = text.chars().filter(|c| !c.is_control()).collect();
            if !text.trim().is_empty() && found.len() < MOST {
                found.push(text.trim().to_owned());
            }
            rest = left;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_kinds_are_found() {
        let text = b"%\n(Crate - slots)\nG0 X1 (go) Y2 (there)\n; bit: 6.35 mm\nG1 X2 ; (all of it)\n()\n";
        assert_eq!(remarks(text), ["Crate - slots", "go", "there", "bit: 6.35 mm", "(all of it)"]);
    }

    #[test]
    fn an_open_comment_runs_to_the_end_of_its_line() {
        assert_eq!(remarks(b"(open\nG0 X1\n"), ["open"]);
        assert!(remarks(&[0xff; 100]).is_empty());
    }
}
