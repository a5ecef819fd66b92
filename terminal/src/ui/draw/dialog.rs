//! Dialogs over the screen. The ways to stop stay in sight below them.
//!
//! May live here: their layout. May not: what their keys do.

use crate::ui::acting::{self, asks_first};
use crate::ui::model::{Dialog, Model};
use crate::ui::page::Page;
use crate::ui::settings::Symbols;
use crate::ui::theme::{Meaning, style};
use crate::words::{self, REASONS};
use chargehand_types::finding::Finding;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Block, Clear, Widget};

/// A dialog is no wider than this.
const WIDE_AT_MOST: u16 = 76;

/// Draws a dialog in the middle of an area.
pub fn draw(model: &Model, dialog: &Dialog, area: Rect, buf: &mut Buffer) {
    let wide = area.width.min(WIDE_AT_MOST);
    let mut page = Page::new(wide.saturating_sub(4));
    let title = write(model, dialog, &mut page);
    page.keep(usize::from(area.height.saturating_sub(2)));
    let high = u16::try_from(page.height()).unwrap_or(u16::MAX).saturating_add(2).min(area.height);
    let frame = Rect {
        x: area.x + (area.width - wide) / 2,
        y: area.y + (area.height - high) / 2,
        width: wide,
        height: high,
    };
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

fn write(model: &Model, dialog: &Dialog, page: &mut Page) -> &'static str {
    match dialog {
        Dialog::Confirm { act, text, .. } => {
            page.text(text, Meaning::Strong);
            page.text(asks_first(*act).unwrap_or_default(), Meaning::Plain);
            page.gap();
            page.text("Enter does it. Any other key does not.", Meaning::Needed);
            "Once more"
        }
        Dialog::Menu => {
            menu(model, page);
            "What may be done"
        }
        Dialog::Name { typed } => {
            page.text("Who stands at the machine?", Meaning::Strong);
            for (i, name) in model.names.iter().enumerate() {
                page.hanging(&format!("{}  ", i + 1), name, Meaning::Needed, Meaning::Plain);
            }
            page.row(vec![("Your name: ".to_owned(), Meaning::Needed), (format!("{typed}_"), Meaning::Strong)]);
            page.gap();
            page.text("Type it, then Enter. The space bar holds even here: type _ for a space.", Meaning::Faint);
            page.text("Enter without a name closes this.", Meaning::Faint);
            "Sign in"
        }
        Dialog::Sign { .. } => {
            sign(model, page);
            "The owner signs"
        }
        Dialog::WhyNot { .. } => {
            page.text("Why is the part not good?", Meaning::Strong);
            reasons(page);
            page.text("Any other key goes back.", Meaning::Faint);
            "Not good"
        }
        Dialog::PartNote { typed, .. } => {
            page.text("What is wrong with the part?", Meaning::Strong);
            page.row(vec![("In your words: ".to_owned(), Meaning::Needed), (format!("{typed}_"), Meaning::Strong)]);
            page.text("Then Enter. The space bar holds even here: type _ for a space.", Meaning::Faint);
            "Something else"
        }
    }
}

/// The reasons in two columns, so that they fit the smallest screen.
fn reasons(page: &mut Page) {
    let half = REASONS.len().div_ceil(2);
    for row in 0..half {
        let mut line = Vec::new();
        for at in [row, row + half] {
            if let Some(reason) = REASONS.get(at) {
                line.push((format!("{}  ", (at + 1) % 10), Meaning::Needed));
                line.push((format!("{:<24}", words::reason(*reason)), Meaning::Plain));
            }
        }
        page.row(line);
    }
}

fn menu(model: &Model, page: &mut Page) {
    let offers = model.standing().map(acting::listed).unwrap_or_default();
    for (i, offer) in offers.iter().take(9).enumerate() {
        let head = format!("{}  ", i + 1);
        match &offer.refused {
            None => page.hanging(&head, &offer.text, Meaning::Needed, Meaning::Strong),
            Some(why) => {
                page.hanging(&head, &format!("{} Not now: {why}", offer.text), Meaning::Faint, Meaning::Faint);
            }
        }
    }
    if offers.is_empty() {
        page.text("Nothing just now.", Meaning::Plain);
    }
    page.gap();
    page.text("Type a number; any other key goes back.", Meaning::Faint);
}

fn sign(model: &Model, page: &mut Page) {
    let to_sign: &[Finding] =
        model.standing().and_then(|n| n.sheet.as_ref()).map(|s| s.to_sign.as_slice()).unwrap_or_default();
    let Some(finding) = to_sign.first() else {
        page.text("Nothing is left to sign.", Meaning::Plain);
        return;
    };
    let place = match (&finding.operation, finding.line) {
        (Some(operation), Some(line)) => format!(" in \"{operation}\", line {line}"),
        (Some(operation), None) => format!(" in \"{operation}\""),
        (None, _) => String::new(),
    };
    page.text(&format!("{}{place}   (1 of {})", finding.code, to_sign.len()), Meaning::Strong);
    for line in finding.facts.excerpt.iter().flat_map(|e| e.lines()) {
        page.row(vec![(format!("  {line}"), Meaning::Plain)]);
    }
    page.hanging("It means: ", &finding.means, Meaning::Faint, Meaning::Plain);
    page.hanging("Better:   ", &finding.remedy, Meaning::Faint, Meaning::Plain);
    page.gap();
    page.text("Enter: the owner has seen it and has it cut all the same.", Meaning::Needed);
    page.text("Any other key: not signed.", Meaning::Faint);
}
