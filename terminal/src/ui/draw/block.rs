//! Large letters for the one line that matters, where there is room: readable from across the table.
//!
//! Five rows high; at 60 rows on a 22-inch screen that is about 27 mm, over 45 minutes of arc at 2 m. May live here:
//! the letters. May not: which word is shown.

use crate::ui::settings::Symbols;

/// Rows of a large letter.
pub const ROWS: usize = 5;

/// A word in large letters, row by row; what has no letter is left out.
#[must_use]
pub fn rows(word: &str, symbols: Symbols) -> [String; ROWS] {
    let full = match symbols {
        Symbols::Braille | Symbols::Block => '█',
        Symbols::Ascii => '#',
    };
    let mut rows: [String; ROWS] = Default::default();
    for c in word.chars() {
        let Some(shape) = shape(c.to_ascii_uppercase()) else { continue };
        for (row, bits) in rows.iter_mut().zip(shape) {
            row.extend(bits.chars().map(|b| if b == '#' { full } else { ' ' }));
            row.push_str("  ");
        }
    }
    rows
}

const fn shape(c: char) -> Option<[&'static str; ROWS]> {
    Some(match c {
        'A' => [" ## ", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   "],
        'G' => [" ###", "#   ", "# ##", "#  #", " ###"],
        'H' => ["#  #", "#  #", "####", "#  #", "#  #"],
        'I' => ["###", " # ", " # ", " # ", "###"],
        'J' => ["  ##", "   #", "   #", "#  #", " ## "],
        'K' => ["#  #", "# # ", "##  ", "# # ", "#  #"],
        'L' => ["#   ", "#   ", "#   ", "#   ", "####"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#   #", "##  #", "# # #", "#  ##", "#   #"],
        'O' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        'P' => ["### ", "#  #", "### ", "#   ", "#   "],
        'R' => ["### ", "#  #", "### ", "# # ", "#  #"],
        'S' => [" ###", "#   ", " ## ", "   #", "### "],
        'T' => ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
        'U' => ["#  #", "#  #", "#  #", "#  #", " ## "],
        'V' => ["#   #", "#   #", " # # ", " # # ", "  #  "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'Y' => ["#   #", " # # ", "  #  ", "  #  ", "  #  "],
        '0' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["### ", "   #", " ## ", "#   ", "####"],
        '3' => ["### ", "   #", " ## ", "   #", "### "],
        '4' => ["#  #", "#  #", "####", "   #", "   #"],
        '5' => ["####", "#   ", "### ", "   #", "### "],
        '6' => [" ## ", "#   ", "### ", "#  #", " ## "],
        '7' => ["####", "   #", "  # ", " #  ", " #  "],
        '8' => [" ## ", "#  #", " ## ", "#  #", " ## "],
        '9' => [" ## ", "#  #", " ###", "   #", " ## "],
        ' ' => ["  "; ROWS],
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::{SHIPPED, Words};

    #[test]
    fn every_letter_is_even() {
        for c in (b'A'..=b'Z').chain(b'0'..=b'9').map(char::from) {
            if let Some(shape) = shape(c) {
                assert!(shape.iter().all(|r| r.len() == shape[0].len()), "{c}");
            }
        }
    }

    #[test]
    fn the_words_in_use_have_their_letters() {
        for (language, file) in SHIPPED {
            let words = Words::read(file).unwrap();
            for (key, word) in words.all().filter(|(key, _)| key.starts_with("large.")) {
                let word = word.replace("{minutes}", "0123456789");
                assert!(word.chars().all(|c| shape(c).is_some()), "{language}: {key}: {word}");
            }
        }
        assert!(rows("12 MIN", Symbols::Ascii)[0].starts_with(" #   ### "));
    }
}
