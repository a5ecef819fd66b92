//! The History screen: sheets, the revisions of a card side by side, bits; each figure with a small chart beside it.
//!
//! May live here: its layout. May not: sums that teach; those are the daemon's.

use super::chart;
use crate::ui::model::Model;
use crate::ui::page::{Page, Row};
use crate::ui::past::{DAYS_BACK, Records, View};
use crate::ui::theme::Meaning;
use crate::words;
use chargehand_types::history::{BitRow, Learnt, RevisionRow, SheetRecord};
use chargehand_types::quantity::{Seconds, plain};
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
    page.row(pages(model.past.view));
    match &model.past.records {
        None => page.text("Looking what was cut …", Meaning::Faint),
        Some(Err(why)) => page.text(why, Meaning::Abnormal),
        Some(Ok(records)) if records.sheets.is_empty() => {
            page.text(&format!("No sheet was taken onto the machine in the last {DAYS_BACK} days."), Meaning::Plain);
        }
        Some(Ok(records)) => {
            let high = usize::from(area.height).saturating_sub(1);
            match model.past.view {
                View::Sheets => sheets(model, records, high, &mut page),
                View::Revisions => revisions(model, records, &mut page),
                View::Bits => bits(model, records, high, &mut page),
            }
        }
    }
    page.keep(usize::from(area.height), model.settings.words);
    page.draw(area, buf, model.settings.colours);
}

fn pages(open: View) -> Row {
    let mut row = Row::new();
    for (view, text) in [(View::Sheets, "1 sheets"), (View::Revisions, "2 revisions"), (View::Bits, "3 bits")] {
        let (text, meaning) =
            if view == open { (format!("[{text}]"), Meaning::Strong) } else { (format!(" {text} "), Meaning::Plain) };
        row.push((text, meaning));
    }
    row.push((format!("  the last {DAYS_BACK} days"), Meaning::Faint));
    row
}

/// The window of a list of which the chosen row is always seen.
fn window(chosen: usize, room: usize) -> usize {
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
    let longest = newest.iter().filter_map(|r| times(r)).map(|t| t.1).fold(0.0, f64::max);
    let head = format!("  {:<7} {:<16} {:<16} {:<12} cut for", "sheet", "begun", "card", "came out");
    page.row(vec![(head, Meaning::Faint)]);
    let room = high.saturating_sub(SHEET_LINES + 1).max(1);
    let from = window(model.past.row, room);
    for (i, record) in newest.iter().enumerate().skip(from).take(room) {
        let begun = record.begun.map_or_else(String::new, |at| model.settings.zone.minute(at));
        let came = record.grade.map_or_else(|| words::stage(record.stage).to_owned(), |g| words::grade(g).to_owned());
        let card: String = record.card.0.chars().take(16).collect();
        let came: String = came.chars().take(12).collect();
        let mark = if i == model.past.row { "> " } else { "  " };
        let text = format!("{mark}{:<7} {begun:<16} {card:<16} ", record.sheet.0);
        let chosen = if i == model.past.row { Meaning::Strong } else { Meaning::Plain };
        let bad = if matches!(record.grade, None | Some(Grade::Good)) { chosen } else { Meaning::Abnormal };
        let mut row = vec![(text, chosen), (format!("{came:<12} "), bad)];
        if let Some((_, took)) = times(record) {
            let cells = page.width().saturating_sub(70).clamp(6, 40);
            row.push((chart::bar(took / longest, cells, model.settings.symbols), Meaning::Plain));
            row.push((format!(" {}", words::span(Seconds::of(took))), Meaning::Plain));
        }
        page.row(row);
    }
    if let Some(record) = newest.get(model.past.row) {
        page.gap();
        sheet(record, page);
    }
}

/// More about the chosen sheet.
fn sheet(record: &SheetRecord, page: &mut Page) {
    let who: Vec<&str> = record.operators.iter().map(|a| a.who.0.as_str()).collect();
    let thick: Vec<String> = record.thickness.iter().map(|t| plain(t.mm())).collect();
    let mut told = Vec::new();
    if !who.is_empty() {
        told.push(format!("by {}", who.join(", ")));
    }
    if !thick.is_empty() {
        told.push(format!("thickness {} mm", thick.join(", ")));
    }
    if let Some((reckoned, took)) = times(record) {
        told.push(format!("reckoned {}, took {:.2} times that", words::span(Seconds::of(reckoned)), took / reckoned));
    }
    page.hanging(&format!("{}  ", record.sheet), &told.join("; "), Meaning::Strong, Meaning::Plain);
    for stop in &record.stops {
        page.hanging("stopped: ", &stop.text, Meaning::Abnormal, Meaning::Plain);
    }
    for note in &record.notes {
        page.hanging("noted: ", note, Meaning::Strong, Meaning::Plain);
    }
}

