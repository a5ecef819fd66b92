//! The step asked: its text, its caution, what to type, and what was wrong with the last answer.
//!
//! May live here: the layout of a step. May not: the words of a step, which come from the lists.

use super::now::Ways;
use crate::ui::answering;
use crate::ui::hand::Between;
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::ui::units::{MM, Units};
use crate::words::{self, Words, say};
use chargehand_types::act::Axis;
use chargehand_types::checklist::{Ask, Caution, Leg, SignalWord, Task};
use chargehand_types::quantity::{Length, Spot, plain};
use chargehand_types::stage::Grade;

/// Columns of one fastener place beside the next; fractions take more.
const PLACE: [usize; 2] = [25, 30];

/// Writes the step onto a page.
pub fn write(model: &Model, task: &Task, Ways { dense, mapped, .. }: Ways, page: &mut Page) {
    let words = model.settings.words;
    let title = say!(words, "step.title", title = task.title, number = task.number, of = task.of);
    page.text(&title, Meaning::Faint);
    if let Some(changed) = &task.changed {
        page.text(changed, Meaning::Needed);
    }
    let marked = mapped
        && match task.step.ask {
            Ask::TouchZ { .. } => task.step.spot.is_some(),
            Ask::TouchAgain { .. } => true,
            _ => false,
        };
    let text = &task.step.text;
    if marked {
        page.text(&say!(words, "step.on-map", text = text), Meaning::Strong);
    } else {
        page.text(text, Meaning::Strong);
    }
    if let Some(note) = task.note.as_ref().filter(|_| task.to_know) {
        page.text(note, Meaning::Abnormal);
    } else if let Some(note) = &task.note {
        page.hanging(&say!(words, "step.not-yet"), note, Meaning::Abnormal, Meaning::Abnormal);
    }
    if let Some(c) = &task.step.caution {
        caution(c, words, dense, page);
    }
    page.gap();
    ask(model, task, dense, page);
}

/// Signal word, hazard, consequence, avoidance (ANSI Z535.6); no triangle with a NOTICE.
fn caution(c: &Caution, words: &Words, dense: bool, page: &mut Page) {
    page.gap();
    let (mark, word) = match c.word {
        SignalWord::Danger => ("/!\\ ", say!(words, "signal.danger")),
        SignalWord::Warning => ("/!\\ ", say!(words, "signal.warning")),
        SignalWord::Caution => ("/!\\ ", say!(words, "signal.caution")),
        SignalWord::Notice => ("", say!(words, "signal.notice")),
    };
    let head = format!(" {mark}{word} ");
    if dense {
        let text = format!("{} {} {}", c.hazard, c.consequence, c.avoid);
        page.hanging(&head, &text, Meaning::Signal(c.word), Meaning::Plain);
        return;
    }
    page.row(vec![(head, Meaning::Signal(c.word))]);
    page.hanging("  ", &format!("{} {}", c.hazard, c.consequence), Meaning::Plain, Meaning::Plain);
    page.hanging("  ", &c.avoid, Meaning::Plain, Meaning::Strong);
}

fn ask(model: &Model, task: &Task, dense: bool, page: &mut Page) {
    let words = model.settings.words;
    if !answering::may_answer(model) {
        page.text(&say!(words, "step.sign-in"), Meaning::Needed);
        return;
    }
    let sent = model.asked.as_ref().is_some_and(|a| a.sent);
    if sent {
        page.text(&say!(words, "step.sent"), Meaning::Faint);
        return;
    }
    match &task.step.ask {
        Ask::Confirm => page.text(&say!(words, "step.confirm"), Meaning::Needed),
        Ask::Value { unit, expect, least, most } => value(model, unit, *expect, [*least, *most], page),
        Ask::Choose { options } => {
            for (i, option) in options.iter().enumerate() {
                page.hanging(&format!("{}  ", i + 1), &option.text, Meaning::Needed, Meaning::Plain);
            }
            page.text(&say!(words, "step.type-number", typed = entry(model)), Meaning::Needed);
        }
        Ask::Place { places, fastener } => place(model, places, fastener, dense, page),
        Ask::RunDown { .. } => run_down(model, page),
        Ask::TouchZ { leg } => touch(model, *leg, None, page),
        Ask::TouchAgain { at } => touch(model, None, Some(*at), page),
        Ask::Hover { leg, there, .. } => hover(model, *leg, *there, page),
        Ask::Lot { before, carried: true } => {
            let lot = match before {
                Some(lot) => say!(words, "step.lot-carried", lot = lot),
                None => say!(words, "step.no-lot-carried"),
            };
            page.text(&lot, Meaning::Plain);
            page.text(&say!(words, "step.confirm"), Meaning::Needed);
        }
        Ask::Lot { before, carried: false } => {
            page.text(&say!(words, "step.type-lot"), Meaning::Plain);
            let enter = match before {
                Some(lot) => say!(words, "step.same-lot", lot = lot),
                None => say!(words, "step.no-lot"),
            };
            page.text(&enter, Meaning::Needed);
        }
        Ask::Raise { leg, clear } => raise(model, *leg, *clear, page),
        Ask::Parts { names, graded } => parts(model, names, graded, page),
    }
}

