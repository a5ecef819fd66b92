//! The History screen: sheets, the revisions of a card side by side, bits; each figure with a small chart beside it. Where
//! the time went and why parts were not good is next door in `causes`.
//!
//! May live here: its layout. May not: sums that teach; those are the daemon's.

use super::{causes, chart};
use crate::ui::model::Model;
use crate::ui::page::{Page, Row};
use crate::ui::past::{DAYS_BACK, Records, View};
use crate::ui::settings::Settings;
use crate::ui::theme::Meaning;
use crate::words::{self, Noun, Words, say};
use chargehand_types::history::{BitRow, Learnt, RevisionRow, SheetRecord};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::Grade;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Cells of a chart.
const CHART: usize = 12;
/// Columns of one revision beside the next, and of the names in front.
const COLUMN: usize = 20;
const NAMES: usize = 14;
/// Lines kept for the chosen sheet below the list.
const SHEET_LINES: usize = 5;

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width);
    let words = model.settings.words;
    page.row(pages(model.past.view, words));
    match &model.past.records {
        None => page.text(&say!(words, "history.looking"), Meaning::Faint),
        Some(Err(why)) => page.text(why, Meaning::Abnormal),
        Some(Ok(records)) if records.sheets.is_empty() => {
            page.text(&say!(words, "history.nothing", days = DAYS_BACK), Meaning::Plain);
        }
        Some(Ok(records)) => {
            let high = usize::from(area.height).saturating_sub(1);
            match model.past.view {
                View::Sheets => sheets(model, records, high, &mut page),
                View::Revisions => revisions(model, records, &mut page),
                View::Bits => bits(model, records, high, &mut page),
                View::Time => causes::time(model, records, high, &mut page),
                View::Reasons => causes::reasons(model, records, high, &mut page),
            }
        }
    }
    page.keep(usize::from(area.height), model.settings.words);
    page.draw(area, buf, model.settings.colours);
}

fn pages(open: View, words: &Words) -> Row {
    let mut row = Row::new();
    let views = [
        (View::Sheets, 1, words.text("history.sheets")),
        (View::Revisions, 2, words.text("history.revisions")),
        (View::Bits, 3, words.text("history.bits")),
        (View::Time, 4, words.text("history.time")),
        (View::Reasons, 5, words.text("history.reasons")),
    ];
    for (view, key, text) in views {
        let (text, meaning) = if view == open {
            (format!("[{key} {text}]"), Meaning::Strong)
        } else {
            (format!(" {key} {text} "), Meaning::Plain)
        };
        row.push((text, meaning));
    }
    row.push((say!(words, "history.days", days = DAYS_BACK), Meaning::Faint));
    row
}

/// The window of a list of which the chosen row is always seen.
pub fn window(chosen: usize, room: usize) -> usize {
    chosen.saturating_sub(room.saturating_sub(1))
}

/// Seconds reckoned and seconds it took, of the operations that are finished.
fn times(record: &SheetRecord) -> Option<(f64, f64)> {
    let done = record.operations.iter().filter_map(|o| Some((o.predicted.value(), o.real?.value())));
    let (reckoned, took) = done.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    (reckoned > 0.0).then_some((reckoned, took))
}

