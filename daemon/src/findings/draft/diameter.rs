//! A bit as a program's comments speak of it: diameters and kinds of bit.
//!
//! May live here: reading words and numbers of a comment. May not: the shop's bits.

use chargehand_types::card::BitKind;

/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// Words that tell that a comment speaks of a bit.
const OF_A_BIT: [&str; 9] = ["bit", "cutter", "tool", "mill", "flute", "dia", "compression", "cut", "ball"];

/// Diameters in mm that a comment gives a bit; none when it speaks of something else.
pub(super) fn diameters(remark: &str) -> Vec<f64> {
    let low = remark.to_lowercase();
    if !(OF_A_BIT.iter().any(|w| has_word(&low, w)) || kind(remark).is_some() || is_bare(&low)) {
        return Vec::new();
    }
    let chars: Vec<char> = low.chars().collect();
    let mut found = Vec::new();
    let mut at = 0;
    while at < chars.len() {
        let Some((value, fraction, end)) = number(&chars, at) else {
            at += 1;
            continue;
        };
        let after: String = chars.iter().skip(end).collect();
        let after = after.trim_start();
        let before = chars.get(at.wrapping_sub(1)).copied();
        let inches = after.starts_with("in") || after.starts_with('"');
        if inches || fraction {
            found.push(value * INCH);
        } else if after.starts_with("mm") || matches!(before, Some('d' | 'ø')) || is_bare(&low) {
            found.push(value);
        }
        at = end;
    }
    found.retain(|d| *d > 0.0 && d.is_finite());
    found
}

/// The kind of bit a comment names.
pub(super) fn kind(remark: &str) -> Option<BitKind> {
    let low = remark.to_lowercase().replace(['-', '_'], " ");
    let has = |words: &[&str]| words.iter().any(|w| has_word(&low, w));
    if has(&["compression"]) {
        Some(BitKind::Compression)
    } else if has(&["down cut", "downcut"]) {
        Some(BitKind::DownCut)
    } else if has(&["up cut", "upcut"]) {
        Some(BitKind::UpCut)
    } else if has(&["ball", "ball nose", "ballnose"]) {
        Some(BitKind::Ball)
    } else if has(&["v bit", "vbit", "v groove", "mm v", "deg v"]) {
        Some(BitKind::V)
    } else if has(&["straight bit", "straight", "straight flute"]) {
        Some(BitKind::Straight)
    } else {
        None
    }
}

/// A word, or words, with no letter right beside them; an `s` at the end counts as the same word.
fn has_word(text: &str, word: &str) -> bool {
    text.match_indices(word).any(|(at, found)| {
        let (before, from) = text.split_at(at);
        let after = from.get(found.len()..).unwrap_or_default();
        let after = after.strip_prefix('s').unwrap_or(after);
        !before.ends_with(char::is_alphabetic) && !after.starts_with(char::is_alphabetic)
    })
}

/// Nothing but a number and its unit.
fn is_bare(low: &str) -> bool {
    let rest: String = low.chars().filter(|c| !(c.is_ascii_digit() || matches!(c, '.' | '/' | ' ' | '"'))).collect();
    matches!(rest.as_str(), "" | "mm" | "in" | "inch" | "d") && low.contains(['.', '/'])
}

/// The number at a place, whether it is a fraction, and where it ends: `6.35`, `1/4`.
fn number(chars: &[char], at: usize) -> Option<(f64, bool, usize)> {
    let run = |from: usize| {
        let digits = chars.iter().skip(from).take_while(|c| c.is_ascii_digit() || **c == '.');
        let text: String = digits.collect();
        (text.parse::<f64>().ok(), from + text.chars().count())
    };
    let (whole, end) = run(at);
    let whole = whole?;
    if chars.get(end) == Some(&'/')
        && let (Some(part), last) = run(end + 1)
    {
        return Some((whole / part, true, last));
    }
    Some((whole, false, end))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(remark: &str) -> f64 {
        let all = diameters(remark);
        assert_eq!(all.len(), 1, "{remark}: {all:?}");
        all[0]
    }

    #[test]
    fn diameters_are_read_in_both_units() {
        // exact by definition of the inch: 25.4 mm
        for (remark, mm) in [
            ("bit: 6.35 mm compression, 2 flutes", 6.35),
            ("6.35", 6.35),
            ("1/4", 6.35),
            ("1/4\" end mill", 6.35),
            ("1/8 inch up-cut bit", 3.175),
            ("bit 0.25 in", 6.35),
            ("tool D6", 6.0),
            ("cutter 8mm straight", 8.0),
        ] {
            assert!((one(remark) - mm).abs() < 1.0e-9, "{remark}: {}", one(remark));
        }
    }

    #[test]
    fn other_lengths_are_no_diameter() {
        for remark in ["part 1", "sheet 18 mm", "slot 2 of 4", "2026", "two passes of 6 mm", "depth 1/2 of the sheet"] {
            assert!(diameters(remark).is_empty(), "{remark}: {:?}", diameters(remark));
        }
    }

    #[test]
    fn kinds_are_read() {
        for (remark, wanted) in [
            ("6 mm ball, 2 flutes", Some(BitKind::Ball)),
            ("12.7 mm V, 90 degrees", Some(BitKind::V)),
            ("DOWNCUT 6.35", Some(BitKind::DownCut)),
            ("5 mm up-cut for holes", Some(BitKind::UpCut)),
            ("balloon shelf", None),
            ("slots", None),
        ] {
            assert_eq!(kind(remark), wanted, "{remark}");
        }
    }
}
