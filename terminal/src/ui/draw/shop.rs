//! The Shop screen: the machine, its link, people, bits, and the daemon's looks at the shop's files and stock.
//!
//! May live here: its layout. May not: looking; the daemon does.

use super::history;
use crate::ui::model::{Link, Model};
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words;
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::quantity::plain;
use chargehand_types::queue::Verdict;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Columns of the names in front.
const HEAD: usize = 13;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width);
    match model.standing() {
        None => page.text("Nothing is known of the machine yet.", Meaning::Faint),
        Some(now) => {
            machine(model, now, &mut page);
            people(now, &mut page);
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
    line(page, "Machine", &m.name, Meaning::Plain);
    let (text, meaning) = match (&model.link, &m.link) {
        (Link::Lost { .. } | Link::Opening, _) => {
            ("? the daemon is not heard; what stands here is old".to_owned(), Meaning::Fault)
        }
        (Link::Up, LinkNow::Up) => {
            let age = model.age() / 1000;
            let kind = if m.practice { "the practice machine answers" } else { "the controller answers" };
            (format!("{kind}; heard {age} s ago"), Meaning::Plain)
        }
        (Link::Up, LinkNow::Opening) => ("the controller was not heard yet".to_owned(), Meaning::Abnormal),
        (Link::Up, LinkNow::Down { why }) => (format!("the controller does not answer: {why}"), Meaning::Fault),
    };
    line(page, "Link", &text, meaning);
    let (text, meaning) = match (m.position_known, m.zero_confirmed) {
        (true, true) => ("known, and the work zero confirmed", Meaning::Plain),
        (true, false) => ("known; the work zero is to be looked at over the mark", Meaning::Abnormal),
        (false, _) => ("not known: find home first", Meaning::Abnormal),
    };
    let at = match (&m.at, model.is_old(), m.position_known) {
        (Some(at), false, true) => {
            format!(" (X {} Y {} Z {} mm)", plain(at.x.mm()), plain(at.y.mm()), plain(at.z.mm()))
        }
        _ => String::new(),
    };
    line(page, "Position", &format!("{text}{at}"), meaning);
    let bit = m.bit.as_ref().map_or_else(|| "not known: nobody has read it back".to_owned(), ToString::to_string);
    line(page, "Bit in it", &bit, Meaning::Plain);
    let spindle = if m.manual_spindle { "switched by hand, at its own switch" } else { "switched by the program" };
    line(page, "Spindle", spindle, Meaning::Plain);
    line(page, "Red button", &m.red_button, Meaning::Plain);
}

fn people(now: &Now, page: &mut Page) {
    let here: Vec<String> = now.people.iter().map(|p| format!("{} ({})", p.who, words::role(p.role))).collect();
    let here = if here.is_empty() { "nobody is signed in at the machine".to_owned() } else { here.join(", ") };
    line(page, "People", &here, Meaning::Plain);
    let staff: Vec<String> = now.staff.iter().map(|p| format!("{} ({})", p.who, words::role(p.role))).collect();
    if !staff.is_empty() {
        line(page, "", &format!("work here: {}", staff.join(", ")), Meaning::Plain);
    }
    line(page, "Waiting", &words::count(now.waiting.into(), "sheet"), Meaning::Plain);
}

fn bits(model: &Model, page: &mut Page) {
    let Some(Ok(records)) = &model.past.records else { return };
    for (i, bit) in records.bits.iter().enumerate() {
        let head = if i == 0 { "Bits" } else { "" };
        let mut row =
            vec![(format!("{head:<HEAD$}"), Meaning::Strong), (format!("{:<12} ", bit.bit.0), Meaning::Plain)];
        row.extend(history::life(bit, model));
        page.row(row);
    }
}

fn looks(model: &Model, page: &mut Page) {
    match &model.past.looks {
        None => line(page, "Looks", "Looking whether everything is in place …", Meaning::Faint),
        Some(Err(why)) => line(page, "Looks", why, Meaning::Abnormal),
        Some(Ok(looks)) => {
            page.gap();
            // what is wrong first: it is what somebody opened this screen for
            for wanted in [Verdict::Wrong, Verdict::Word, Verdict::Fine] {
                for look in looks.iter().filter(|l| l.verdict == wanted) {
                    let (head, meaning) = match wanted {
                        Verdict::Wrong => ("WRONG", Meaning::Abnormal),
                        Verdict::Word => ("a word", Meaning::Strong),
                        Verdict::Fine => ("in order", Meaning::Faint),
                    };
                    let text = format!("{}: {}", look.what, look.text);
                    page.hanging(&format!("{head:<HEAD$}"), &text, meaning, Meaning::Plain);
                }
            }
        }
    }
}
