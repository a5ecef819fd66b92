//! Tables as CSV (RFC 4180): a heading, lines that end in CR LF, a cell in quotes where it holds a comma, a quote or a
//! line end.
//!
//! May live here: that form, and the columns of each table of the history. May not: sums.

use crate::words;
use chargehand_types::history::{BatchSum, BitRow, Learnt, RevisionRow, SheetRecord};
use chargehand_types::quantity::plain;
use chargehand_types::stage::{Grade, Reason};
use chargehand_types::upkeep::UpkeepRow;
use chrono::{DateTime, SecondsFormat, Utc};
use std::borrow::Cow;

/// One line; every cell is text.
fn line(out: &mut String, cells: impl IntoIterator<Item = impl AsRef<str>>) {
    for (nth, cell) in cells.into_iter().enumerate() {
        let cell = cell.as_ref();
        if nth > 0 {
            out.push(',');
        }
        if cell.bytes().any(|b| matches!(b, b',' | b'"' | b'\r' | b'\n')) {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(cell);
        }
    }
    out.push_str("\r\n");
}

fn written(heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut out = String::new();
    line(&mut out, heads);
    for row in rows {
        line(&mut out, row);
    }
    out
}

/// The table of sheets, one line each, written as they come in.
pub(super) struct Sheets(String);

impl Sheets {
    /// Its heading.
    pub(super) fn begun() -> Self {
        let mut out = String::new();
        line(&mut out, SHEET_HEADS);
        Self(out)
    }

    /// One more.
    pub(super) fn add(&mut self, of: &SheetRecord) {
        line(&mut self.0, sheet(of));
    }

    /// The table.
    pub(super) fn whole(self) -> String {
        self.0
    }
}

const SHEET_HEADS: [&str; 31] = [
    "sheet",
    "batch",
    "card",
    "revision",
    "stage",
    "grade",
    "begun",
    "closed",
    "by",
    "thickness_mm",
    "operations",
    "predicted_s",
    "real_s",
    "held_s",
    "cut_m",
    "bits",
    "stops",
    "good",
    "rework",
    "scrap",
    "reasons",
    "notes",
    "waited_s",
    "lot",
    "bit_numbers",
    "overrides",
    "re_entries",
    "tabs",
    "left_mm",
    "cost",
    "corrections",
];

fn sheet(of: &SheetRecord) -> [Cow<'_, str>; SHEET_HEADS.len()] {
    let [good, rework, scrap] = [Grade::Good, Grade::Rework, Grade::Scrap]
        .map(|grade| of.parts.iter().filter(|part| part.grade == grade).count());
    let reasons = of.parts.iter().filter_map(|part| part.reason).map(words::reason);
    let sum = |value: &dyn Fn(&chargehand_types::history::OperationRecord) -> f64| {
        plain(of.operations.iter().map(value).sum())
    };
    let text = |text: String| Cow::Owned(text);
    let counted = |count: usize| text(count.to_string());
    [
        (&*of.sheet.0).into(),
        (&*of.batch.0).into(),
        (&*of.card.0).into(),
        (&*of.revision.0).into(),
        of.stage.word().into(),
        of.grade.map_or("", words::grade).into(),
        text(moment(of.begun)),
        text(moment(of.closed)),
        text(joined(of.operators.iter().map(|actor| actor.who.0.clone()))),
        text(joined(of.thickness.iter().map(|thick| plain(thick.mm())))),
        text(joined(of.operations.iter().map(|operation| operation.name.clone()))),
        text(sum(&|o| o.predicted.value())),
        text(sum(&|o| o.real.unwrap_or_default().value())),
        text(sum(&|o| o.held.value())),
        text(sum(&|o| o.cut.value())),
        text(joined(of.bits.iter().map(|(bit, way)| format!("{bit} {}", plain(way.value()))))),
        counted(of.stops.len()),
        counted(good),
        counted(rework),
        counted(scrap),
        text(joined(reasons.map(str::to_owned))),
        text(joined(of.notes.iter().cloned())),
        text(sum(&|o| o.waiting.value())),
        of.lot.as_deref().unwrap_or_default().into(),
        text(joined(of.operations.iter().filter_map(|o| o.number).map(|number| number.to_string()))),
        text(joined(of.overrides.iter().map(|[feed, rapid]| {
            let told = |value: &Option<u16>| value.map_or_else(|| "-".to_owned(), |v| v.to_string());
            format!("{}/{}", told(feed), told(rapid))
        }))),
        counted(of.re_entries.len()),
        text(of.tabs.map_or_else(String::new, |tabs| tabs.to_string())),
        text(of.left.map_or_else(String::new, |left| left.size.map(|side| plain(side.mm())).join("x"))),
        text(of.cost.map_or_else(String::new, |cost| plain(cost.total))),
        text(joined(of.corrections.iter().map(super::sheet::corrected))),
    ]
}

