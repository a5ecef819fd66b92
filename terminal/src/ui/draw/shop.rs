//! The Shop screen: the machine, its link, people, bits, and the daemon's looks at the shop's files and stock.
//!
//! May live here: its layout. May not: looking; the daemon does.

use super::history;
use crate::ui::model::{Link, Model};
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words::{Noun, Words, say};
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::quantity::plain;
use chargehand_types::queue::Verdict;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Columns of the names in front.
const HEAD: usize = 13;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let words = model.settings.words;
    let mut page = Page::new(area.width);
    match model.standing() {
        None => page.text(&say!(words, "shop.unknown"), Meaning::Faint),
        Some(now) => {
            machine(model, now, &mut page);
            people(now, words, &mut page);
            lists(model, now, &mut page);
        }
    }
    bits(model, &mut page);
    looks(model, &mut page);
    page.scroll(model.past.above, usize::from(area.height), model.settings.words);
    page.draw(area, buf, model.settings.colours);
}

fn line(page: &mut Page, name: &str, text: &str, meaning: Meaning) {
    page.hanging(&format!("{name:<HEAD$}"), text, Meaning::Strong, meaning);
}

fn machine(model: &Model, now: &Now, page: &mut Page) {
    let m = &now.machine;
    let words = model.settings.words;
    line(page, &say!(words, "shop.machine"), &m.name, Meaning::Plain);
    let (text, meaning) = match (&model.link, &m.link) {
        (Link::Lost { .. } | Link::Opening, _) => (say!(words, "shop.old"), Meaning::Fault),
        (Link::Up, LinkNow::Up) => {
            let age = model.age() / 1000;
            let told = if m.practice {
                say!(words, "shop.practice", seconds = age)
            } else {
                say!(words, "shop.answers", seconds = age)
            };
            (told, Meaning::Plain)
        }
        (Link::Up, LinkNow::Opening) => (say!(words, "shop.opening"), Meaning::Abnormal),
        (Link::Up, LinkNow::Down { why }) => (say!(words, "shop.down", why = why), Meaning::Fault),
    };
    line(page, &say!(words, "shop.link"), &text, meaning);
    let (text, meaning) = match (m.position_known, m.zero_confirmed) {
        (true, true) => (say!(words, "shop.known"), Meaning::Plain),
        (true, false) => (say!(words, "shop.no-zero"), Meaning::Abnormal),
        (false, _) => (say!(words, "shop.lost"), Meaning::Abnormal),
    };
    let at = match (&m.at, model.is_old(), m.position_known) {
        (Some(at), false, true) => {
            format!(" (X {} Y {} Z {} mm)", plain(at.x.mm()), plain(at.y.mm()), plain(at.z.mm()))
        }
        _ => String::new(),
    };
    line(page, &say!(words, "shop.position"), &format!("{text}{at}"), meaning);
    let bit = m.bit.as_ref().map_or_else(|| say!(words, "shop.bit-unknown"), ToString::to_string);
    line(page, &say!(words, "shop.bit"), &bit, Meaning::Plain);
    let spindle = if m.manual_spindle { say!(words, "shop.by-hand") } else { say!(words, "shop.by-program") };
    line(page, &say!(words, "shop.spindle"), &spindle, Meaning::Plain);
    line(page, &say!(words, "shop.button"), &m.red_button, Meaning::Plain);
}

fn people(now: &Now, words: &Words, page: &mut Page) {
    let here: Vec<String> = now.people.iter().map(|p| format!("{} ({})", p.who, words.role(p.role))).collect();
    let here = if here.is_empty() { say!(words, "shop.nobody") } else { here.join(", ") };
    line(page, &say!(words, "shop.people"), &here, Meaning::Plain);
    let staff: Vec<String> = now.staff.iter().map(|p| format!("{} ({})", p.who, words.role(p.role))).collect();
    if !staff.is_empty() {
        line(page, "", &say!(words, "shop.staff", names = staff.join(", ")), Meaning::Plain);
    }
    line(page, &say!(words, "shop.waiting"), &words.count(now.waiting.into(), Noun::Sheet), Meaning::Plain);
}

/// The lists of the day: who did each last, and which are due.
fn lists(model: &Model, now: &Now, page: &mut Page) {
    let words = model.settings.words;
    for (i, list) in now.lists.iter().enumerate() {
        let at = list.at.map(|at| model.settings.zone.minute(at));
        let told = match (&list.by, at) {
            (Some(who), Some(at)) => say!(words, "shop.list-by", title = list.title, who = who, at = at),
            (None, Some(at)) => say!(words, "shop.list-at", title = list.title, at = at),
            (_, None) => say!(words, "shop.list-never", title = list.title),
        };
        let head = if i == 0 { say!(words, "shop.lists") } else { String::new() };
        match list.due {
            Some(_) => line(page, &head, &(say!(words, "shop.list-due") + &told), Meaning::Abnormal),
            None => line(page, &head, &told, Meaning::Plain),
        }
    }
}

fn bits(model: &Model, page: &mut Page) {
    let Some(Ok(records)) = &model.past.records else { return };
    for (i, bit) in records.bits.iter().enumerate() {
        let head = if i == 0 { model.settings.words.text("shop.bits") } else { "" };
        let mut row =
            vec![(format!("{head:<HEAD$}"), Meaning::Strong), (format!("{:<12} ", bit.bit.0), Meaning::Plain)];
        row.extend(history::life(bit, model));
        page.row(row);
    }
}

fn looks(model: &Model, page: &mut Page) {
    let words = model.settings.words;
    match &model.past.looks {
        None => line(page, &say!(words, "shop.looks"), &say!(words, "shop.looking"), Meaning::Faint),
        Some(Err(why)) => line(page, &say!(words, "shop.looks"), why, Meaning::Abnormal),
        Some(Ok(looks)) => {
            page.gap();
            // what is wrong first: it is what somebody opened this screen for
            for wanted in [Verdict::Wrong, Verdict::Word, Verdict::Fine] {
                for look in looks.iter().filter(|l| l.verdict == wanted) {
                    let (head, meaning) = match wanted {
                        Verdict::Wrong => (words.text("shop.wrong"), Meaning::Abnormal),
                        Verdict::Word => (words.text("shop.word"), Meaning::Strong),
                        Verdict::Fine => (words.text("shop.fine"), Meaning::Faint),
                    };
                    let text = format!("{}: {}", look.what, look.text);
                    page.hanging(&format!("{head:<HEAD$}"), &text, meaning, Meaning::Plain);
                }
            }
        }
    }
}
