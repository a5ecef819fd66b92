//! The last lines of every screen: up to four actions, the ways to stop in their order, the bottom line.
//!
//! May live here: those lines. May not: which actions there are; the daemon's list says so.

use crate::ui::acting;
use crate::ui::answering::{self, Takes};
use crate::ui::keys::ACTIONS_SHOWN;
use crate::ui::model::{Link, Model, SAID_MS, Screen, Tone};
use crate::ui::page::{Page, Row, fold};
use crate::ui::theme::{Meaning, style};
use crate::words::{self, say};
use chargehand_types::now::{Offer, OfferedAct};
use chargehand_types::quantity::Seconds;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Lines of the ways to stop.
const STOP_LINES: u16 = 3;
/// Lines that nothing is drawn over: the ways to stop and the bottom line.
pub const STOPS: u16 = STOP_LINES + 2;

/// Draws them, and says how many lines they took.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) -> u16 {
    let colours = model.settings.colours;
    let wide = area.width - 2;
    let shown = u16::try_from(ACTIONS_SHOWN).unwrap_or(4);
    let actions = if model.screen == Screen::Now { shown } else { 0 };
    let total = actions + STOPS;
    let top = area.bottom().saturating_sub(total);
    if actions > 0 {
        let room = Rect { x: area.x + 1, y: top, width: wide, height: actions };
        list(model, wide).draw(room, buf, colours);
    }
    let room = Rect { x: area.x + 1, y: top + actions, width: wide, height: STOP_LINES };
    stops(model, wide).draw(room, buf, colours);
    bottom(model, Rect { y: area.bottom() - 2, height: 2, ..area }, buf);
    total
}

/// Up to four numbered sentences. Where digits are a value, the list has no numbers and opens with a letter.
fn list(model: &Model, wide: u16) -> Page {
    let words = model.settings.words;
    let mut page = Page::new(wide);
    let Some(now) = model.standing() else { return page };
    if model.is_old() {
        page.text(&say!(words, "foot.no-daemon"), Meaning::Faint);
        return page;
    }
    let offers = acting::listed(now, words);
    let numbered = answering::takes(model) != Takes::Digits;
    if !numbered {
        let names: Vec<String> =
            offers.iter().map(|o| acting::told(&Offer { refused: None, ..o.clone() }, words)).collect();
        if !names.is_empty() {
            page.hanging("m  ", &say!(words, "foot.others", names = names.join(" ")), Meaning::Strong, Meaning::Faint);
            page.keep(ACTIONS_SHOWN, words);
        }
        return page;
    }
    let more = offers.len() > ACTIONS_SHOWN;
    let shown: Vec<&Offer> = offers.iter().take(ACTIONS_SHOWN).collect();
    let mut spare = ACTIONS_SHOWN.saturating_sub(shown.len());
    for (i, offer) in shown.into_iter().enumerate() {
        let more = if more && i + 1 == ACTIONS_SHOWN { say!(words, "foot.more") } else { String::new() };
        action(&mut page, i + 1, offer, [acting::told(offer, words), more], &mut spare);
    }
    page
}

/// One action, on one line, or on two where a refusal is long and there is room. Its number tells the rest.
pub(super) fn action(page: &mut Page, number: usize, offer: &Offer, [text, more]: [String; 2], spare: &mut usize) {
    let head = format!("{number}  ");
    if offer.refused.is_none() {
        page.row(vec![(head, Meaning::Needed), (text, Meaning::Strong), (more, Meaning::Faint)]);
        return;
    }
    let room = page.width().saturating_sub(3 + more.chars().count());
    let mut lines = fold(&text, room);
    let keep = 1 + (*spare).min(lines.len().saturating_sub(1));
    *spare -= keep - 1;
    if lines.len() > keep {
        lines.truncate(keep);
        if let Some(last) = lines.last_mut() {
            let cut: String = last.chars().take(room.saturating_sub(2)).collect();
            *last = cut + " …";
        }
    }
    for (i, line) in lines.into_iter().enumerate() {
        let head = if i == 0 { head.clone() } else { "   ".to_owned() };
        let more = if i + 1 == keep { more.as_str() } else { "" };
        page.row(vec![(head, Meaning::Faint), (line + more, Meaning::Faint)]);
    }
}

