//! The Day screen: the time strip of the coming days, and when somebody is needed.
//!
//! May live here: its layout. May not: planning, the words of the plan (`day`).

use crate::day;
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Days whose strip is shown.
const STRIPS: usize = 2;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width);
    match &model.plan {
        None => page.text("Planning the day …", Meaning::Faint),
        Some(Err(why)) => page.text(why, Meaning::Abnormal),
        Some(Ok(plan)) => {
            let zone = model.settings.zone;
            let wall = move |at| zone.wall(at);
            for missed in &plan.missed {
                page.text(&day::late(missed, &wall), Meaning::Abnormal);
            }
            if plan.sheets.is_empty() {
                page.text("Nothing is planned: no sheet waits that can be cut as the hours are.", Meaning::Plain);
            }
            for strip in day::strips(plan, &wall, STRIPS) {
                for row in strip.rows {
                    page.row(vec![(row, Meaning::Plain)]);
                }
            }
            if !plan.sheets.is_empty() {
                page.row(vec![(day::SIGNS.to_owned(), Meaning::Faint)]);
            }
            for line in day::list(plan, &wall).lines() {
                page.row(vec![(line.to_owned(), Meaning::Plain)]);
            }
        }
    }
    page.keep(usize::from(area.height), model.settings.words);
    page.draw(area, buf, model.settings.colours);
}
