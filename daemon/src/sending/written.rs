//! How a line is written: its words with their numbers as they stand in the file, shorter where that changes nothing.

use chargehand_types::quantity::Length;

/// One word of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::sending) struct Word {
    /// Upper case.
    pub letter: u8,
    /// The number's text.
    pub number: String,
}

/// The words of a line as written, comments and line number left out; none when a value is computed.
pub(in crate::sending) fn words(text: &[u8]) -> Option<Vec<Word>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(&byte) = text.get(at) {
        at += 1;
        match byte {
            b' ' | b'\t' | b'\r' | b'/' | 0 => {}
            b'(' => at += text.get(at..)?.iter().position(|b| *b == b')')? + 1,
            b';' => break,
            b'A'..=b'Z' | b'a'..=b'z' => {
                let mut number = String::new();
                while let Some(&b) = text.get(at) {
                    match b {
                        b'0'..=b'9' | b'.' | b'-' | b'+' => number.push(char::from(b)),
                        b' ' | b'\t' => {}
                        _ => break,
                    }
                    at += 1;
                }
                if number.is_empty() {
                    return None;
                }
                let letter = byte.to_ascii_uppercase();
                if letter != b'N' && letter != b'O' {
                    found.push(Word { letter, number });
                }
            }
            _ => return None,
        }
    }
    Some(found)
}

/// A number without a plus sign, leading and trailing zeros, or a point that ends it.
pub(in crate::sending) fn short(number: &str) -> String {
    let (sign, digits) = match number.strip_prefix('-') {
        Some(rest) => ("-", rest),
        None => ("", number.strip_prefix('+').unwrap_or(number)),
    };
    let digits = digits.trim_start_matches('0');
    let digits = if digits.contains('.') { digits.trim_end_matches('0').trim_end_matches('.') } else { digits };
    if digits.is_empty() { "0".to_owned() } else { format!("{sign}{digits}") }
}

/// A length in the unit in force, fine enough to be read back to the nanometre.
pub(in crate::sending) fn length(l: Length, inch: bool) -> String {
    if inch { short(&format!("{:.8}", l.mm() / 25.4)) } else { short(&format!("{:.6}", l.mm())) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_lose_only_what_means_nothing() {
        for (long, wanted) in [
            ("010.500", "10.5"),
            ("+0.25", ".25"),
            ("-0.250", "-.25"),
            ("100", "100"),
            ("0", "0"),
            ("-0.000", "0"),
            ("5.", "5"),
        ] {
            assert_eq!(short(long), wanted);
        }
    }
}