fn sheets(model: &Model, records: &Records, high: usize, page: &mut Page) {
    let newest: Vec<&SheetRecord> = records.sheets.iter().rev().collect();
    let longest = newest.iter().filter_map(|r| times(r)).map(|t| t.0.max(t.1)).fold(0.0, f64::max);
    let words = model.settings.words;
    let head = format!(
        "  {:<7} {:<16} {:<16} {:<12} {}",
        words.text("history.sheet"),
        words.text("history.begun"),
        words.text("history.card"),
        words.text("history.came-out"),
        say!(words, "history.cut-for", mark = chart::mark(model.settings.symbols))
    );
    page.row(vec![(head, Meaning::Faint)]);
    let room = high.saturating_sub(SHEET_LINES + 1).max(1);
    let from = window(model.past.row, room);
    for (i, record) in newest.iter().enumerate().skip(from).take(room) {
        let begun = record.begun.map_or_else(String::new, |at| model.settings.zone.minute(at));
        let came = record.grade.map_or_else(|| words.stage(record.stage).to_owned(), |g| words.grade(g).to_owned());
        let card: String = record.card.0.chars().take(16).collect();
        let came: String = came.chars().take(12).collect();
        let mark = if i == model.past.row { "> " } else { "  " };
        let text = format!("{mark}{:<7} {begun:<16} {card:<16} ", record.sheet.0);
        let chosen = if i == model.past.row { Meaning::Strong } else { Meaning::Plain };
        let bad = if matches!(record.grade, None | Some(Grade::Good)) { chosen } else { Meaning::Abnormal };
        let mut row = vec![(text, chosen), (format!("{came:<12} "), bad)];
        if let Some((reckoned, took)) = times(record) {
            let cells = page.width().saturating_sub(70).clamp(6, 40);
            let bar = chart::marked(took / longest, reckoned / longest, cells, model.settings.symbols);
            row.push((bar, Meaning::Plain));
            row.push((format!(" {}", words::span(Seconds::of(took))), Meaning::Plain));
        }
        page.row(row);
    }
    if let Some(record) = newest.get(model.past.row) {
        page.gap();
        sheet(record, model.settings, page);
    }
}

/// More about the chosen sheet.
fn sheet(record: &SheetRecord, Settings { words, units, .. }: Settings, page: &mut Page) {
    let who: Vec<&str> = record.operators.iter().map(|a| a.who.0.as_str()).collect();
    let thick: Vec<String> = record.thickness.iter().map(|t| units.gauged(*t)).collect();
    let mut told = Vec::new();
    if !who.is_empty() {
        told.push(say!(words, "history.by", names = who.join(", ")));
    }
    if !thick.is_empty() {
        told.push(say!(words, "history.thickness", values = format!("{} {}", thick.join(", "), units.sign(words))));
    }
    if let Some((reckoned, took)) = times(record) {
        let (span, times) = (words::span(Seconds::of(reckoned)), format!("{:.2}", took / reckoned));
        told.push(say!(words, "history.took", span = span, times = times));
    }
    page.hanging(&format!("{}  ", record.sheet), &told.join("; "), Meaning::Strong, Meaning::Plain);
    for stop in &record.stops {
        page.hanging(&say!(words, "history.stopped"), &stop.text, Meaning::Abnormal, Meaning::Plain);
    }
    for note in &record.notes {
        page.hanging(&say!(words, "history.noted"), note, Meaning::Strong, Meaning::Plain);
    }
}

fn revisions(model: &Model, records: &Records, page: &mut Page) {
    let cards = model.past.cards();
    let Some(card) = cards.get(model.past.row) else { return };
    let of: Vec<&RevisionRow> = records.revisions.iter().filter(|r| r.card == **card).collect();
    let fit = (page.width().saturating_sub(NAMES) / COLUMN).max(1);
    let shown: Vec<&RevisionRow> = of.iter().copied().skip(of.len().saturating_sub(fit)).collect();
    let words = model.settings.words;
    let which = say!(words, "history.card-of", number = model.past.row + 1, of = cards.len());
    page.row(vec![(format!("{card}  "), Meaning::Strong), (which, Meaning::Faint)]);
    page.gap();
    let counts = |[good, rework, scrap]: [u32; 3]| format!("{good} / {rework} / {scrap}");
    let symbols = model.settings.symbols;
    let mut line = |name: &str, cell: &dyn Fn(&RevisionRow) -> String, meaning| {
        let cells: String = shown.iter().map(|r| format!("{:<COLUMN$}", cell(r))).collect();
        page.row(vec![(format!("{name:<NAMES$}"), Meaning::Faint), (cells, meaning)]);
    };
    line(
        words.text("history.revision"),
        &|r| format!("{} ({})", r.number, words::short(&r.revision.0)),
        Meaning::Strong,
    );
    line(words.text("history.sheets-graded"), &|r| counts(r.sheets), Meaning::Plain);
    line(words.text("history.parts-graded"), &|r| counts(r.parts), Meaning::Plain);
    line(words.text("history.stops"), &|r| words.count(r.stops.into(), Noun::Time), Meaning::Plain);
    line(
        words.text("history.in-motion"),
        &|r| learnt(r.seconds.as_ref(), |v| words::span(Seconds::of(v))),
        Meaning::Plain,
    );
    let times = |v: f64| say!(words, "history.times", n = format!("{v:.2}"));
    line(words.text("history.of-reckoned"), &|r| learnt(r.time_factor.as_ref(), times), Meaning::Plain);
    line(words.text("history.not-good"), &|r| not_good(r, words), Meaning::Plain);
    line(
        words.text("history.scale"),
        &|r| if closed(r) { chart::stretch(r.not_good, CHART, symbols) } else { String::new() },
        Meaning::Plain,
    );
    page.gap();
    for row in &shown {
        if let Some(sentence) = &row.against_before {
            page.hanging(
                &say!(words, "history.against", number = row.number),
                sentence,
                Meaning::Strong,
                Meaning::Plain,
            );
        }
    }
    page.text(&say!(words, "history.legend"), Meaning::Faint);
}