/// One line a revision.
pub(super) fn revisions(all: &[RevisionRow]) -> String {
    let heads = [
        "card",
        "number",
        "revision",
        "sheets_good",
        "sheets_rework",
        "sheets_scrap",
        "parts_good",
        "parts_rework",
        "parts_scrap",
        "reasons",
        "stops",
        "seconds",
        "seconds_low",
        "seconds_high",
        "time_factor",
        "time_factor_low",
        "time_factor_high",
        "not_good_low",
        "not_good_high",
        "against_before",
        "changes",
    ];
    written(
        &heads,
        all.iter().map(|row| {
            let mut cells = vec![row.card.0.clone(), row.number.to_string(), row.revision.0.clone()];
            cells.extend(row.sheets.iter().chain(&row.parts).map(u32::to_string));
            cells.extend([reasons(&row.reasons), row.stops.to_string()]);
            cells.extend(learnt(row.seconds.as_ref()));
            cells.extend(learnt(row.time_factor.as_ref()));
            cells.extend(row.not_good.map(plain));
            cells.push(row.against_before.clone().unwrap_or_default());
            cells.push(joined(row.changes.iter().map(|change| change.says.clone())));
            cells
        }),
    )
}

/// One line a kind of bit.
pub(super) fn bits(all: &[BitRow]) -> String {
    let heads =
        ["bit", "cut_m", "cut_ever_m", "life_m", "by_material", "sheets", "closed", "not_good", "reasons", "stops"];
    written(
        &heads,
        all.iter().map(|row| {
            let [closed, not_good] = row.not_good.map(|n| n.to_string());
            vec![
                row.bit.0.clone(),
                plain(row.cut.value()),
                plain(row.cut_ever.value()),
                row.life.map_or_else(String::new, |life| plain(life.value())),
                joined(row.by_material.iter().map(|(of, way)| format!("{of} {}", plain(way.value())))),
                row.sheets.to_string(),
                closed,
                not_good,
                reasons(&row.reasons),
                row.stops.to_string(),
            ]
        }),
    )
}

/// One line a thing to be kept up.
pub(super) fn upkeep(all: &[UpkeepRow]) -> String {
    let heads = ["name", "due", "hours", "every_hours", "metres", "every_metres", "days", "every_days", "done", "by"];
    written(
        &heads,
        all.iter().map(|row| {
            let mut cells = vec![row.name.clone(), if row.due { "due" } else { "fine" }.to_owned()];
            for of in [row.hours, row.metres, row.days] {
                cells.extend(of.map_or_else(|| [const { String::new() }; 2], |of| of.map(plain)));
            }
            cells.push(moment(row.done.as_ref().map(|(_, at)| *at)));
            let by = row.done.as_ref().and_then(|(by, _)| by.as_ref());
            cells.push(by.map_or_else(String::new, |by| by.who.0.clone()));
            cells
        }),
    )
}

