//! The Day screen: the time strip of the coming days, and when somebody is needed.
//!
//! May live here: its layout. May not: planning, the words of the plan (`day`).

use crate::day;
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words::say;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Days whose strip is shown.
const STRIPS: usize = 2;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let words = model.settings.words;
    let mut page = Page::new(area.width);
    match &model.plan {
        None => page.text(&say!(words, "day.planning"), Meaning::Faint),
        Some(Err(why)) => page.text(why, Meaning::Abnormal),
        Some(Ok(plan)) => {
            let zone = model.settings.zone;
            let wall = move |at| zone.wall(at);
            for missed in &plan.missed {
                page.text(&day::late(missed, &wall, words), Meaning::Abnormal);
            }
            if plan.sheets.is_empty() {
                page.text(&say!(words, "day.nothing"), Meaning::Plain);
            }
            for strip in day::strips(plan, &wall, words, STRIPS) {
                for row in strip.rows {
                    page.row(vec![(row, Meaning::Plain)]);
                }
            }
            if !plan.sheets.is_empty() {
                page.row(vec![(day::signs(words), Meaning::Faint)]);
            }
            for line in day::list(plan, &wall, words).lines() {
                page.row(vec![(line.to_owned(), Meaning::Plain)]);
            }
        }
    }
    page.keep(usize::from(area.height), model.settings.words);
    page.draw(area, buf, model.settings.colours);
}