fn closed(row: &RevisionRow) -> bool {
    row.sheets.iter().sum::<u32>() > 0
}

fn learnt(figure: Option<&Learnt>, write: impl Fn(f64) -> String) -> String {
    figure.map_or_else(|| "?".to_owned(), |f| write(f.value))
}

fn not_good(row: &RevisionRow, words: &Words) -> String {
    let [low, high] = row.not_good.map(|share| share * 100.0);
    if closed(row) {
        say!(words, "history.share", low = format!("{low:.0}"), high = format!("{high:.0}"))
    } else {
        "?".to_owned()
    }
}

fn bits(model: &Model, records: &Records, high: usize, page: &mut Page) {
    let words = model.settings.words;
    let head = format!(
        "  {:<12} {:<28} {:<24}",
        words.text("history.bit"),
        words.text("history.of-life"),
        words.text("history.bad-of-closed")
    );
    page.row(vec![(head, Meaning::Faint)]);
    let room = high.saturating_sub(4).max(1);
    for (i, bit) in records.bits.iter().enumerate().skip(window(model.past.row, room)).take(room) {
        let mark = if i == model.past.row { "> " } else { "  " };
        let mut row = vec![(format!("{mark}{:<12} ", bit.bit.0), Meaning::Strong)];
        row.extend(life(bit, model));
        let [closed, bad] = bit.not_good;
        let stops = words.count(bit.stops.into(), Noun::Stop);
        row.push((say!(words, "history.bad-of", bad = bad, closed = closed, stops = stops), Meaning::Plain));
        page.row(row);
    }
    if let Some(bit) = records.bits.get(model.past.row) {
        page.gap();
        let by: Vec<String> = bit
            .by_material
            .iter()
            .map(|(m, way)| say!(words, "history.way-in", way = words::way(*way), material = m))
            .collect();
        let sheets = words.count(bit.sheets.into(), Noun::Sheet);
        page.hanging(
            &format!("{}  ", bit.bit),
            &format!("{sheets}: {}", by.join(", ")),
            Meaning::Strong,
            Meaning::Plain,
        );
    }
}

/// How much of a bit's life is cut: a bar where the shop says how long it lasts.
pub fn life(bit: &BitRow, model: &Model) -> Row {
    let words = model.settings.words;
    let Some(life) = bit.life.filter(|l| l.value() > 0.0) else {
        return vec![(
            format!("{:<28}", say!(words, "history.life-unknown", way = words::way(bit.cut_ever))),
            Meaning::Plain,
        )];
    };
    let share = bit.cut_ever.value() / life.value();
    // 80 %: the share at which a bit is spoken of (common practice, no source)
    let meaning = if share >= 0.8 { Meaning::Abnormal } else { Meaning::Plain };
    let told = say!(words, "history.life", cut = format!("{:.0}", bit.cut_ever.value()), life = words::way(life));
    vec![(format!("{}{told:<16}", chart::bar(share, CHART, model.settings.symbols)), meaning)]
}
