//! One batch on one page of its own: figures, charts and a map, in light and dark, on two printed sides. No script.
//!
//! The page is HTML and well-formed XML at once. May live here: what stands on it. May not: asking the daemon, sums
//! that teach; those are the daemon's.

mod charts;
pub mod job_card;
mod listed;
mod map;
mod svg;

use crate::words;
use chargehand_types::history::{Cost, Figures};
use chargehand_types::report::BatchReport;
use chargehand_types::stage::Grade;
use chrono::{DateTime, Utc};
use std::fmt::Write as _;
use svg::safe;

/// Bars of the two charts at the foot of the first side that it has room for.
const BARS: usize = 11;

const STYLE: &str = include_str!("style.css");

/// The page. `made` is when, `clock` writes a moment as the wall clock of the reader shows it.
#[must_use]
pub fn page(of: &BatchReport, made: DateTime<Utc>, clock: &dyn Fn(DateTime<Utc>) -> String) -> String {
    let mut out = String::with_capacity(64 * 1024);
    let title = safe(&format!("Batch {}: {}", of.batch.id, of.title));
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"/><meta name=\"color-scheme\" content=\"light dark\"/><title>{title}</title><style>{STYLE}</style></head><body><main><header><h1>{title}</h1><p class=\"faint\">Card {}, revision {}. {} of {} closed{}. Written {}.</p></header>",
        safe(&of.batch.card.0),
        safe(words::short(&of.batch.revision.0)),
        of.batch.closed,
        words::count(of.batch.sheets.into(), "sheet"),
        span(of, clock),
        safe(&clock(made)),
    );
    out.push_str("<div class=\"two\">");
    section(&mut out, "", "What came of it", &came(of));
    section(&mut out, "", "What it took", &took(of));
    out.push_str("</div>");
    section(&mut out, "", "Time of each sheet in motion, predicted and real", &charts::predicted_and_real(&of.sheets));
    section(&mut out, "", "Where the time on the machine went", &charts::where_time_went(&of.spent));
    let lost = of.sum.as_ref().map_or(&[][..], |sum| &sum.lost);
    section(&mut out, "", "Time in which nothing moved, by reason", &charts::lost(lost));
    section(&mut out, "", "Why parts were not good", &charts::reasons(&of.reasons, BARS.saturating_sub(lost.len())));
    section(&mut out, "second", "How far the bits have cut", &charts::bit_life(&of.bits));
    if !of.physical.is_empty() {
        section(&mut out, "", "The bits by their own numbers", &listed::numbered(of));
    }
    if let Some(drawing) = &of.drawing {
        let told = "<p class=\"faint\">Cross: a cut was stopped about there. Triangle: the face of that part was torn. Dot: that part was not good for another reason.</p>";
        section(&mut out, "map", "Where it happened on the sheet", &format!("{}{told}", map::map(drawing, &of.marks)));
    }
    let room = listed::Room::left_by(of);
    section(&mut out, "", "Sheets that were not good, stopped or noted", &listed::remarkable(of, room));
    section(&mut out, "", "What was corrected afterwards", &listed::corrected(of, room, clock));
    out.push_str("</main></body></html>\n");
    out
}

fn section(out: &mut String, class: &str, head: &str, body: &str) {
    let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
    let _ = write!(out, "<section{class}><h2>{}</h2>{body}</section>", safe(head));
}

/// From when to when it was worked on.
fn span(of: &BatchReport, clock: &dyn Fn(DateTime<Utc>) -> String) -> String {
    let begun = of.sheets.iter().filter_map(|s| s.begun).min();
    let closed = of.sheets.iter().filter_map(|s| s.closed).max();
    let told = |word: &str, at: Option<_>| at.map(|at| format!(", {word} {}", safe(&clock(at)))).unwrap_or_default();
    format!("{}{}", told("begun", begun), told("last closed", closed))
}