fn entry(model: &Model) -> &str {
    model.asked.as_ref().map_or("", |a| a.entry.as_str())
}

fn value(model: &Model, unit: &str, expect: Option<f64>, [least, most]: [f64; 2], page: &mut Page) {
    let words = model.settings.words;
    let sign = if unit == MM { model.settings.units.sign(words) } else { unit.to_owned() };
    page.row(vec![
        (say!(words, "step.you-read"), Meaning::Needed),
        (format!("{}_", entry(model)), Meaning::Strong),
        (format!(" {sign}"), Meaning::Plain),
    ]);
    let units = model.settings.units;
    if unit == MM && units == Units::Inches {
        let gauged = |mm: f64| units.gauged(Length::from_mm(mm).unwrap_or_default());
        let unit = units.sign(words);
        let expected = expect.map(|e| say!(words, "step.expected", value = gauged(e), unit = unit)).unwrap_or_default();
        let possible = say!(words, "step.possible", least = gauged(least), most = gauged(most), unit = unit);
        page.text(&format!("{expected}{possible}"), Meaning::Plain);
        page.text(&say!(words, "step.as-read-inches"), Meaning::Faint);
        return;
    }
    let expected = expect.map(|e| say!(words, "step.expected", value = plain(e), unit = unit)).unwrap_or_default();
    let possible = say!(words, "step.possible", least = plain(least), most = plain(most), unit = unit);
    page.text(&format!("{expected}{possible}"), Meaning::Plain);
    page.text(&say!(words, "step.as-read"), Meaning::Faint);
}

/// Each place as it is measured: from the left edge and from the front edge. The chosen one is marked, and so is one
/// that would be hit.
fn place(model: &Model, planned: &[Spot], fastener: &str, dense: bool, page: &mut Page) {
    let words = model.settings.words;
    let placing = model.placing.as_ref();
    let places = placing.map_or(planned, |placing| placing.places.as_slice());
    if !dense {
        page.text(&say!(words, "step.places", count = places.len(), fastener = fastener), Meaning::Plain);
    }
    let units = model.settings.units;
    let sign = units.sign(words);
    let corner = model.picture.as_ref().map(|(_, d, _)| d.corner).unwrap_or_default();
    let [narrow, wide] = PLACE;
    let column = if units == Units::Inches { wide } else { narrow };
    let beside = (page.width() / column).clamp(1, 2);
    for pair in (0..places.len()).collect::<Vec<_>>().chunks(beside) {
        let mut row = Vec::new();
        for number in pair {
            let Some(at) = places.get(*number) else { continue };
            let (x, y) = (units.taped(at.x - corner.x), units.taped(at.y - corner.y));
            let chosen = placing.is_some_and(|placing| placing.chosen == *number);
            let bad = placing.is_some_and(|placing| placing.is_bad(*number));
            let (mark, hit) =
                (if chosen { '>' } else { ' ' }, if bad { say!(words, "step.hit") } else { String::new() });
            let told = match units {
                Units::Millimetres => say!(words, "step.place", number = number + 1, x = x, y = y),
                Units::Inches => say!(words, "step.place-inch", number = number + 1, x = x, y = y),
            };
            let text = format!("{mark}{told}{hit}");
            let meaning = match (bad, chosen) {
                (true, _) => Meaning::Abnormal,
                (false, true) => Meaning::Strong,
                (false, false) => Meaning::Plain,
            };
            row.push((format!("{text:<column$}"), meaning));
        }
        page.row(row);
    }
    if let Some(placing) = placing.filter(|placing| !placing.places.is_empty()) {
        let bad = placing.is_bad(placing.chosen);
        page.text(&placing.told(placing.chosen, words), if bad { Meaning::Abnormal } else { Meaning::Plain });
        let by = format!("{} {sign}", units.taped(placing.pace()));
        let moved = if placing.is_moved(placing.chosen) {
            say!(words, "step.moved-back", by = by)
        } else {
            say!(words, "step.moved", by = by)
        };
        if !dense {
            page.text(&moved, Meaning::Faint);
        }
    }
    page.text(&say!(words, "step.seated"), Meaning::Needed);
}

fn run_down(model: &Model, page: &mut Page) {
    let words = model.settings.words;
    match model.run_down_left() {
        Some(left) if left.value() > 0.0 => {
            page.row(vec![
                (say!(words, "step.hands-away"), Meaning::Needed),
                (say!(words, "step.more", span = words::span(left)), Meaning::Strong),
            ]);
        }
        Some(_) | None => page.text(&say!(words, "step.still"), Meaning::Needed),
    }
}

