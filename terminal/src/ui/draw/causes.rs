//! Two pages of History: where the time on the machine went, in all and by day, and why parts were not good.
//!
//! May live here: their layout. May not: what counts as lost to what; that is the daemon's.

use super::chart;
use super::history::window;
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::past::{DAYS_BACK, Records};
use crate::ui::theme::Meaning;
use crate::words::{Words, say};
use chargehand_types::history::{DaySum, Figures, LostTo};
use chargehand_types::quantity::Seconds;

/// Columns of a name in front of a bar.
const NAME: usize = 26;
/// Columns of a figure behind one.
const FIGURE: usize = 28;
/// Lines kept for the chosen day, and for the chosen reason.
const DAY_LINES: usize = 4;
const REASON_LINES: usize = 3;
/// Days that are listed however little room there is.
const LEAST_DAYS: usize = 2;

/// Cells of a bar on a page so wide.
fn cells(page: &Page) -> usize {
    page.width().saturating_sub(NAME + FIGURE).clamp(8, 60)
}

fn minutes(of: f64) -> String {
    crate::words::span(Seconds::of(of * 60.0))
}

fn percent(share: f64) -> String {
    format!("{:.0}", share * 100.0)
}

/// Minutes in motion and minutes lost by reason, the most first.
fn sums(days: &[DaySum]) -> Vec<(Option<LostTo>, f64)> {
    let mut sums: Vec<(Option<LostTo>, f64)> = vec![(None, days.iter().map(|d| d.production_min).sum())];
    for (to, minutes) in days.iter().flat_map(|d| &d.lost) {
        match sums.iter_mut().find(|(known, _)| *known == Some(*to)) {
            Some((_, sum)) => *sum += minutes,
            None => sums.push((Some(*to), *minutes)),
        }
    }
    if let Some((_, lost)) = sums.split_first_mut() {
        lost.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    }
    sums
}

/// Where the time went.
pub fn time(model: &Model, records: &Records, high: usize, page: &mut Page) {
    let (words, symbols) = (model.settings.words, model.settings.symbols);
    if records.days.is_empty() {
        page.text(&say!(words, "history.none-closed", days = DAYS_BACK), Meaning::Plain);
        return;
    }
    let sums = sums(&records.days);
    let all: f64 = sums.iter().map(|(_, minutes)| minutes).sum();
    let most = sums.iter().map(|(_, minutes)| *minutes).fold(f64::MIN_POSITIVE, f64::max);
    let cells = cells(page);
    for (to, spent) in &sums {
        let name = to.map_or_else(|| words.text("history.in-motion-time"), |to| words.lost_to(to));
        let meaning = if to.is_none() { Meaning::Strong } else { Meaning::Plain };
        let share = if all > 0.0 { spent / all } else { 0.0 };
        let told = say!(words, "history.of-all", span = minutes(*spent), share = percent(share));
        page.row(vec![
            (format!("  {name:<24}"), meaning),
            (chart::bar(spent / most, cells, symbols), Meaning::Plain),
            (format!(" {told}"), Meaning::Plain),
        ]);
    }
    page.gap();
    let head = format!(
        "  {:<11} {:<12} {}",
        words.text("history.day"),
        words.text("history.day-sheets"),
        words.text("history.motion-of-planned")
    );
    page.row(vec![(head, Meaning::Faint)]);
    let newest: Vec<&DaySum> = records.days.iter().rev().collect();
    let room = high.saturating_sub(page.height() + DAY_LINES).max(LEAST_DAYS);
    for (i, day) in newest.iter().enumerate().skip(window(model.past.row, room)).take(room) {
        let chosen = i == model.past.row;
        let [good, rework, scrap] = day.sheets;
        let front = format!(
            "{}{:<11} {:<12} ",
            if chosen { "> " } else { "  " },
            day.date,
            format!("{good} / {rework} / {scrap}")
        );
        let share = if day.planned_busy_min > 0.0 { day.production_min / day.planned_busy_min } else { 0.0 };
        let told = say!(
            words,
            "history.of-planned",
            span = minutes(day.production_min),
            planned = minutes(day.planned_busy_min)
        );
        page.row(vec![
            (front, if chosen { Meaning::Strong } else { Meaning::Plain }),
            (chart::bar(share, cells, symbols), Meaning::Plain),
            (format!(" {told}"), Meaning::Plain),
        ]);
    }
    if let Some(day) = newest.get(model.past.row) {
        chosen_day(day, words, page);
    }
}

fn chosen_day(day: &DaySum, words: &Words, page: &mut Page) {
    if !day.lost.is_empty() {
        let told = day.lost.iter().map(|(to, lost)| format!("{} {}", words.lost_to(*to), minutes(*lost)));
        let told = told.collect::<Vec<_>>().join(", ");
        page.hanging(&say!(words, "history.lost-to"), &told, Meaning::Strong, Meaning::Plain);
    }
    let use_of_time = figures(&day.figures, words);
    page.hanging(&say!(words, "history.use"), &use_of_time, Meaning::Strong, Meaning::Plain);
}

/// As ISO 22400-2 names them; a dash where one is divided by nothing.
fn figures(of: &Figures, words: &Words) -> String {
    let share = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{} %", percent(v)));
    say!(
        words,
        "history.figures",
        availability = share(of.availability),
        effectiveness = share(of.effectiveness),
        quality = share(of.quality),
        oee = share(of.oee)
    )
}

/// Why parts were not good.
pub fn reasons(model: &Model, records: &Records, high: usize, page: &mut Page) {
    let (words, symbols) = (model.settings.words, model.settings.symbols);
    let [good, rework, scrap] = records.graded();
    page.text(&say!(words, "history.parts-all", good = good, rework = rework, scrap = scrap), Meaning::Plain);
    let rows = records.not_good();
    if rows.is_empty() {
        page.text(&say!(words, "history.all-good"), Meaning::Plain);
        return;
    }
    page.gap();
    let [full, other] = chart::parts(symbols);
    let how = say!(words, "history.why-counts", full = full, other = other);
    page.row(vec![(format!("  {:<24}{how}", words.text("history.why")), Meaning::Faint)]);
    let most = f64::from(rows.iter().map(crate::ui::past::NotGood::all).max().unwrap_or(1).max(1));
    let cells = cells(page);
    let room = high.saturating_sub(page.height() + REASON_LINES).max(1);
    for (i, row) in rows.iter().enumerate().skip(window(model.past.row, room)).take(room) {
        let chosen = i == model.past.row;
        let name = row.reason.map_or_else(|| words.text("history.no-reason"), |reason| words.reason(reason));
        let [rework, scrap] = row.parts;
        let bar = chart::in_two(f64::from(rework) / most, f64::from(scrap) / most, cells, symbols);
        let told = say!(words, "history.counts", rework = rework, scrap = scrap);
        page.row(vec![
            (
                format!("{}{name:<24}", if chosen { "> " } else { "  " }),
                if chosen { Meaning::Strong } else { Meaning::Plain },
            ),
            (bar, Meaning::Plain),
            (format!(" {told}"), Meaning::Plain),
        ]);
    }
    if let Some(row) = rows.get(model.past.row) {
        page.gap();
        let cards: Vec<String> = row.cards.iter().map(|(card, count)| format!("{card} {count}")).collect();
        page.hanging(&say!(words, "history.most-on"), &cards.join(", "), Meaning::Strong, Meaning::Plain);
    }
}