/// The three ways to stop, in this order: the red button, hold now, hold at the next lift; and the call for help.
fn stops(model: &Model, wide: u16) -> Page {
    let words = model.settings.words;
    let mut page = Page::new(wide);
    let unknown = say!(words, "foot.button-unknown");
    let button = model.standing().map_or(unknown.as_str(), |n| n.machine.red_button.as_str());
    let head = say!(words, "foot.to-stop");
    let beside = " ".repeat(head.chars().count());
    let button = say!(words, "foot.button", place = button.trim_end_matches('.'));
    page.row(vec![(head, Meaning::Strong), (button, Meaning::Strong)]);
    let turning = match (model.is_old(), model.may_move(), stops_after(model)) {
        (true, ..) => say!(words, "foot.unheard"),
        (false, true, Some(after)) => say!(words, "foot.stops-after", span = words::span(after)),
        (false, true, None) => say!(words, "foot.turning"),
        (false, false, _) => String::new(),
    };
    page.row(vec![
        (format!("{beside}{}", say!(words, "foot.space")), Meaning::Strong),
        (say!(words, "foot.hold-now"), Meaning::Plain),
        (turning, Meaning::Plain),
    ]);
    let mut row: Row = vec![(beside, Meaning::Plain)];
    if offers(model, OfferedAct::HoldAtLift) {
        row.push(("f".to_owned(), Meaning::Strong));
        row.push((lift(model), Meaning::Plain));
    }
    row.push(("w".to_owned(), Meaning::Strong));
    row.push((say!(words, "foot.wrong"), Meaning::Plain));
    page.row(row);
    page
}

/// How long a hold waits behind what the controller already holds.
fn stops_after(model: &Model) -> Option<Seconds> {
    model.standing().and_then(|n| n.machine.stops_after)
}

fn offers(model: &Model, act: OfferedAct) -> bool {
    !model.is_old() && model.standing().is_some_and(|n| n.actions.iter().any(|o| o.act == act && o.refused.is_none()))
}

fn lift(model: &Model) -> String {
    let words = model.settings.words;
    let left =
        model.standing().and_then(|n| n.sheet.as_ref()).and_then(|s| s.operation.as_ref()).and_then(|o| o.next_lift);
    match left {
        Some(seconds) if !model.is_old() => {
            let left = (seconds.value() - model.since_heard().value()).max(0.0);
            say!(words, "foot.lift-in", span = words::span(Seconds::of(left)))
        }
        Some(_) | None => say!(words, "foot.lift"),
    }
}

/// What was last said, or how to answer.
fn bottom(model: &Model, area: Rect, buf: &mut Buffer) {
    let colours = model.settings.colours;
    let line = Rect { height: 1, ..area };
    let mut page = Page::new(area.width - 2);
    match word(model) {
        Some((text, meaning)) => {
            page.text(&text, meaning);
            let lines = usize::from(area.height);
            if page.height() > lines {
                page.keep(lines, model.settings.words);
            }
        }
        None => page.row(vec![(hint(model), Meaning::Faint)]),
    }
    buf.set_style(line, style(Meaning::Plain, colours));
    page.draw(Rect { x: area.x + 1, width: area.width - 2, ..area }, buf, colours);
}

/// A hold that waits for its confirmation is told before anything else.
fn word(model: &Model) -> Option<(String, Meaning)> {
    let words = model.settings.words;
    if let Some(asked) = model.hold_asked {
        let waited = model.clock.saturating_sub(asked);
        let waits = stops_after(model);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a cast from f64 saturates")]
        let due = waits.map_or(0, |s| (s.value() * 1000.0) as u64);
        return Some(if waited < crate::ui::model::HOLD_CONFIRMED_MS.saturating_add(due) {
            let text = match waits {
                Some(after) => say!(words, "foot.hold-asked-after", span = words::span(after)),
                None => say!(words, "foot.hold-asked"),
            };
            (text, Meaning::Abnormal)
        } else {
            (say!(words, "foot.hold-unconfirmed", seconds = waited / 1000), Meaning::Fault)
        });
    }
    let (text, tone, at) = model.said.as_ref()?;
    let fresh = model.clock.saturating_sub(*at) < SAID_MS;
    fresh.then(|| match tone {
        Tone::Said => (text.clone(), Meaning::Strong),
        Tone::Refused => (text.clone(), Meaning::Abnormal),
    })
}

fn hint(model: &Model) -> String {
    let words = model.settings.words;
    match (&model.link, model.screen) {
        (Link::Lost { .. } | Link::Opening, _) => say!(words, "hint.lost"),
        (Link::Up, Screen::Now) => say!(words, "hint.now"),
        (Link::Up, Screen::Sheets) => say!(words, "hint.sheets"),
        (Link::Up, Screen::Day) => say!(words, "hint.day"),
        (Link::Up, Screen::History) => say!(words, "hint.history"),
        (Link::Up, Screen::Shop) => say!(words, "hint.shop"),
        (Link::Up, Screen::Help) => say!(words, "hint.help"),
    }
}
