//! What the page of a batch lists one by one: the bits by their own numbers, sheets that were not good, corrections.
//!
//! The page is two printed sides long, so these lists share what the charts of the second side leave of it; what does
//! not fit is counted, with the command that tells it. May live here: those tables. May not: sums that teach.

use super::svg::safe;
use crate::cli::page::cut;
use crate::{cli, words};
use chargehand_types::bits::PhysicalRow;
use chargehand_types::history::SheetRecord;
use chargehand_types::quantity::{Metres, plain};
use chargehand_types::record::Correction;
use chargehand_types::report::BatchReport;
use chargehand_types::stage::Grade;
use chrono::{DateTime, Utc};
use std::fmt::Write as _;

/// Bits that are told by number at most, those that cut most of the batch.
const NUMBERED: usize = 4;
/// Characters of one entry; on paper that is one line.
const ENTRY: usize = 84;
/// Entries of the two lists below the map that the second side holds when no chart takes more than its least.
const ENTRIES: usize = 15;
/// Of them, entries of either list that are shown however much the other one has.
const EACH: usize = 3;

/// How many entries fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    sheets: usize,
    corrections: usize,
}

impl Room {
    /// What the rest of the second side leaves. A row of a chart or of a table takes as much as an entry does.
    #[must_use]
    pub fn left_by(of: &BatchReport) -> Self {
        let above = of.bits.len().saturating_sub(1)
            + of.physical.len().min(NUMBERED)
            + usize::from(!of.physical.is_empty()) * 2;
        let all = ENTRIES.saturating_sub(above).max(2 * EACH);
        let sheets = of.sheets.iter().filter(|s| is_remarkable(s)).count();
        let corrections: usize = of.sheets.iter().map(|s| s.corrections.len()).sum();
        let corrections = corrections.min(all.saturating_sub(sheets).max(EACH));
        Self { sheets: sheets.min(all - corrections), corrections }
    }
}

