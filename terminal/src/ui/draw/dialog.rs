//! Dialogs over the screen. The ways to stop stay in sight below them.
//!
//! May live here: their layout. May not: what their keys do.

use super::foot;
use crate::trouble::{CARDS, Card};
use crate::ui::acting::{self, asks_first};
use crate::ui::model::{Dialog, Model};
use crate::ui::page::Page;
use crate::ui::settings::Symbols;
use crate::ui::theme::{Meaning, style};
use crate::words::{REASONS, Words, say};
use chargehand_types::checklist::Ask;
use chargehand_types::finding::Finding;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Block, Clear, Widget};

/// A dialog is no wider than this.
const WIDE_AT_MOST: u16 = 76;

/// Draws a dialog in the middle of an area.
pub fn draw(model: &Model, dialog: &Dialog, area: Rect, buf: &mut Buffer) {
    let wide = area.width.min(WIDE_AT_MOST);
    let (room, words) = (usize::from(area.height.saturating_sub(2)), model.settings.words);
    let mut page = Page::new(wide.saturating_sub(4));
    let title = write(model, dialog, &mut page);
    if *dialog == Dialog::Menu && page.height() > room {
        page = Page::new(wide.saturating_sub(4));
        menu(model, true, &mut page);
        page.keep_last(room, words);
    }
    page.keep(room, words);
    let high = u16::try_from(page.height()).unwrap_or(u16::MAX).saturating_add(2).min(area.height);
    let frame =
        Rect { x: area.x + (area.width - wide) / 2, y: area.y + (area.height - high) / 2, width: wide, height: high };
    Clear.render(frame, buf);
    let plain = style(Meaning::Plain, model.settings.colours);
    let border = match model.settings.symbols {
        Symbols::Braille | Symbols::Block => ratatui::symbols::border::DOUBLE,
        Symbols::Ascii => ratatui::symbols::border::Set {
            top_left: "+",
            top_right: "+",
            bottom_left: "+",
            bottom_right: "+",
            vertical_left: "|",
            vertical_right: "|",
            horizontal_top: "-",
            horizontal_bottom: "-",
        },
    };
    Block::bordered().border_set(border).title(format!(" {title} ")).style(plain).render(frame, buf);
    let inner = Rect { x: frame.x + 2, y: frame.y + 1, width: wide.saturating_sub(4), height: high.saturating_sub(2) };
    page.draw(inner, buf, model.settings.colours);
}

fn write(model: &Model, dialog: &Dialog, page: &mut Page) -> String {
    let words = model.settings.words;
    match dialog {
        Dialog::Confirm { act, text, .. } => {
            page.text(text, Meaning::Strong);
            page.text(&asks_first(*act, words).unwrap_or_default(), Meaning::Plain);
            page.gap();
            page.text(&say!(words, "dialog.enter-does"), Meaning::Needed);
            say!(words, "dialog.once-more")
        }
        Dialog::Menu => {
            menu(model, false, page);
            say!(words, "dialog.menu")
        }
        Dialog::Trouble { card } => trouble(card.and_then(|at| CARDS.get(at)), words, page),
        Dialog::Name { typed } => {
            page.text(&say!(words, "dialog.who"), Meaning::Strong);
            for (i, name) in model.names.iter().enumerate() {
                page.hanging(&format!("{}  ", i + 1), name, Meaning::Needed, Meaning::Plain);
            }
            page.row(vec![(say!(words, "dialog.your-name"), Meaning::Needed), (format!("{typed}_"), Meaning::Strong)]);
            page.gap();
            page.text(&say!(words, "dialog.name-space"), Meaning::Faint);
            page.text(&say!(words, "dialog.name-none"), Meaning::Faint);
            say!(words, "dialog.sign-in")
        }
        Dialog::Pin { who, typed } => {
            page.text(&say!(words, "dialog.your-pin", who = who), Meaning::Strong);
            let marks = "#".repeat(typed.shown().len());
            page.row(vec![(say!(words, "dialog.pin-digits"), Meaning::Needed), (format!("{marks}_"), Meaning::Strong)]);
            page.gap();
            page.text(&say!(words, "dialog.pin-foot"), Meaning::Faint);
            say!(words, "dialog.sign-in")
        }
        Dialog::Sign { .. } => {
            sign(model, page);
            say!(words, "dialog.owner-signs")
        }
        Dialog::WhyNot { .. } => {
            page.text(&say!(words, "dialog.why-not-good"), Meaning::Strong);
            reasons(words, page);
            page.text(&say!(words, "dialog.goes-back"), Meaning::Faint);
            say!(words, "dialog.not-good")
        }
        Dialog::Lot { typed } => {
            page.text(&say!(words, "dialog.which-lot"), Meaning::Strong);
            page.row(vec![(say!(words, "dialog.marked"), Meaning::Needed), (format!("{typed}_"), Meaning::Strong)]);
            let task = model.standing().and_then(|now| now.task.as_ref());
            if task.is_some_and(|task| matches!(task.step.ask, Ask::Lot { carried: true, .. })) {
                page.text(&say!(words, "dialog.lot-and-step"), Meaning::Needed);
            }
            page.text(&say!(words, "dialog.words-space"), Meaning::Faint);
            say!(words, "dialog.lot")
        }
        Dialog::PartNote { typed, .. } => {
            page.text(&say!(words, "dialog.what-is-wrong"), Meaning::Strong);
            page.row(vec![(say!(words, "dialog.in-words"), Meaning::Needed), (format!("{typed}_"), Meaning::Strong)]);
            page.text(&say!(words, "dialog.words-space"), Meaning::Faint);
            say!(words, "dialog.something-else")
        }
    }
}

