//! Small charts of one line: a bar of a share, the same with a mark on it or in two parts, and where a share lies
//! between 0 and 100 %.
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

/// The sign that marks a place on a bar.
#[must_use]
pub const fn mark(symbols: Symbols) -> char {
    match symbols {
        Symbols::Braille | Symbols::Block => '│',
        Symbols::Ascii => '|',
    }
}

/// A bar with another share marked on it: what was reckoned beside what it took.
#[must_use]
pub fn marked(share: f64, other: f64, cells: usize, symbols: Symbols) -> String {
    let at = cell(other, cells).saturating_sub(1);
    bar(share, cells, symbols).chars().enumerate().map(|(i, sign)| if i == at { mark(symbols) } else { sign }).collect()
}

/// The signs of the two parts of a bar in two parts.
#[must_use]
pub const fn parts(symbols: Symbols) -> [char; 2] {
    match symbols {
        Symbols::Braille | Symbols::Block => ['█', '▒'],
        Symbols::Ascii => ['#', '='],
    }
}

/// A bar of two shares, one behind the other; neither hides the other where there is any of it and room for both.
#[must_use]
pub fn in_two(first: f64, second: f64, cells: usize, symbols: Symbols) -> String {
    let [one, other] = parts(symbols);
    let [_, empty] = signs(symbols);
    let least = |share: f64| usize::from(share > 0.0);
    let all = cell(first + second, cells).max(least(first) + least(second)).min(cells);
    let front =
        cell(first, cells).clamp(least(first).min(all), all.saturating_sub(least(second)).max(least(first).min(all)));
    (0..cells)
        .map(|i| {
            if i < front {
                one
            } else if i < all {
                other
            } else {
                empty
            }
        })
        .collect()
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
    fn what_was_reckoned_is_marked() {
        assert_eq!(marked(0.5, 0.25, 8, Symbols::Ascii), "#|##....", "longer than was reckoned");
        assert_eq!(marked(0.25, 0.5, 8, Symbols::Ascii), "##.|....", "shorter");
        assert_eq!(marked(0.5, 0.5, 8, Symbols::Block), "███│····");
        assert_eq!(marked(1.0, 1.0, 0, Symbols::Ascii), "");
        assert_eq!(marked(0.5, f64::NAN, 4, Symbols::Ascii), "|#..");
    }

    #[test]
    fn both_parts_of_a_bar_are_seen() {
        assert_eq!(in_two(0.5, 0.25, 8, Symbols::Ascii), "####==..");
        assert_eq!(in_two(0.0, 1.0, 4, Symbols::Ascii), "====");
        assert_eq!(in_two(1.0, 0.0, 4, Symbols::Block), "████");
        assert_eq!(in_two(0.999, 0.001, 8, Symbols::Ascii), "#######=");
        assert_eq!(in_two(0.001, 0.999, 8, Symbols::Ascii), "#=======");
        assert_eq!(in_two(0.5, 0.5, 1, Symbols::Ascii).len(), 1);
        assert_eq!(in_two(0.0, 0.0, 3, Symbols::Block), "···");
    }

    #[test]
    fn a_stretch_lies_where_it_lies() {
        assert_eq!(stretch([0.25, 0.75], 8, Symbols::Ascii), "..####..");
        assert_eq!(stretch([1.0, 1.0], 4, Symbols::Ascii), "...#");
        assert_eq!(stretch([0.0, 0.0], 4, Symbols::Ascii), "#...");
    }
}