/// A table with its heads, and whether a column holds numbers; the attribute of a row is by what a reader finds it again.
fn table(heads: &[(&str, bool)], rows: impl Iterator<Item = (String, Vec<String>)>) -> String {
    let class = |number: bool| if number { " class=\"n\"" } else { "" };
    let mut out = "<table class=\"list\"><thead><tr>".to_owned();
    for (head, number) in heads {
        let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(*number), safe(head));
    }
    out.push_str("</tr></thead><tbody>");
    for (data, row) in rows {
        let _ = write!(out, "<tr {data}>");
        for (cell, (_, number)) in row.iter().zip(heads) {
            let _ = write!(out, "<td{}>{}</td>", class(*number), safe(cell));
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
    out
}

/// What is left out of a list, and the command that tells it.
fn more(left_out: usize, noun: &str, command: &str) -> String {
    if left_out == 0 {
        return String::new();
    }
    format!("<p class=\"faint\">And {}: {}</p>", words::count(left_out as u64, noun), safe(command))
}

/// The physical bits that cut the batch, those that cut most of it first.
#[must_use]
pub fn numbered(of: &BatchReport) -> String {
    let here = |row: &PhysicalRow| -> f64 {
        let operations = of.sheets.iter().flat_map(|s| &s.operations);
        operations.filter(|o| o.number == Some(row.bit.number)).map(|o| o.cut.value()).sum()
    };
    let mut rows: Vec<(f64, &PhysicalRow)> = of.physical.iter().map(|row| (here(row), row)).collect();
    rows.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    let heads = [
        ("bit", false),
        ("in this batch", true),
        ("in all", true),
        ("since new or ground", true),
        ("across, mm", true),
        ("its sheets not good", true),
        ("stops", true),
        ("", false),
    ];
    let cells = rows.iter().take(NUMBERED).map(|(here, row)| {
        let (bit, whole) = (&row.bit, [&row.before, &row.near_end]);
        let sum =
            |count: &dyn Fn(&chargehand_types::bits::Stretch) -> u32| -> u32 { whole.iter().map(|s| count(s)).sum() };
        let grinds = match bit.regrinds {
            0 => String::new(),
            times => format!("ground {}", words::count(times.into(), "time")),
        };
        let end = bit.scrapped.as_ref().map(|end| format!("scrapped: {}", end.why));
        let told: Vec<String> = [Some(grinds).filter(|g| !g.is_empty()), end].into_iter().flatten().collect();
        let cells = vec![
            format!("{} no. {}", bit.bit, bit.number),
            words::way(Metres::of(*here)),
            words::way(bit.cut),
            words::way(bit.since_grind),
            bit.diameters.last().map_or_else(String::new, |(_, read)| plain(read.mm())),
            format!("{} of {}", sum(&|s| s.not_good), sum(&|s| s.sheets)),
            sum(&|s| s.stops).to_string(),
            cut(&told.join(", "), 40),
        ];
        (format!("data-number=\"{}\"", bit.number), cells)
    });
    let left_out = more(rows.len().saturating_sub(NUMBERED), "more bit", "chargehand history bits");
    format!("{}{left_out}", table(&heads, cells))
}

/// The sheets of which there is something to tell.
#[must_use]
pub fn remarkable(of: &BatchReport, room: Room) -> String {
    let told: Vec<&SheetRecord> = of.sheets.iter().filter(|s| is_remarkable(s)).collect();
    if told.is_empty() {
        return "<p>None.</p>".to_owned();
    }
    let rows = told.iter().take(room.sheets).map(|sheet| {
        let parts = sheet.parts.iter().filter(|p| p.grade != Grade::Good).map(|p| {
            let why = p.reason.map_or("no reason given", words::reason);
            format!("{} {} {}: {why}", p.name, p.index + 1, words::grade(p.grade))
        });
        let stops = sheet.stops.iter().map(|s| format!("stopped: {}", s.text));
        let why: Vec<String> = parts.chain(stops).chain(sheet.notes.iter().cloned()).collect();
        let came = sheet.grade.map_or(words::stage(sheet.stage), words::grade);
        let cells = vec![sheet.sheet.0.clone(), came.to_owned(), cut(&why.join("; "), ENTRY)];
        (format!("data-told=\"{}\"", safe(&sheet.sheet.0)), cells)
    });
    let command = format!("chargehand history sheets --batch {}", of.batch.id);
    let left_out = more(told.len().saturating_sub(room.sheets), "more sheet", &command);
    format!("{}{left_out}", table(&[("sheet", false), ("came out", false), ("why", false)], rows))
}

fn is_remarkable(sheet: &SheetRecord) -> bool {
    sheet.grade.is_some_and(|g| g != Grade::Good) || !sheet.stops.is_empty() || !sheet.notes.is_empty()
}

/// Records that point at an earlier one which was wrong; everything else on the page is as it counts now.
#[must_use]
pub fn corrected(of: &BatchReport, room: Room, clock: &dyn Fn(DateTime<Utc>) -> String) -> String {
    let of_sheets = of.sheets.iter().flat_map(|s| s.corrections.iter().map(move |c| (s, c)));
    let mut all: Vec<(&SheetRecord, &Correction)> = of_sheets.collect();
    if all.is_empty() {
        return "<p>Nothing.</p>".to_owned();
    }
    all.sort_by_key(|(_, correction)| correction.by_record);
    let rows = all.iter().take(room.corrections).map(|(sheet, correction)| {
        let by = correction.by.as_ref().map_or_else(String::new, |by| format!(", {}", by.who));
        let cells = vec![
            sheet.sheet.0.clone(),
            cut(&cli::sheet::correction(&correction.what, correction.record), ENTRY * 4 / 7),
            cut(&correction.why, ENTRY * 2 / 5),
            format!("{}{by}", clock(correction.at)),
        ];
        (format!("data-correction=\"{}\"", correction.by_record), cells)
    });
    let command = format!("chargehand history sheets --batch {}", of.batch.id);
    let left_out = more(all.len().saturating_sub(room.corrections), "more correction", &command);
    let heads =
        [("sheet", false), ("what holds, and what was said first", false), ("why", false), ("when, by whom", false)];
    format!("{}{left_out}", table(&heads, rows))
}