/// The cards by number, or one card: the red button before everything else.
fn trouble(card: Option<&Card>, words: &Words, page: &mut Page) -> String {
    match card {
        Some(card) => {
            page.text(words.text(card.first), Meaning::Needed);
            page.text(words.text(card.then), Meaning::Plain);
            page.text(words.text(card.here), Meaning::Faint);
            page.text(&say!(words, "trouble.others"), Meaning::Faint);
            words.text(card.title).to_owned()
        }
        None => {
            page.text(&say!(words, "trouble.ask"), Meaning::Needed);
            for (i, card) in CARDS.iter().enumerate() {
                page.hanging(&format!("{}  ", i + 1), words.text(card.title), Meaning::Needed, Meaning::Strong);
            }
            page.text(&say!(words, "trouble.foot"), Meaning::Faint);
            say!(words, "trouble.title")
        }
    }
}

/// The reasons in two columns, so that they fit the smallest screen.
fn reasons(words: &Words, page: &mut Page) {
    let half = REASONS.len().div_ceil(2);
    for row in 0..half {
        let mut line = Vec::new();
        for at in [row, row + half] {
            if let Some(reason) = REASONS.get(at) {
                line.push((format!("{}  ", (at + 1) % 10), Meaning::Needed));
                line.push((format!("{:<24}", words.reason(*reason)), Meaning::Plain));
            }
        }
        page.row(line);
    }
}

/// What may be done by number; dense: a line each, and what says why not is cut.
fn menu(model: &Model, dense: bool, page: &mut Page) {
    let words = model.settings.words;
    let offers = model.standing().map(|now| acting::listed(now, words)).unwrap_or_default();
    for (i, offer) in offers.iter().take(9).enumerate() {
        let (head, told) = (format!("{}  ", i + 1), acting::told(offer, words));
        match &offer.refused {
            Some(_) if dense => foot::action(page, i + 1, offer, [told, String::new()], &mut 0),
            None => page.hanging(&head, &told, Meaning::Needed, Meaning::Strong),
            Some(_) => page.hanging(&head, &told, Meaning::Faint, Meaning::Faint),
        }
    }
    if offers.is_empty() {
        page.text(&say!(words, "dialog.nothing"), Meaning::Plain);
    }
    if !dense {
        page.gap();
    }
    page.text(&say!(words, "dialog.menu-foot"), Meaning::Faint);
}

fn sign(model: &Model, page: &mut Page) {
    let words = model.settings.words;
    let to_sign: &[Finding] =
        model.standing().and_then(|n| n.sheet.as_ref()).map(|s| s.to_sign.as_slice()).unwrap_or_default();
    let Some(finding) = to_sign.first() else {
        page.text(&say!(words, "dialog.none-to-sign"), Meaning::Plain);
        return;
    };
    let place = match (&finding.operation, finding.line) {
        (Some(operation), Some(line)) => say!(words, "dialog.sign-line", operation = operation, line = line),
        (Some(operation), None) => say!(words, "dialog.sign-place", operation = operation),
        (None, _) => String::new(),
    };
    let count = say!(words, "dialog.sign-count", of = to_sign.len());
    page.text(&format!("{}{place}{count}", finding.code), Meaning::Strong);
    for line in finding.facts.excerpt.iter().flat_map(|e| e.lines()) {
        page.row(vec![(format!("  {line}"), Meaning::Plain)]);
    }
    page.hanging(&say!(words, "dialog.means"), &finding.means, Meaning::Faint, Meaning::Plain);
    page.hanging(&say!(words, "dialog.better"), &finding.remedy, Meaning::Faint, Meaning::Plain);
    page.gap();
    page.text(&say!(words, "dialog.sign-enter"), Meaning::Needed);
    page.text(&say!(words, "dialog.sign-other"), Meaning::Faint);
}
