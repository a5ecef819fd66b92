//! A bit drawn by its kind, in plain letters that every terminal has: shank, flutes, end, and where it is measured.
//!
//! Flutes are drawn as they are seen on a bit that turns clockwise from above: rising to the right they lift the chips,
//! falling to the right they press them down. May live here: the drawings. May not: which bit is wanted.

use crate::ui::page::Page;
use crate::ui::settings::Settings;
use crate::ui::theme::Meaning;
use crate::words::{Words, say};
use chargehand_types::card::BitKind;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Columns it takes, words below it included.
pub const WIDE: u16 = 26;

/// The shank, the same for all.
const SHANK: [&str; 3] = [" |   | ", " |   | ", " |___| "];

const fn flutes(kind: BitKind) -> [&'static str; 5] {
    match kind {
        BitKind::UpCut => [" |  /| ", " | / | ", " |/  | ", " |  /| ", " |_/_| "],
        BitKind::DownCut => [" |\\  | ", " | \\ | ", " |  \\| ", " |\\  | ", " |_\\_| "],
        BitKind::Compression => [" |\\  | ", " | \\ | ", " |  >| ", " | / | ", " |/__| "],
        BitKind::Straight => [" | | | ", " | | | ", " | | | ", " | | | ", " |_|_| "],
        BitKind::Ball => [" |  /| ", " | / | ", " |/  | ", " |  /| ", "  \\_/  "],
        BitKind::V => [" |   | ", " \\   / ", "  \\ /  ", "  \\ /  ", "   V   "],
    }
}

/// Which row of the flutes the caliper goes across: a pointed bit is told by its shank.
const fn measured(kind: BitKind) -> Option<usize> {
    match kind {
        BitKind::UpCut | BitKind::DownCut | BitKind::Compression | BitKind::Straight | BitKind::Ball => Some(2),
        BitKind::V => None,
    }
}

fn about(kind: BitKind, words: &Words) -> String {
    match kind {
        BitKind::UpCut => say!(words, "bit.up-cut"),
        BitKind::DownCut => say!(words, "bit.down-cut"),
        BitKind::Compression => say!(words, "bit.compression"),
        BitKind::Straight => say!(words, "bit.straight"),
        BitKind::Ball => say!(words, "bit.ball"),
        BitKind::V => say!(words, "bit.v"),
    }
}

/// Draws it into the top of an area.
pub fn draw(kind: BitKind, area: Rect, buf: &mut Buffer, settings: Settings) {
    let words = settings.words;
    let mut page = Page::new(area.width);
    let arrow = say!(words, "bit.measure");
    for (row, text) in SHANK.iter().enumerate() {
        let told = if measured(kind).is_none() && row == 1 { arrow.as_str() } else { "" };
        page.row(vec![((*text).to_owned(), Meaning::Strong), (told.to_owned(), Meaning::Needed)]);
    }
    for (row, text) in flutes(kind).iter().enumerate() {
        let told = if measured(kind) == Some(row) { arrow.as_str() } else { "" };
        page.row(vec![((*text).to_owned(), Meaning::Strong), (told.to_owned(), Meaning::Needed)]);
    }
    page.text(&about(kind, words), Meaning::Faint);
    page.keep(usize::from(area.height), words);
    page.draw(area, buf, settings.colours);
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [BitKind; 6] =
        [BitKind::UpCut, BitKind::DownCut, BitKind::Compression, BitKind::Straight, BitKind::Ball, BitKind::V];

    #[test]
    fn each_kind_has_its_own_drawing_in_plain_letters() {
        for (i, kind) in ALL.iter().enumerate() {
            let drawn = flutes(*kind);
            assert!(drawn.iter().chain(&SHANK).all(|row| row.is_ascii() && row.len() == 7), "{kind:?}");
            assert!(ALL[i + 1..].iter().all(|other| flutes(*other) != drawn), "{kind:?}");
        }
    }

    /// Chips follow the flutes: only an up-cut edge at the tip lifts them, only a down-cut one at the top presses the face
    /// down. Common practice, no source.
    #[test]
    fn flutes_rise_where_chips_are_lifted() {
        let joined = |kind| flutes(kind).concat();
        assert!(joined(BitKind::UpCut).contains('/') && !joined(BitKind::UpCut).contains('\\'));
        assert!(joined(BitKind::DownCut).contains('\\') && !joined(BitKind::DownCut).contains('/'));
        let both = flutes(BitKind::Compression);
        assert!(both[0].contains('\\') && both[4].contains('/'), "down-cut above, up-cut at the tip");
    }
}
