//! `chargehand history`: what was cut, when, by whom, and how it came out; by sheet, by revision, by bit.
//!
//! May live here: asking and showing. May not: sums that teach; those are the daemon's.

use super::csv;
use super::end::End;
use super::line::{HistoryLine, HistoryOf};
use super::page::{fold, json, say};
use super::{sheet, upkeep};
use crate::client::Api;
use crate::words;
use chargehand_types::bits::{PhysicalRow, Stretch};
use chargehand_types::history::{
    BitRow, Cost, EffortHistory, Figures, HistoryQuery, Learnt, LostTo, RevisionRow, SheetHistory,
};
use chargehand_types::id::{BatchId, BitName, CardName};
use chargehand_types::quantity::plain;
use chargehand_types::stage::Reason;
use serde::Serialize;

/// Sheets told as text where nobody says how many; tables and documents hold all of them.
const TOLD_MOST: u32 = 200;

pub(super) async fn run(api: &Api, line: HistoryLine) -> Result<(), End> {
    let form = Form::of(&line);
    let mut asked = HistoryQuery {
        since: line.since.map(|w| w.0),
        card: line.card.map(CardName),
        batch: line.batch.map(BatchId),
        bit: line.bit.map(BitName),
        grade: line.grade.map(Into::into),
        newest: line.newest,
    };
    match line.of {
        HistoryOf::Sheets => {
            if form == Form::Csv {
                // the lines are written while the rest is on its way
                let mut table = csv::Sheets::begun();
                api.history_each(&asked, |sheet| table.add(&sheet)).await?;
                return say(&table.whole());
            }
            if form == Form::Text {
                asked.newest.get_or_insert(TOLD_MOST);
            }
            let history = api.history(&asked).await?;
            if form == Form::Json { json(&history) } else { say(&told(&history)) }
        }
        HistoryOf::Revisions => {
            let history = api.revision_history(&asked).await?;
            form.out(&history, || csv::revisions(&history.revisions), || revisions(&history.revisions))
        }
        HistoryOf::Bits => {
            let history = api.bit_history(&asked).await?;
            form.out(
                &history,
                || csv::bits(&history.bits),
                || format!("{}{}", bits(&history.bits), physical(&history.physical)),
            )
        }
        HistoryOf::Upkeep => {
            let history = api.upkeep().await?;
            form.out(&history, || csv::upkeep(&history.upkeep), || upkeep::list(&history.upkeep))
        }
        HistoryOf::Effort => {
            let history = api.effort_history(&asked).await?;
            form.out(&history, || csv::batches(&history.batches), || effort(&history))
        }
    }
}

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Text,
    Json,
    Csv,
}

impl Form {
    const fn of(line: &HistoryLine) -> Self {
        match (line.json, line.csv) {
            (true, _) => Self::Json,
            (false, true) => Self::Csv,
            (false, false) => Self::Text,
        }
    }

