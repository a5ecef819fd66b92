//! From a model to cells. Drawing changes nothing else and takes no time of its own.
//!
//! The same thing is always in the same place: the bar on the first line, what every screen must say below it, the
//! actions, the ways to stop and the bottom line at the foot. May live here: that frame. May not: what a screen shows
//! inside it.

mod block;
mod day;
mod dialog;
mod foot;
mod head;
mod help;
mod now;
mod sheets;
mod step;

use super::model::{Model, Screen};
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
        return;
    }
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
        Screen::Help => help::draw(model, middle, buf),
    }
    if let Some(open) = &model.dialog {
        dialog::draw(model, open, middle, buf);
    }
}
