//! The step asked: its text, its caution, what to type, and what was wrong with the last answer.
//!
//! May live here: the layout of a step. May not: the words of a step, which come from the lists.

use crate::ui::answering;
use crate::ui::hand::Between;
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words;
use chargehand_types::checklist::{Ask, Caution, SignalWord, Task};
use chargehand_types::quantity::{Spot, plain};

/// Writes the step onto a page.
pub fn write(model: &Model, task: &Task, page: &mut Page) {
    page.text(&format!("{}, step {} of {}", task.title, task.number, task.of), Meaning::Faint);
    page.text(&task.step.text, Meaning::Strong);
    if let Some(note) = &task.note {
        page.hanging("Not yet: ", note, Meaning::Abnormal, Meaning::Abnormal);
    }
    if let Some(c) = &task.step.caution {
        caution(c, page);
    }
    page.gap();
    ask(model, task, page);
}

/// Signal word, hazard, consequence, avoidance (ANSI Z535.6); no triangle with a NOTICE.
fn caution(c: &Caution, page: &mut Page) {
    page.gap();
    let head = match c.word {
        SignalWord::Danger | SignalWord::Warning | SignalWord::Caution => format!(" /!\\ {} ", c.word.word()),
        SignalWord::Notice => format!(" {} ", c.word.word()),
    };
    page.row(vec![(head, Meaning::Signal(c.word))]);
    page.hanging("  ", &format!("{} {}", c.hazard, c.consequence), Meaning::Plain, Meaning::Plain);
    page.hanging("  ", &c.avoid, Meaning::Plain, Meaning::Strong);
}

fn ask(model: &Model, task: &Task, page: &mut Page) {
    if !answering::may_answer(model) {
        page.text("Somebody has to sign in before the step can be answered.", Meaning::Needed);
        return;
    }
    let sent = model.asked.as_ref().is_some_and(|a| a.sent);
    if sent {
        page.text("The answer is on its way …", Meaning::Faint);
        return;
    }
    match &task.step.ask {
        Ask::Confirm => page.text("Do it, look, then press Enter.", Meaning::Needed),
        Ask::Value { unit, expect, least, most } => value(model, unit, *expect, [*least, *most], page),
        Ask::Choose { options } => {
            for (i, option) in options.iter().enumerate() {
                page.hanging(&format!("{}  ", i + 1), &option.text, Meaning::Needed, Meaning::Plain);
            }
            page.text(&format!("Type its number: {}_   then Enter.", entry(model)), Meaning::Needed);
        }
        Ask::Place { places, fastener } => place(model, places, fastener, page),
        Ask::RunDown { .. } => run_down(model, page),
        Ask::TouchZ => touch(model, page),
        Ask::Parts { names, graded } => parts(model, names, graded, page),
    }
}

fn entry(model: &Model) -> &str {
    model.asked.as_ref().map_or("", |a| a.entry.as_str())
}

fn value(model: &Model, unit: &str, expect: Option<f64>, [least, most]: [f64; 2], page: &mut Page) {
    page.row(vec![
        ("You read: ".to_owned(), Meaning::Needed),
        (format!("{}_", entry(model)), Meaning::Strong),
        (format!(" {unit}"), Meaning::Plain),
    ]);
    let expected = expect.map(|e| format!("Expected {} {unit}. ", plain(e))).unwrap_or_default();
    page.text(&format!("{expected}Possible: {} to {} {unit}.", plain(least), plain(most)), Meaning::Plain);
    page.text("Type what you read, not what should be, then Enter.", Meaning::Faint);
}