fn revisions(model: &Model, records: &Records, page: &mut Page) {
    let cards = model.past.cards();
    let Some(card) = cards.get(model.past.row) else { return };
    let of: Vec<&RevisionRow> = records.revisions.iter().filter(|r| r.card == **card).collect();
    let fit = (page.width().saturating_sub(NAMES) / COLUMN).max(1);
    let shown: Vec<&RevisionRow> = of.iter().copied().skip(of.len().saturating_sub(fit)).collect();
    let which = format!("card {} of {}: Up and Down choose", model.past.row + 1, cards.len());
    page.row(vec![(format!("{card}  "), Meaning::Strong), (which, Meaning::Faint)]);
    page.gap();
    let counts = |[good, rework, scrap]: [u32; 3]| format!("{good} / {rework} / {scrap}");
    let symbols = model.settings.symbols;
    let mut line = |name: &str, cell: &dyn Fn(&RevisionRow) -> String, meaning| {
        let cells: String = shown.iter().map(|r| format!("{:<COLUMN$}", cell(r))).collect();
        page.row(vec![(format!("{name:<NAMES$}"), Meaning::Faint), (cells, meaning)]);
    };
    line("revision", &|r| format!("{} ({})", r.number, words::short(&r.revision.0)), Meaning::Strong);
    line("sheets g/r/s", &|r| counts(r.sheets), Meaning::Plain);
    line("parts g/r/s", &|r| counts(r.parts), Meaning::Plain);
    line("stopped", &|r| words::count(r.stops.into(), "time"), Meaning::Plain);
    line("in motion", &|r| learnt(r.seconds.as_ref(), |v| words::span(Seconds::of(v))), Meaning::Plain);
    line("of reckoned", &|r| learnt(r.time_factor.as_ref(), |v| format!("{v:.2} times")), Meaning::Plain);
    line("not good", &not_good, Meaning::Plain);
    line(
        "0 to 100 %",
        &|r| if closed(r) { chart::stretch(r.not_good, CHART, symbols) } else { String::new() },
        Meaning::Plain,
    );
    page.gap();
    for row in &shown {
        if let Some(sentence) = &row.against_before {
            page.hanging(
                &format!("{} against the one before: ", row.number),
                sentence,
                Meaning::Strong,
                Meaning::Plain,
            );
        }
    }
    page.text(
        "g/r/s: good, to rework, scrap. The share that is not good lies in the stretch, 19 times of 20.",
        Meaning::Faint,
    );
}

fn closed(row: &RevisionRow) -> bool {
    row.sheets.iter().sum::<u32>() > 0
}

fn learnt(figure: Option<&Learnt>, write: impl Fn(f64) -> String) -> String {
    figure.map_or_else(|| "?".to_owned(), |f| write(f.value))
}

fn not_good(row: &RevisionRow) -> String {
    let [low, high] = row.not_good.map(|share| share * 100.0);
    if closed(row) { format!("{low:.0} to {high:.0} %") } else { "?".to_owned() }
}

fn bits(model: &Model, records: &Records, high: usize, page: &mut Page) {
    page.row(vec![(format!("  {:<12} {:<28} {:<24}", "bit", "cut of its life", "not good of closed"), Meaning::Faint)]);
    let room = high.saturating_sub(4).max(1);
    for (i, bit) in records.bits.iter().enumerate().skip(window(model.past.row, room)).take(room) {
        let mark = if i == model.past.row { "> " } else { "  " };
        let mut row = vec![(format!("{mark}{:<12} ", bit.bit.0), Meaning::Strong)];
        row.extend(life(bit, model));
        let [closed, bad] = bit.not_good;
        row.push((format!(" {bad} of {closed}, {}", words::count(bit.stops.into(), "stop")), Meaning::Plain));
        page.row(row);
    }
    if let Some(bit) = records.bits.get(model.past.row) {
        page.gap();
        let by: Vec<String> = bit.by_material.iter().map(|(m, way)| format!("{} in {m}", words::way(*way))).collect();
        let sheets = words::count(bit.sheets.into(), "sheet");
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
    let Some(life) = bit.life.filter(|l| l.value() > 0.0) else {
        return vec![(format!("{:<28}", format!("{}, life not told", words::way(bit.cut_ever))), Meaning::Plain)];
    };
    let share = bit.cut_ever.value() / life.value();
    // 80 %: the share at which a bit is spoken of (common practice, no source)
    let meaning = if share >= 0.8 { Meaning::Abnormal } else { Meaning::Plain };
    let told = format!(" {:.0} of {}", bit.cut_ever.value(), words::way(life));
    vec![(format!("{}{told:<16}", chart::bar(share, CHART, model.settings.symbols)), meaning)]
}
