//! Small charts of one line: a bar of a share, and where a share lies between 0 and 100 %.
//!
//! Shape carries the figure, which is always written beside it. May live here: those. May not: figures, words.

use crate::ui::settings::Symbols;

/// Sign of a filled cell and of an empty one.
const fn signs(symbols: Symbols) -> [char; 2] {
    match symbols {
        Symbols::Braille | Symbols::Block => ['█', '·'],
        Symbols::Ascii => ['#', '.'],
    }
}

/// So many cells of which the share (0 to 1; more is shown as all) is filled. Anything above none fills one.
#[must_use]
pub fn bar(share: f64, cells: usize, symbols: Symbols) -> String {
    let [full, empty] = signs(symbols);
    let filled = cell(share, cells).max(usize::from(share > 0.0)).min(cells);
    (0..cells).map(|i| if i < filled { full } else { empty }).collect()
}

/// The stretch from one share to another on a line of 0 to 100 %; a stretch is at least one cell.
#[must_use]
pub fn stretch([low, high]: [f64; 2], cells: usize, symbols: Symbols) -> String {
    let [full, empty] = signs(symbols);
    let from = cell(low, cells).min(cells.saturating_sub(1));
    let to = cell(high, cells).max(from + 1);
    (0..cells).map(|i| if (from..to).contains(&i) { full } else { empty }).collect()
}

fn cell(share: f64, cells: usize) -> usize {
    let wanted = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 } * cells as f64;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the cells of a line")]
    let wanted = wanted.round() as usize;
    wanted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_fills_by_its_share() {
        assert_eq!(bar(0.0, 8, Symbols::Ascii), "........");
        assert_eq!(bar(0.01, 8, Symbols::Ascii), "#.......");
        assert_eq!(bar(0.5, 8, Symbols::Ascii), "####....");
        assert_eq!(bar(7.0, 8, Symbols::Block), "████████");
        assert_eq!(bar(f64::NAN, 4, Symbols::Ascii), "....");
    }

    #[test]
    fn a_stretch_lies_where_it_lies() {
        assert_eq!(stretch([0.25, 0.75], 8, Symbols::Ascii), "..####..");
        assert_eq!(stretch([1.0, 1.0], 4, Symbols::Ascii), "...#");
        assert_eq!(stretch([0.0, 0.0], 4, Symbols::Ascii), "#...");
    }
}
