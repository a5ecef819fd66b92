//! `chargehand history`: what was cut, when, by whom, and how it came out; by sheet, by revision, by bit.
//!
//! May live here: asking and showing. May not: sums that teach; those are the daemon's.

use super::end::End;
use super::line::{HistoryLine, HistoryOf};
use super::page::{fold, json, say};
use super::sheet;
use crate::client::Api;
use crate::words;
use chargehand_types::history::{BitRow, Cost, EffortHistory, Figures, Learnt, RevisionRow, SheetRecord};
use chargehand_types::id::CardName;
use chargehand_types::quantity::plain;

pub(super) async fn run(api: &Api, line: HistoryLine) -> Result<(), End> {
    let since = line.since.map(|w| w.0);
    if line.card.is_some() && !matches!(line.of, HistoryOf::Revisions) {
        return Err(End::WrongUse("--card goes with `history revisions`.".to_owned()));
    }
    match line.of {
        HistoryOf::Sheets => {
            let history = api.history(since).await?;
            if line.json { json(&history) } else { say(&told(&history.sheets)) }
        }
        HistoryOf::Revisions => {
            let history = api.revision_history(since, line.card.map(CardName).as_ref()).await?;
            if line.json { json(&history) } else { say(&revisions(&history.revisions)) }
        }
        HistoryOf::Bits => {
            let history = api.bit_history(since).await?;
            if line.json { json(&history) } else { say(&bits(&history.bits)) }
        }
        HistoryOf::Effort => {
            let history = api.effort_history(since).await?;
            if line.json { json(&history) } else { say(&effort(&history)) }
        }
    }
}

/// What was spent, and what came of it.
fn effort(history: &EffortHistory) -> String {
    if history.batches.is_empty() {
        return "No sheet was closed in that time.\n".to_owned();
    }
    let mut out = String::new();
    for batch in &history.batches {
        out.push_str(&format!("{}   {}\n", batch.batch, batch.card));
        let [good, rework, scrap] = batch.parts;
        out.push_str(&fold("  parts: ", &format!("{good} good, {rework} to rework, {scrap} scrap"), 4));
        out.push_str(&fold("  cost: ", &cost(batch.cost.as_ref()), 4));
        out.push_str(&fold("  time use: ", &figures(&batch.figures), 4));
    }
    out.push('\n');
    for day in &history.days {
        out.push_str(&format!("{}\n", day.date));
        let lost = (day.planned_busy_min - day.production_min).max(0.0);
        let told = format!(
            "{:.0} min in motion of {:.0} planned; {:.0} min held, {}, {:.0} min of hands and waiting",
            day.production_min,
            day.planned_busy_min,
            day.held_min,
            words::count(day.stops.into(), "stop"),
            (lost - day.held_min).max(0.0)
        );
        out.push_str(&fold("  ", &told, 4));
        out.push_str(&fold("  time use: ", &figures(&day.figures), 4));
    }
    out.push_str(&fold("\nHand time is ", &format!("{}.", history.hands_are), 2));
    out
}

fn cost(cost: Option<&Cost>) -> String {
    let Some(cost) = cost else { return "not known: say what an hour costs in daemon.toml, [rates]".to_owned() };
    let each = cost.each.map_or_else(|| "no good part".to_owned(), |each| format!("{each:.2} a good part"));
    let material = cost.material.map_or_else(|| "material not known".to_owned(), |m| format!("material {m:.2}"));
    format!(
        "{each}; {:.2} in all: machine {:.2}, hands {:.2}, {material}, bits {:.2}; {:.2} of it in parts that are not good",
        cost.total, cost.machine, cost.hands, cost.bits, cost.scrap
    )
}

/// As ISO 22400-2 names them; a dash where one is divided by nothing.
fn figures(of: &Figures) -> String {
    let share = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{:.0} %", v * 100.0));
    format!(
        "availability {}, effectiveness {}, quality {}, OEE {}",
        share(of.availability),
        share(of.effectiveness),
        share(of.quality),
        share(of.oee)
    )
}

const NOTHING: &str = "No sheet was taken onto the machine in that time.\n";

fn told(sheets: &[SheetRecord]) -> String {
    if sheets.is_empty() {
        return NOTHING.to_owned();
    }
    sheets.iter().map(sheet::show).collect::<Vec<_>>().join("\n")
}

fn revisions(rows: &[RevisionRow]) -> String {
    if rows.is_empty() {
        return NOTHING.to_owned();
    }
    rows.iter().map(revision).collect::<Vec<_>>().join("\n")
}