/// Each place as it is measured: from the left edge and from the front edge. The chosen one is marked, and so is one
/// that would be hit.
fn place(model: &Model, planned: &[Spot], fastener: &str, page: &mut Page) {
    let placing = model.placing.as_ref();
    let places = placing.map_or(planned, |placing| placing.places.as_slice());
    page.text(&format!("{} of {fastener}, from left and front:", places.len()), Meaning::Plain);
    let corner = model.picture.as_ref().map(|(_, d, _)| d.corner).unwrap_or_default();
    for pair in (0..places.len()).collect::<Vec<_>>().chunks(2) {
        let mut row = Vec::new();
        for number in pair {
            let Some(at) = places.get(*number) else { continue };
            let (x, y) = ((at.x - corner.x).mm(), (at.y - corner.y).mm());
            let chosen = placing.is_some_and(|placing| placing.chosen == *number);
            let bad = placing.is_some_and(|placing| placing.is_bad(*number));
            let (mark, hit) = (if chosen { '>' } else { ' ' }, if bad { " HIT" } else { "" });
            let text = format!("{mark}{}: {} and {} mm{hit}", number + 1, plain(x), plain(y));
            let meaning = match (bad, chosen) {
                (true, _) => Meaning::Abnormal,
                (false, true) => Meaning::Strong,
                (false, false) => Meaning::Plain,
            };
            row.push((format!("{text:<25}"), meaning));
        }
        page.row(row);
    }
    if let Some(placing) = placing.filter(|placing| !placing.places.is_empty()) {
        let bad = placing.is_bad(placing.chosen);
        page.text(&placing.told(placing.chosen), if bad { Meaning::Abnormal } else { Meaning::Plain });
        let by = placing.step_mm();
        let back = if placing.is_moved(placing.chosen) { ", Backspace: back" } else { "" };
        page.text(&format!("Moved? Arrows {by} mm (+ -), page keys: next{back}."), Meaning::Faint);
    }
    page.text("When all are seated, press Enter.", Meaning::Needed);
}

fn run_down(model: &Model, page: &mut Page) {
    match model.run_down_left() {
        Some(left) if left.value() > 0.0 => {
            page.row(vec![
                ("Keep your hands away: ".to_owned(), Meaning::Needed),
                (format!("{} more", words::span(left)), Meaning::Strong),
            ]);
        }
        Some(_) | None => page.text("Look: is it still? If it stands still, press Enter.", Meaning::Needed),
    }
}

fn touch(model: &Model, page: &mut Page) {
    let between = match model.hand.between {
        Between::Paper => "paper, 0.1 mm",
        Between::Nothing => "nothing",
    };
    page.row(vec![
        (format!("One press moves {} mm", plain(model.hand.step_mm())), Meaning::Strong),
        ("   + more  - less".to_owned(), Meaning::Plain),
    ]);
    page.text("Down: Page Down or d.  Up: Page Up or u.  Left, right: arrows or l, r.", Meaning::Plain);
    page.text("Away from you: arrow up or a.  Towards you: arrow down or t.", Meaning::Plain);
    page.text(&format!("Between bit and face: {between} (p changes). z: touch plate"), Meaning::Plain);
    page.text("When the bit just touches, press Enter: the zero is set here.", Meaning::Needed);
}

fn parts(model: &Model, names: &[String], graded: &[u32], page: &mut Page) {
    match answering::next_part(names, graded) {
        None => page.text("Every part is graded. Press Enter.", Meaning::Needed),
        Some(index) => {
            let name = usize::try_from(index).ok().and_then(|i| names.get(i)).map_or("part", String::as_str);
            page.row(vec![
                (format!("Part {} of {}: ", index + 1, names.len()), Meaning::Needed),
                (name.to_owned(), Meaning::Strong),
            ]);
            page.row(vec![
                ("1".to_owned(), Meaning::Needed),
                (" good   ".to_owned(), Meaning::Plain),
                ("2".to_owned(), Meaning::Needed),
                (" rework   ".to_owned(), Meaning::Plain),
                ("3".to_owned(), Meaning::Needed),
                (" scrap".to_owned(), Meaning::Plain),
            ]);
            page.text(&format!("Type it: {}_   then Enter.", entry(model)), Meaning::Needed);
        }
    }
}