/// One line a batch.
pub(super) fn batches(all: &[BatchSum]) -> String {
    let heads = [
        "batch",
        "card",
        "sheets_good",
        "sheets_rework",
        "sheets_scrap",
        "parts_good",
        "parts_rework",
        "parts_scrap",
        "machine",
        "hands",
        "material",
        "bits",
        "total",
        "scrap",
        "each_good_part",
        "availability",
        "effectiveness",
        "quality",
        "oee",
        "not_in_motion",
    ];
    let maybe = |value: Option<f64>| value.map_or_else(String::new, plain);
    written(
        &heads,
        all.iter().map(|row| {
            let mut cells = vec![row.batch.0.clone(), row.card.0.clone()];
            cells.extend(row.sheets.iter().chain(&row.parts).map(u32::to_string));
            let cost =
                |of: &dyn Fn(&chargehand_types::history::Cost) -> Option<f64>| maybe(row.cost.as_ref().and_then(of));
            cells.extend([
                cost(&|c| Some(c.machine)),
                cost(&|c| Some(c.hands)),
                cost(&|c| c.material),
                cost(&|c| Some(c.bits)),
                cost(&|c| Some(c.total)),
                cost(&|c| Some(c.scrap)),
                cost(&|c| c.each),
            ]);
            let of = &row.figures;
            cells.extend([of.availability, of.effectiveness, of.quality, of.oee].map(maybe));
            cells.push(super::history::lost(&row.lost));
            cells
        }),
    )
}

fn moment(at: Option<DateTime<Utc>>) -> String {
    at.map_or_else(String::new, |at| at.to_rfc3339_opts(SecondsFormat::AutoSi, true))
}

/// Several values in one cell.
fn joined(values: impl Iterator<Item = String>) -> String {
    values.collect::<Vec<_>>().join("; ")
}

fn reasons(counted: &[(Reason, u32)]) -> String {
    joined(counted.iter().map(|(reason, n)| format!("{} {n}", words::reason(*reason))))
}

fn learnt(figure: Option<&Learnt>) -> [String; 3] {
    let [low, high] = figure.and_then(|f| f.interval).map_or_else(Default::default, |interval| interval.map(plain));
    [figure.map_or_else(String::new, |f| plain(f.value)), low, high]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::samples;

    fn sheets(all: &[SheetRecord]) -> String {
        let mut table = Sheets::begun();
        all.iter().for_each(|of| table.add(of));
        table.whole()
    }

    #[test]
    fn cells_are_quoted_as_the_standard_has_it() {
        // RFC 4180, section 2: rules 1 (CRLF), 5, 6 and 7 with their own examples
        let mut out = String::new();
        line(&mut out, ["aaa", "b\r\nbb", "ccc"]);
        line(&mut out, ["aaa", "b\"bb", "ccc"]);
        line(&mut out, ["zzz", "", "x,y"]);
        assert_eq!(out, "aaa,\"b\r\nbb\",ccc\r\naaa,\"b\"\"bb\",ccc\r\nzzz,,\"x,y\"\r\n");
    }

    #[test]
    fn every_line_of_a_table_has_as_many_cells_as_its_heading() {
        let records = samples::records();
        for text in [sheets(&records.sheets), revisions(&records.revisions), bits(&records.bits)] {
            // a comma within quotes parts no cells
            let count = |line: &str| 1 + line.split('"').step_by(2).map(|l| l.matches(',').count()).sum::<usize>();
            let cells: Vec<usize> = text.split_terminator("\r\n").map(count).collect();
            assert!(cells.len() > 2 && cells.iter().all(|n| *n == cells[0]), "{cells:?}\n{text}");
        }
    }

    #[test]
    fn a_sheet_tells_its_sums() {
        let text = sheets(&samples::records().sheets);
        let second = text.split("\r\n").nth(2).unwrap();
        for cell in ["B1-2,B1,plant-stand-sides,", ",closed,rework,", ",700,790,14,8.44,c635 8.44,0,1,0,0,"] {
            assert!(second.contains(cell), "{cell}: {second}");
        }
    }
}