/// Moving by hand until it touches; `again` is the place where it touched before. As long as the bit stands beside it, the
/// one thing to press is what brings it there.
fn touch(model: &Model, leg: Option<Leg>, again: Option<Spot>, page: &mut Page) {
    let words = model.settings.words;
    let pace = match model.hand.step_mm() {
        Some(mm) => say!(words, "step.move", by = plain(mm)),
        None => say!(words, "step.run"),
    };
    page.row(vec![(pace, Meaning::Strong), (say!(words, "step.pace"), Meaning::Plain)]);
    page.text(&say!(words, "step.up-down"), Meaning::Plain);
    page.text(&say!(words, "step.away"), Meaning::Plain);
    if again.is_some_and(|at| answering::stands_beside(model, at)) {
        page.row(vec![(say!(words, "step.go"), Meaning::Needed), (say!(words, "step.over"), Meaning::Strong)]);
        return;
    }
    if let Some(leg) = leg {
        page.row(vec![(say!(words, "step.go"), Meaning::Needed), (way(model, leg), Meaning::Strong)]);
    }
    let between = match model.hand.between {
        Between::Paper => say!(words, "step.paper"),
        Between::Nothing => say!(words, "step.nothing"),
    };
    page.text(&say!(words, "step.between", between = between), Meaning::Plain);
    let press = if again.is_some() { say!(words, "step.touches-again") } else { say!(words, "step.touches") };
    // first to the place, then down
    page.text(&press, if leg.is_some() { Meaning::Plain } else { Meaning::Needed });
}

/// The next part of the way; then what is seen from there.
fn hover(model: &Model, leg: Option<Leg>, there: bool, page: &mut Page) {
    let words = model.settings.words;
    if there {
        page.text(&say!(words, "step.over-it"), Meaning::Needed);
        page.text(&say!(words, "step.off-it"), Meaning::Needed);
    }
    if let Some(leg) = leg {
        page.row(vec![(say!(words, "step.go"), Meaning::Needed), (way(model, leg), Meaning::Strong)]);
    }
    if leg.is_none() && !there {
        page.text(&say!(words, "step.unplaced"), Meaning::Abnormal);
    }
    if let Some(mm) = model.hand.step_mm() {
        page.text(&say!(words, "step.by-hand", by = plain(mm)), Meaning::Faint);
    }
}

/// A part of a way, as a person sees it.
fn way(model: &Model, leg: Leg) -> String {
    let (words, by) = (model.settings.words, how_far(model, leg));
    match (leg.axis, leg.by < Length::ZERO) {
        (Axis::X, true) => say!(words, "step.to-left", by = by),
        (Axis::X, false) => say!(words, "step.to-right", by = by),
        (Axis::Y, true) => say!(words, "step.towards", by = by),
        (Axis::Y, false) => say!(words, "step.off-you", by = by),
        (Axis::Z, true) => say!(words, "step.downwards", by = by),
        (Axis::Z, false) => say!(words, "step.upwards", by = by),
    }
}

/// How far a part of a way is, to a tenth.
fn how_far(model: &Model, leg: Leg) -> String {
    let units = model.settings.units;
    let far = Length::from_mm((leg.by.abs().mm() * 10.0).round() / 10.0).unwrap_or_default();
    format!("{} {}", units.taped(far), units.sign(model.settings.words))
}

/// The way up; then what is to be seen before the bit is taken out.
fn raise(model: &Model, leg: Option<Leg>, clear: bool, page: &mut Page) {
    let words = model.settings.words;
    if let Some(mm) = model.hand.step_mm() {
        page.text(&say!(words, "step.by-steps", by = plain(mm)), Meaning::Faint);
    }
    if clear {
        page.text(&say!(words, "step.clear"), Meaning::Needed);
    } else if let Some(leg) = leg {
        let way = say!(words, "step.upwards", by = how_far(model, leg));
        page.row(vec![(say!(words, "step.go"), Meaning::Needed), (way, Meaning::Strong)]);
    } else {
        page.text(&say!(words, "step.unplaced"), Meaning::Abnormal);
    }
}

fn parts(model: &Model, names: &[String], graded: &[u32], page: &mut Page) {
    let words = model.settings.words;
    match answering::next_part(names, graded) {
        None => page.text(&say!(words, "step.all-graded"), Meaning::Needed),
        Some(index) => {
            let name =
                usize::try_from(index).ok().and_then(|i| names.get(i)).map_or(words.text("step.part"), String::as_str);
            page.row(vec![
                (say!(words, "step.part-of", number = index + 1, of = names.len()), Meaning::Needed),
                (name.to_owned(), Meaning::Strong),
            ]);
            page.row(vec![
                ("1".to_owned(), Meaning::Needed),
                (say!(words, "step.grades", grade = words.grade(Grade::Good)), Meaning::Plain),
                ("2".to_owned(), Meaning::Needed),
                (say!(words, "step.grades", grade = words.grade(Grade::Rework)), Meaning::Plain),
                ("3".to_owned(), Meaning::Needed),
                (say!(words, "step.grades", grade = words.grade(Grade::Scrap)), Meaning::Plain),
            ]);
            page.text(&say!(words, "step.type-it", typed = entry(model)), Meaning::Needed);
        }
    }
}
