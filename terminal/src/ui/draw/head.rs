//! The first lines of every screen: the bar, a lost link, open calls, and what every screen must say.
//!
//! May live here: those lines, and what is left when the window is too small. May not: the screens.

use super::LEAST;
use crate::ui::model::{Link, Model, Screen};
use crate::ui::page::Page;
use crate::ui::theme::{Meaning, style};
use crate::words;
use chargehand_types::now::LinkNow;
use chrono::TimeDelta;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// At most so many lines below the bar, so that the screen keeps its room.
const LINES_AT_MOST: usize = 4;

/// The screens and their keys, in the order of the bar.
const BAR: [(Screen, &str); 6] = [
    (Screen::Now, "n Now"),
    (Screen::Sheets, "s Sheets"),
    (Screen::Day, "d Day"),
    (Screen::History, "h History"),
    (Screen::Shop, "o Shop"),
    (Screen::Help, "? help"),
];

/// Draws them, and says how many lines they took.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) -> u16 {
    bar(model, area, buf);
    let mut page = Page::new(area.width.saturating_sub(2));
    link(model, &mut page);
    if let Some(now) = model.standing() {
        for call in &now.calls {
            page.hanging(&format!("Call {}: ", call.number), &call.text, Meaning::Fault, Meaning::Abnormal);
        }
        if !now.notices.is_empty() {
            page.text(&now.notices.join(" "), Meaning::Notice);
        }
    }
    page.keep(LINES_AT_MOST);
    let room = Rect { x: area.x + 1, y: area.y + 1, width: area.width - 2, height: area.height - 1 };
    page.draw(room, buf, model.settings.colours);
    1 + u16::try_from(page.height()).unwrap_or(0)
}

fn bar(model: &Model, area: Rect, buf: &mut Buffer) {
    let colours = model.settings.colours;
    let line = Rect { height: 1, ..area };
    buf.set_style(line, style(Meaning::Bar, colours));
    let mut x = area.x + 1;
    for (screen, text) in BAR {
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
        (long + 1 < room).then_some((text, long))
    });
    if let Some((right, long)) = fits {
        buf.set_stringn(area.right() - long - 1, area.y, &right, usize::from(long), style(Meaning::Bar, colours));
    }
}

/// Machine, people and time; the same with less, for narrower windows.
fn right(model: &Model) -> Vec<String> {
    let Some((now, heard)) = &model.now else { return Vec::new() };
    let people: Vec<String> = now.people.iter().map(|p| format!("{} ({})", p.who, words::role(p.role))).collect();
    let people = if people.is_empty() { "nobody signed in".to_owned() } else { people.join(", ") };
    let later = i64::try_from(model.clock.saturating_sub(*heard)).unwrap_or(0);
    let time = model.settings.zone.time(now.at + TimeDelta::milliseconds(later));
    vec![format!("{}   {people}   {time}", now.machine.name), format!("{people}   {time}"), time]
}

fn link(model: &Model, page: &mut Page) {
    match &model.link {
        Link::Opening => page.text("Looking for the daemon.", Meaning::Abnormal),
        Link::Lost { since } => {
            let gone = model.clock.saturating_sub(*since) / 1000;
            page.hanging(
                "THE DAEMON IS NOT HEARD ",
                &format!(
                    "for {gone} s. Nothing is held by this screen: use the red button. It is tried again all the time."
                ),
                Meaning::Fault,
                Meaning::Abnormal,
            );
        }
        Link::Up => {
            if let Some(LinkNow::Down { why }) = model.standing().map(|n| &n.machine.link) {
                page.hanging("THE CONTROLLER DOES NOT ANSWER ", why, Meaning::Fault, Meaning::Abnormal);
            }
        }
    }
}

/// What is left when the window is too small: how things stand, the hold key, the size needed.
pub fn too_small(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width);
    page.text("Hold: space bar or *", Meaning::Strong);
    if model.is_old() {
        page.text("The daemon is not heard.", Meaning::Fault);
    }
    page.text(&format!("The window is too small: {} by {} is needed.", LEAST.0, LEAST.1), Meaning::Plain);
    if let Some(now) = model.standing() {
        page.text(&format!("Red button: {}", now.machine.red_button), Meaning::Plain);
        page.text(&now.headline, Meaning::Plain);
    }
    page.draw(area, buf, model.settings.colours);
}
