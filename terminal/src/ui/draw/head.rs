//! The first lines of every screen: the bar, a lost link, open calls, and what every screen must say.
//!
//! May live here: those lines, and what is left when the window is too small. May not: the screens.

use super::LEAST;
use crate::ui::model::{Link, Model, Screen};
use crate::ui::page::Page;
use crate::ui::theme::{Meaning, style};
use crate::words::{Words, say};
use chargehand_types::now::LinkNow;
use chrono::TimeDelta;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// At most so many lines below the bar, so that the screen keeps its room.
const LINES_AT_MOST: usize = 4;

/// The screens and their keys, in the order of the bar.
const BAR: [(Screen, char); 6] = [
    (Screen::Now, 'n'),
    (Screen::Sheets, 's'),
    (Screen::Day, 'd'),
    (Screen::History, 'h'),
    (Screen::Shop, 'o'),
    (Screen::Help, '?'),
];

fn name(screen: Screen, words: &Words) -> String {
    match screen {
        Screen::Now => say!(words, "screen.now"),
        Screen::Sheets => say!(words, "screen.sheets"),
        Screen::Day => say!(words, "screen.day"),
        Screen::History => say!(words, "screen.history"),
        Screen::Shop => say!(words, "screen.shop"),
        Screen::Help => say!(words, "screen.help"),
    }
}

/// Draws them, and says how many lines they took.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) -> u16 {
    bar(model, area, buf);
    let words = model.settings.words;
    let mut page = Page::new(area.width.saturating_sub(2));
    link(model, &mut page);
    if let Some(now) = model.standing() {
        for call in &now.calls {
            let head = say!(words, "head.call", number = call.number);
            page.hanging(&head, &call.text, Meaning::Fault, Meaning::Abnormal);
        }
        if !now.notices.is_empty() {
            page.text(&now.notices.join(" "), Meaning::Notice);
        }
    }
    page.keep(LINES_AT_MOST, words);
    let room = Rect { x: area.x + 1, y: area.y + 1, width: area.width - 2, height: area.height - 1 };
    page.draw(room, buf, model.settings.colours);
    1 + u16::try_from(page.height()).unwrap_or(0)
}

fn bar(model: &Model, area: Rect, buf: &mut Buffer) {
    let colours = model.settings.colours;
    let line = Rect { height: 1, ..area };
    buf.set_style(line, style(Meaning::Bar, colours));
    let mut x = area.x + 1;
    for (screen, key) in BAR {
        let text = format!("{key} {}", name(screen, model.settings.words));
        let text = if model.screen == screen { format!("[{text}]") } else { format!(" {text} ") };
        (x, _) = buf.set_stringn(
            x,
            area.y,
            &text,
            usize::from(area.right().saturating_sub(x)),
            style(Meaning::Bar, colours),
        );
    }
    let room = area.right().saturating_sub(x);
    let fits = right(model).into_iter().find_map(|text| {
        let long = u16::try_from(text.chars().count()).ok()?;
        (long < room).then_some((text, long))
    });
    if let Some((right, long)) = fits {
        buf.set_stringn(area.right() - long - 1, area.y, &right, usize::from(long), style(Meaning::Bar, colours));
    }
}

/// Machine, people and time; the same with less, for narrower windows.
fn right(model: &Model) -> Vec<String> {
    let Some((now, heard)) = &model.now else { return Vec::new() };
    let words = model.settings.words;
    let people: Vec<String> = now.people.iter().map(|p| format!("{} ({})", p.who, words.role(p.role))).collect();
    let people = if people.is_empty() { say!(words, "head.nobody") } else { people.join(", ") };
    let later = i64::try_from(model.clock.saturating_sub(*heard)).unwrap_or(0);
    let time = model.settings.zone.time(now.at + TimeDelta::milliseconds(later));
    vec![format!("{}   {people}   {time}", now.machine.name), format!("{people}   {time}"), time]
}

fn link(model: &Model, page: &mut Page) {
    let words = model.settings.words;
    match &model.link {
        Link::Opening => page.text(&say!(words, "head.opening"), Meaning::Abnormal),
        Link::Lost { since } => {
            let gone = model.clock.saturating_sub(*since) / 1000;
            page.hanging(
                &say!(words, "head.unheard"),
                &say!(words, "head.unheard-since", seconds = gone),
                Meaning::Fault,
                Meaning::Abnormal,
            );
        }
        Link::Up => {
            if let Some(LinkNow::Down { why }) = model.standing().map(|n| &n.machine.link) {
                page.hanging(&say!(words, "head.no-answer"), why, Meaning::Fault, Meaning::Abnormal);
            }
        }
    }
}

/// What is left when the window is too small: how things stand, the hold key, the size needed.
pub fn too_small(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width);
    let words = model.settings.words;
    page.text(&say!(words, "head.hold"), Meaning::Strong);
    if model.is_old() {
        page.text(&say!(words, "head.unheard-short"), Meaning::Fault);
    }
    page.text(&say!(words, "head.too-small", wide = LEAST.0, high = LEAST.1), Meaning::Plain);
    if let Some(now) = model.standing() {
        page.text(&say!(words, "head.button", place = now.machine.red_button), Meaning::Plain);
        page.text(&now.headline, Meaning::Plain);
    }
    page.draw(area, buf, model.settings.colours);
}