fn revision(row: &RevisionRow) -> String {
    let mut out = format!("{}   revision {} ({})\n", row.card, row.number, words::short(&row.revision.0));
    for change in &row.changes {
        out.push_str(&fold("  changed: ", &change.says, 4));
    }
    let [good, rework, scrap] = row.sheets;
    let mut sheets = format!("{good} good, {rework} to rework, {scrap} scrap");
    if good + rework + scrap > 0 {
        let [low, high] = row.not_good.map(|share| share * 100.0);
        sheets.push_str(&format!("; {low:.0} to {high:.0} % not good, 19 times of 20"));
    }
    out.push_str(&fold("  sheets closed: ", &sheets, 4));
    let [good, rework, scrap] = row.parts;
    out.push_str(&fold("  parts: ", &format!("{good} good, {rework} to rework, {scrap} scrap"), 4));
    if row.stops > 0 {
        out.push_str(&fold("  stopped: ", &words::count(row.stops.into(), "time"), 4));
    }
    if let Some(learnt) = &row.seconds {
        out.push_str(&fold("  in motion a sheet: ", &figure(learnt, |v| format!("{v:.0} s")), 4));
    }
    if let Some(learnt) = &row.time_factor {
        out.push_str(&fold("  real over predicted: ", &figure(learnt, plain), 4));
    }
    if let Some(sentence) = &row.against_before {
        out.push_str(&fold("  against the one before: ", sentence, 4));
    }
    out
}

/// A figure, where it lies, and how much it rests on.
fn figure(learnt: &Learnt, write: impl Fn(f64) -> String) -> String {
    let rests = words::count(learnt.rows.into(), "row");
    match learnt.interval {
        Some([low, high]) => {
            format!("{} ({} to {}, 19 times of 20, from {rests})", write(learnt.value), write(low), write(high))
        }
        None => format!("{} (from {rests})", write(learnt.value)),
    }
}

fn bits(rows: &[BitRow]) -> String {
    if rows.is_empty() {
        return NOTHING.to_owned();
    }
    rows.iter().map(bit).collect::<Vec<_>>().join("\n")
}

fn bit(row: &BitRow) -> String {
    let life = row.life.map_or_else(String::new, |life| format!(" of {} it should last", words::way(life)));
    let mut out = format!("{}   {} cut in all{life}\n", row.bit, words::way(row.cut_ever));
    let by: Vec<String> = row.by_material.iter().map(|(m, way)| format!("{} in {m}", words::way(*way))).collect();
    out.push_str(&fold("  on the sheets shown: ", &by.join(", "), 4));
    let [closed, not_good] = row.not_good;
    let sheets = words::count(row.sheets.into(), "sheet");
    let stops = words::count(row.stops.into(), "stop");
    out.push_str(&fold("  ", &format!("{sheets}; of {closed} closed {not_good} not good; {stops}"), 4));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::change::{Change, ChangeKind};
    use chargehand_types::quantity::Metres;

    #[test]
    fn a_revision_says_what_changed_and_what_came_of_it() {
        let row = RevisionRow {
            card: "tray".into(),
            number: 2,
            revision: "abcdef0123456789".into(),
            sheets: [9, 1, 0],
            parts: [38, 2, 0],
            stops: 1,
            seconds: Some(Learnt { value: 620.0, interval: Some([600.0, 650.0]), rows: 10 }),
            time_factor: Some(Learnt { value: 1.08, interval: None, rows: 4 }),
            not_good: [0.018, 0.404],
            against_before: Some("1 of 10 bad, before 5 of 10 bad: that may well be chance".into()),
            changes: vec![Change {
                operation: None,
                kind: ChangeKind::Feed,
                says: "`rim` is fed at 3000 mm/min".into(),
            }],
        };
        let text = revisions(&[row]);
        for words in [
            "revision 2",
            "changed: `rim` is fed",
            "9 good, 1 to rework",
            "2 to 40 % not good",
            "620 s (600 s to 650 s",
            "1.08 (from 4 rows)",
            "1 of 10 bad, before 5 of 10",
        ] {
            assert!(text.contains(words), "{words}: {text}");
        }
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert_eq!(revisions(&[]), NOTHING);
    }

    #[test]
    fn a_bit_says_how_far_it_has_cut() {
        let row = BitRow {
            bit: "c635".into(),
            cut: Metres::of(120.0),
            by_material: vec![("mdf".into(), Metres::of(20.0)), ("pine-panel".into(), Metres::of(100.0))],
            life: Some(Metres::of(600.0)),
            cut_ever: Metres::of(420.0),
            sheets: 12,
            not_good: [11, 2],
            stops: 0,
        };
        let text = bits(&[row]);
        for words in
            ["c635   420.0 m cut in all of 600.0 m", "20.0 m in mdf, 100.0 m in pine-panel", "of 11 closed 2 not good"]
        {
            assert!(text.contains(words), "{words}: {text}");
        }
    }
}
