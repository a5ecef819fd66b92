//! The Sheets screen: what waits and what is next, the card of the chosen sheet, its findings and its picture.
//!
//! May live here: its layout. May not: the order of the queue.

use crate::ui::map::{self, Shown};
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words::{self, Noun, say};
use chargehand_types::queue::{CardRow, SheetRow};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Lines kept for the card below the list.
const CARD_LINES: u16 = 4;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let colours = model.settings.colours;
    let Some(list) = &model.sheets else {
        let mut page = Page::new(area.width);
        page.text(&say!(model.settings.words, "sheets.looking"), Meaning::Faint);
        page.draw(area, buf, colours);
        return;
    };
    let chosen = list.sheets.get(model.row);
    let drawing = chosen.and_then(|r| model.card_pictures.get(&r.card));
    let columns = drawing.map_or(0, |d| map::cells(d, Rect { width: area.width / 2, ..area }).0);
    let wide = area.width.saturating_sub(if columns == 0 { 0 } else { columns + 2 });
    let rows_high = area.height.saturating_sub(CARD_LINES + 1);
    rows(model, &list.sheets, wide, rows_high).draw(Rect { width: wide, height: rows_high, ..area }, buf, colours);
    let below = Rect { y: area.y + rows_high, width: wide, height: area.height - rows_high, ..area };
    card(model, chosen, wide).draw(below, buf, colours);
    if let Some(drawing) = drawing {
        let left = area.x + wide + 2;
        let room = Rect { x: left, width: area.right().saturating_sub(left), ..area };
        map::draw(
            drawing,
            &Shown { done: &[], bit: None, places: None, hit: &[], enter: None, spot: None },
            &model.traced_card,
            room,
            buf,
            model.settings,
        );
    }
}

fn rows(model: &Model, sheets: &[SheetRow], wide: u16, high: u16) -> Page {
    let words = model.settings.words;
    let mut page = Page::new(wide);
    if sheets.is_empty() {
        page.text(&say!(words, "sheets.nothing"), Meaning::Plain);
        return page;
    }
    let names = line(
        words.text("sheets.sheet"),
        words.text("sheets.card"),
        words.text("sheets.stands"),
        words.text("sheets.time"),
        words.text("sheets.due"),
        wide,
    );
    page.row(vec![(names, Meaning::Faint)]);
    let room = usize::from(high.saturating_sub(1)).max(1);
    let from = model.row.saturating_sub(room.saturating_sub(1));
    for (i, s) in sheets.iter().enumerate().skip(from).take(room) {
        let stands = match s.grade {
            Some(grade) => say!(words, "sheets.closed", grade = words.grade(grade)),
            None => words.stage(s.stage).to_owned(),
        };
        let due = s.due.map_or_else(String::new, |d| model.settings.zone.minute(d));
        let text = line(&s.id.0, &s.card.0, &stands, &words::span(s.predicted), &due, wide);
        let (mark, meaning) = if i == model.row { ("> ", Meaning::Bar) } else { ("  ", Meaning::Plain) };
        page.row(vec![(format!("{mark}{}", text.get(2..).unwrap_or(&text)), meaning)]);
    }
    page
}

/// One line of the list; the due day is left out where there is no room.
fn line(id: &str, card: &str, stands: &str, time: &str, due: &str, wide: u16) -> String {
    let room = usize::from(wide).saturating_sub(2 + 8 + 17 + 13 + if wide >= 76 { 17 } else { 0 });
    let card: String = card.chars().take(room.clamp(8, 40)).collect();
    let card_wide = room.clamp(8, 40);
    let text = format!("  {id:<7} {card:<card_wide$} {stands:<16} {time:>12}");
    if wide >= 76 { format!("{text} {due:>16}") } else { text }
}

fn card(model: &Model, chosen: Option<&SheetRow>, wide: u16) -> Page {
    let words = model.settings.words;
    let mut page = Page::new(wide);
    page.row(Vec::new());
    let Some(chosen) = chosen else { return page };
    let row: Option<&CardRow> = model.cards.as_ref().and_then(|c| c.cards.iter().find(|c| c.name == chosen.card));
    match row {
        None => page.text(&say!(words, "sheets.card-named", card = chosen.card), Meaning::Strong),
        Some(row) => {
            page.text(&row.title, Meaning::Strong);
            let parts = words.count(row.parts.into(), Noun::Part);
            let told = say!(words, "sheets.card-line", card = row.name, number = row.number, parts = parts);
            page.text(&told, Meaning::Plain);
            let [stops, signs, notes] = row.findings;
            let (text, meaning) = match (stops, signs, notes) {
                (0, 0, 0) => (say!(words, "sheets.found-nothing"), Meaning::Plain),
                (0, 0, n) => {
                    (say!(words, "sheets.found-notes", notes = words.count(n.into(), Noun::Note)), Meaning::Plain)
                }
                (0, n, _) => {
                    let findings = words.count(n.into(), Noun::Finding);
                    (say!(words, "sheets.found-signs", findings = findings), Meaning::Abnormal)
                }
                (n, _, _) => {
                    let findings = words.count(n.into(), Noun::Finding);
                    (say!(words, "sheets.found-stops", findings = findings), Meaning::Abnormal)
                }
            };
            page.text(&text, meaning);
        }
    }
    page.keep(usize::from(CARD_LINES) + 1, model.settings.words);
    page
}