/// A row of a table; the figure carries its name so that it is found again.
fn row(out: &mut String, name: &str, id: &str, value: &str) {
    let _ =
        write!(out, "<tr><th scope=\"row\">{}</th><td class=\"n\" id=\"{id}\">{}</td></tr>", safe(name), safe(value));
}

fn came(of: &BatchReport) -> String {
    let mut out = "<table><thead><tr><th scope=\"col\"></th><th scope=\"col\" class=\"n\">good</th><th scope=\"col\" class=\"n\">to rework</th><th scope=\"col\" class=\"n\">scrap</th></tr></thead><tbody>".to_owned();
    let sheets = count(of.sheets.iter().filter_map(|s| s.grade));
    let parts = count(of.sheets.iter().flat_map(|s| &s.parts).map(|p| p.grade));
    for (name, id, counts) in [("sheets", "sheets", sheets), ("parts", "parts", parts)] {
        let _ = write!(out, "<tr><th scope=\"row\">{name}</th>");
        for (grade, n) in ["good", "rework", "scrap"].into_iter().zip(counts) {
            let _ = write!(out, "<td class=\"n\" id=\"{id}-{grade}\">{n}</td>");
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table><table><tbody>");
    let stops: usize = of.sheets.iter().map(|s| s.stops.len()).sum();
    row(&mut out, "times a sheet was stopped", "stops", &stops.to_string());
    let factor = of.time_factor.as_ref().map_or_else(
        || "too few sheets to tell".to_owned(),
        |f| match f.interval {
            Some([low, high]) => format!("{:.2} ({low:.2} to {high:.2}, 19 times of 20)", f.value),
            None => format!("{:.2}", f.value),
        },
    );
    row(&mut out, "real over predicted time", "time-factor", &factor);
    if let Some(sum) = &of.sum {
        for (name, id, value) in figures(&sum.figures) {
            row(&mut out, name, id, &value);
        }
    }
    out.push_str("</tbody></table>");
    out
}

/// As ISO 22400-2 names them; what is divided by nothing is left out. Availability is a figure of days, not of batches.
fn figures(of: &Figures) -> impl Iterator<Item = (&'static str, &'static str, String)> {
    let share = |v: f64| format!("{:.0} %", v * 100.0);
    [("effectiveness", "effectiveness", of.effectiveness), ("quality", "quality", of.quality)]
        .into_iter()
        .filter_map(move |(name, id, value)| Some((name, id, share(value?))))
}

fn count(grades: impl Iterator<Item = Grade>) -> [usize; 3] {
    grades.fold([0; 3], |[good, rework, scrap], grade| match grade {
        Grade::Good => [good + 1, rework, scrap],
        Grade::Rework => [good, rework + 1, scrap],
        Grade::Scrap => [good, rework, scrap + 1],
    })
}

fn took(of: &BatchReport) -> String {
    let mut out = "<table><tbody>".to_owned();
    match of.sum.as_ref().map(|sum| sum.cost.as_ref()) {
        None => return "<p>No sheet of it is closed yet.</p>".to_owned(),
        Some(None) => return "<p>The shop does not say what an hour costs (daemon.toml, [rates]).</p>".to_owned(),
        Some(Some(cost)) => costs(&mut out, cost),
    }
    out.push_str("</tbody></table><p class=\"faint\">Closed sheets, in the shop's money.</p>");
    out
}

fn costs(out: &mut String, cost: &Cost) {
    let money = |v: f64| format!("{v:.2}");
    row(out, "machine", "cost-machine", &money(cost.machine));
    row(out, "hands", "cost-hands", &money(cost.hands));
    row(out, "sheets", "cost-material", &cost.material.map_or_else(|| "not known".to_owned(), money));
    row(out, "wear of bits", "cost-bits", &money(cost.bits));
    row(out, "all of it", "cost-total", &money(cost.total));
    row(out, "of it in parts that are not good", "cost-scrap", &money(cost.scrap));
    row(out, "a good part", "cost-each", &cost.each.map_or_else(|| "there is none".to_owned(), money));
}
