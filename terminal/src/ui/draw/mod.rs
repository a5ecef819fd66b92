//! From a model to cells. Drawing changes nothing else and takes no time of its own.
//!
//! The same thing is always in the same place: the bar on the first line, what every screen must say below it, the
//! actions, the ways to stop and the bottom line at the foot. May live here: that frame. May not: what a screen shows
//! inside it.

mod bit;
mod block;
mod causes;
mod chart;
mod day;
mod dialog;
mod foot;
mod head;
mod help;
mod history;
mod now;
mod sheets;
mod shop;
mod step;

use super::model::{Dialog, Model, Screen};
use super::settings::Symbols;
use super::theme::{Meaning, style};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// The smallest screen on which everything has its place.
pub const LEAST: (u16, u16) = (60, 18);

/// Draws the screens of a model.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    buf.set_style(area, style(Meaning::Plain, model.settings.colours));
    if area.width < LEAST.0 || area.height < LEAST.1 {
        head::too_small(model, area, buf);
    } else {
        screen(model, area, buf);
    }
    if model.settings.symbols == Symbols::Ascii {
        plain_ascii(area, buf);
    }
}

/// The frame and the open screen in it.
fn screen(model: &Model, area: Rect, buf: &mut Buffer) {
    let top = head::draw(model, area, buf);
    let bottom = foot::draw(model, area, buf);
    let middle = Rect {
        y: area.y + top,
        height: area.height.saturating_sub(top + bottom),
        x: area.x + 1,
        width: area.width - 2,
    };
    match model.screen {
        Screen::Now => now::draw(model, middle, buf),
        Screen::Sheets => sheets::draw(model, middle, buf),
        Screen::Day => day::draw(model, middle, buf),
        Screen::History => history::draw(model, middle, buf),
        Screen::Shop => shop::draw(model, middle, buf),
        Screen::Help => help::draw(model, middle, buf),
    }
    if let Some(open) = &model.dialog {
        // a short card may lie over all but the bar and the ways to stop: nothing else is to be done while it is read
        let room = if matches!(open, Dialog::Trouble { .. }) {
            Rect { y: area.y + 1, height: area.height - 1 - foot::STOPS, ..middle }
        } else {
            middle
        };
        dialog::draw(model, open, room, buf);
    }
}

/// Every cell as ASCII, whatever text brought into it: names of people and of the shop have letters of their own, and a
/// terminal that cannot show them would lose the column as well.
fn plain_ascii(area: Rect, buf: &mut Buffer) {
    for position in area.positions() {
        if let Some(cell) = buf.cell_mut(position)
            && let Some(c) = cell.symbol().chars().next().filter(|c| !c.is_ascii())
        {
            cell.set_char(nearest(c));
        }
    }
}

/// The letter of ASCII that reads most like it; `?` for what has none.
const fn nearest(c: char) -> char {
    match c {
        '…' | '·' => '.',
        '–' | '—' | '−' | '─' => '-',
        '│' => '|',
        '‘' | '’' | '´' => '\'',
        '“' | '”' | '„' => '"',
        '×' => 'x',
        'à'..='å' => 'a',
        'ç' => 'c',
        'è'..='ë' => 'e',
        'ì'..='ï' => 'i',
        'ñ' => 'n',
        'ò'..='ö' | 'ø' => 'o',
        'ù'..='ü' => 'u',
        'À'..='Å' => 'A',
        'Ç' => 'C',
        'È'..='Ë' => 'E',
        'Ì'..='Ï' => 'I',
        'Ñ' => 'N',
        'Ò'..='Ö' | 'Ø' => 'O',
        'Ù'..='Ü' => 'U',
        '█' => '#',
        _ => '?',
    }
}