    fn out<T: Serialize>(
        self,
        document: &T,
        table: impl FnOnce() -> String,
        text: impl FnOnce() -> String,
    ) -> Result<(), End> {
        match self {
            Self::Json => json(document),
            Self::Csv => say(&table()),
            Self::Text => say(&text()),
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
        if !batch.lost.is_empty() {
            out.push_str(&fold("  not in motion for: ", &lost(&batch.lost), 4));
        }
    }
    out.push('\n');
    for day in &history.days {
        out.push_str(&format!("{}\n", day.date));
        let told = format!(
            "{:.0} min in motion of {:.0} planned, {}",
            day.production_min,
            day.planned_busy_min,
            words::count(day.stops.into(), "stop"),
        );
        out.push_str(&fold("  ", &told, 4));
        if !day.lost.is_empty() {
            out.push_str(&fold("  lost to: ", &lost(&day.lost), 4));
        }
        out.push_str(&fold("  time use: ", &figures(&day.figures), 4));
    }
    out.push_str(&fold("\nHand time is ", &format!("{}.", history.hands_are), 2));
    out
}

/// Minutes by what they were lost to.
pub(super) fn lost(rows: &[(LostTo, f64)]) -> String {
    let told = |(to, minutes): &(LostTo, f64)| format!("{} {minutes:.0} min", words::lost_to(*to));
    rows.iter().map(told).collect::<Vec<_>>().join(", ")
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

const NOTHING: &str = "No sheet that was taken onto the machine fits what is asked for.\n";

fn told(history: &SheetHistory) -> String {
    if history.sheets.is_empty() {
        return NOTHING.to_owned();
    }
    let mut out = history.sheets.iter().map(sheet::show).collect::<Vec<_>>().join("\n");
    if history.older > 0 {
        let left = format!(
            "{} before these are not shown: --newest N shows more, --csv and --json all.",
            words::count(history.older.into(), "sheet")
        );
        out.push_str(&fold("\n", &left, 0));
    }
    out
}

/// Why parts were not good, as "torn face 3, fuzzy edges 1".
fn reasons(counted: &[(Reason, u32)]) -> String {
    counted.iter().map(|(reason, n)| format!("{} {n}", words::reason(*reason))).collect::<Vec<_>>().join(", ")
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
    if !row.reasons.is_empty() {
        out.push_str(&fold("  not good for: ", &reasons(&row.reasons), 4));
    }
    if row.stops > 0 {
        out.push_str(&fold("  stopped: ", &words::count(row.stops.into(), "time"), 4));
    }
    if !row.wear.is_empty() {
        let ways: Vec<String> = row.wear.iter().map(|(bit, way)| format!("{bit} {}", words::way(*way))).collect();
        out.push_str(&fold("  wear a sheet: ", &ways.join(", "), 4));
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
    if !row.reasons.is_empty() {
        out.push_str(&fold("  parts not good for: ", &reasons(&row.reasons), 4));
    }
    out
}

/// The physical bits, each with what happened near the end of its life beside what happened before.
fn physical(rows: &[PhysicalRow]) -> String {
    rows.iter().map(|row| format!("\n{}", one(row))).collect()
}

fn one(row: &PhysicalRow) -> String {
    let bit = &row.bit;
    let since = if bit.regrinds > 0 {
        format!(
            ", {} since it was ground anew ({})",
            words::way(bit.since_grind),
            words::count(bit.regrinds.into(), "time")
        )
    } else {
        String::new()
    };
    let mut out = format!("{} no. {}   {} cut{since}\n", bit.bit, bit.number, words::way(bit.cut));
    let read: Vec<String> = bit.diameters.iter().map(|(_, read)| plain(read.mm())).collect();
    if !read.is_empty() {
        out.push_str(&fold("  across, mm: ", &read.join(", then "), 4));
    }
    let by: Vec<String> = row.by_material.iter().map(|(m, way)| format!("{} in {m}", words::way(*way))).collect();
    if !by.is_empty() {
        out.push_str(&fold("  ", &by.join(", "), 4));
    }
    let stretch = |of: &Stretch| {
        let why = if of.reasons.is_empty() { String::new() } else { format!(" ({})", reasons(&of.reasons)) };
        let sheets = words::count(of.sheets.into(), "sheet");
        format!("{sheets}, {} not good{why}, {}", of.not_good, words::count(of.stops.into(), "stop"))
    };
    match row.near {
        Some(near) => {
            out.push_str(&fold(&format!("  until {}: ", words::way(near)), &stretch(&row.before), 4));
            out.push_str(&fold("  since, near its end: ", &stretch(&row.near_end), 4));
        }
        None => out.push_str(&fold("  so far: ", &stretch(&row.before), 4)),
    }
    if let Some(says) = &row.says {
        out.push_str(&fold("  near its end: ", says, 4));
    }
    if let Some(end) = &bit.scrapped {
        let by = end.by.as_ref().map_or_else(String::new, |by| format!(" by {}", by.who));
        out.push_str(&fold("  scrapped: ", &format!("{}{by}: {}", crate::outside::local_minute(end.at), end.why), 4));
    }
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
            reasons: vec![(Reason::TornFace, 2)],
            stops: 1,
            wear: vec![("c635".into(), Metres::of(8.4))],
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
            "not good for: torn face 2",
            "2 to 40 % not good",
            "620 s (600 s to 650 s",
            "wear a sheet: c635 8.4 m",
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
            reasons: vec![(Reason::Fuzzy, 3), (Reason::BurntEdge, 1)],
            stops: 0,
        };
        let text = bits(&[row]);
        for words in [
            "parts not good for: fuzzy edges 3, burnt edge 1",
            "c635   420.0 m cut in all of 600.0 m",
            "20.0 m in mdf, 100.0 m in pine-panel",
            "of 11 closed 2 not good",
        ] {
            assert!(text.contains(words), "{words}: {text}");
        }
    }
}
