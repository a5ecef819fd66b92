//! The history of sheets summed up: by revision, and by bit.
//!
//! May live here: those sums. May not: what was changed in a revision, which the programs tell.

use super::fisher::{Outcomes, in_words};
use super::level::{Level, Share};
use super::median::{Median, median};
use super::scrap::scrap_rate;
use super::{Cut, Ground, time_factor};
use chargehand_types::history::{BitRow, Learnt, RevisionRow, SheetRecord};
use chargehand_types::id::{BitName, CardName, Revision};
use chargehand_types::quantity::Metres;
use chargehand_types::stage::{Grade, Reason, Stage};
use std::collections::BTreeMap;

/// Rows by revision, by card and number. `number` tells a revision's number; a sheet whose revision nobody numbers any
/// more is left out.
#[must_use]
pub fn revisions(
    sheets: &[SheetRecord],
    mut number: impl FnMut(&CardName, &Revision) -> Option<u32>,
) -> Vec<RevisionRow> {
    let mut groups: BTreeMap<(CardName, u32), Vec<&SheetRecord>> = BTreeMap::new();
    let mut numbers: BTreeMap<(&CardName, &Revision), Option<u32>> = BTreeMap::new();
    for sheet in sheets {
        let key = (&sheet.card, &sheet.revision);
        let known = *numbers.entry(key).or_insert_with(|| number(&sheet.card, &sheet.revision));
        if let Some(n) = known {
            groups.entry((sheet.card.clone(), n)).or_default().push(sheet);
        }
    }
    let mut rows: Vec<RevisionRow> = Vec::new();
    for ((card, number), sheets) in groups {
        let Some(first) = sheets.first() else { continue };
        let mut row = row(&sheets, first, number);
        let before = rows.last().filter(|r| r.card == card);
        row.against_before = before.map(|b| in_words(outcomes(b), outcomes(&row)));
        rows.push(row);
    }
    rows
}

fn row(sheets: &[&SheetRecord], first: &SheetRecord, number: u32) -> RevisionRow {
    let closed: Vec<Grade> = sheets.iter().filter(|s| s.stage == Stage::Closed).filter_map(|s| s.grade).collect();
    let counted = graded(closed.iter().copied());
    let [_, rework, scrap] = counted;
    let all = u32::try_from(closed.len()).unwrap_or(u32::MAX);
    let cuts: Vec<Cut> = sheets
        .iter()
        .flat_map(|s| s.operations.iter())
        .filter_map(|o| Some(Cut { predicted: o.predicted, real: o.real? }))
        .collect();
    let factor = time_factor(&cuts, Level::USUAL);
    let whole: Vec<f64> = sheets.iter().filter_map(|s| whole_sheet(s)).collect();
    RevisionRow {
        card: first.card.clone(),
        number,
        revision: first.revision.clone(),
        sheets: counted,
        parts: graded(sheets.iter().flat_map(|s| s.parts.iter().map(|p| p.grade))),
        reasons: reasons(sheets.iter().copied()),
        stops: sheets.iter().map(|s| count(s.stops.len())).sum(),
        wear: wear(sheets),
        seconds: median(&whole, Level::USUAL).map(|m| learnt(&m, whole.len())),
        time_factor: (factor.rests.on == Ground::History).then(|| Learnt {
            value: factor.factor,
            interval: factor.interval.map(|i| [i.low, i.high]),
            rows: count(factor.rests.rows),
        }),
        not_good: scrap_rate(rework.saturating_add(scrap), all, Level::USUAL).interval.map(Share::value),
        against_before: None,
        changes: Vec::new(),
    }
}

/// Metres that each bit cut on a sheet, in the middle of those that were closed.
fn wear(sheets: &[&SheetRecord]) -> Vec<(BitName, Metres)> {
    let mut ways: BTreeMap<&BitName, Vec<f64>> = BTreeMap::new();
    for (bit, way) in sheets.iter().filter(|s| s.stage == Stage::Closed).flat_map(|s| &s.bits) {
        ways.entry(bit).or_default().push(way.value());
    }
    let middle = |all: Vec<f64>| median(&all, Level::USUAL).map(|m| Metres::of(m.value));
    ways.into_iter().filter_map(|(bit, all)| Some((bit.clone(), middle(all)?))).collect()
}

/// Seconds in motion of a sheet that was closed, every operation of it to its end.
fn whole_sheet(sheet: &SheetRecord) -> Option<f64> {
    if sheet.stage != Stage::Closed || sheet.operations.is_empty() {
        return None;
    }
    sheet.operations.iter().map(|o| o.real.map(|r| r.value())).sum()
}

fn learnt(m: &Median, rows: usize) -> Learnt {
    Learnt { value: m.value, interval: m.interval.map(|i| [i.low, i.high]), rows: count(rows) }
}

fn outcomes(row: &RevisionRow) -> Outcomes {
    let [good, rework, scrap] = row.sheets;
    Outcomes { good, bad: rework.saturating_add(scrap) }
}

fn graded(grades: impl Iterator<Item = Grade>) -> [u32; 3] {
    let [mut good, mut rework, mut scrap] = [0_u32; 3];
    for grade in grades {
        let counter = match grade {
            Grade::Good => &mut good,
            Grade::Rework => &mut rework,
            Grade::Scrap => &mut scrap,
        };
        *counter = counter.saturating_add(1);
    }
    [good, rework, scrap]
}

/// Why parts of some sheets were not good, and how many: the most first, equals in the order screens list them.
#[must_use]
pub fn reasons<'a>(sheets: impl Iterator<Item = &'a SheetRecord>) -> Vec<(Reason, u32)> {
    let mut counted: BTreeMap<Reason, u32> = BTreeMap::new();
    for reason in sheets.flat_map(|s| &s.parts).filter(|p| p.grade != Grade::Good).filter_map(|p| p.reason) {
        let counter = counted.entry(reason).or_default();
        *counter = counter.saturating_add(1);
    }
    let mut rows: Vec<_> = counted.into_iter().collect();
    rows.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    rows
}

/// Why parts of some sheets were not good: how many to rework and how many scrap of each, the most first.
#[must_use]
pub fn bad_parts(sheets: &[SheetRecord]) -> Vec<(Option<Reason>, [u32; 2])> {
    let mut counted: BTreeMap<Option<Reason>, [u32; 2]> = BTreeMap::new();
    for part in sheets.iter().flat_map(|s| &s.parts) {
        let nth = match part.grade {
            Grade::Good => continue,
            Grade::Rework => 0,
            Grade::Scrap => 1,
        };
        if let Some(counter) = counted.entry(part.reason).or_default().get_mut(nth) {
            *counter = counter.saturating_add(1);
        }
    }
    let mut rows: Vec<_> = counted.into_iter().collect();
    rows.sort_by_key(|(_, [rework, scrap])| std::cmp::Reverse(rework.saturating_add(*scrap)));
    rows
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

/// Rows by bit. `material` tells what a sheet was of; life and way ever cut are the shop's to fill in.
#[must_use]
pub fn bits(sheets: &[SheetRecord], mut material: impl FnMut(&SheetRecord) -> Option<String>) -> Vec<BitRow> {
    let mut rows: BTreeMap<_, (BitRow, BTreeMap<String, Metres>)> = BTreeMap::new();
    let mut cut_on: BTreeMap<&BitName, Vec<&SheetRecord>> = BTreeMap::new();
    for sheet in sheets {
        if sheet.bits.is_empty() {
            continue;
        }
        let of = material(sheet).unwrap_or_else(|| "unknown".to_owned());
        for (bit, way) in &sheet.bits {
            cut_on.entry(bit).or_default().push(sheet);
            let (row, by_material) = rows.entry(bit.clone()).or_insert_with(|| {
                let row = BitRow {
                    bit: bit.clone(),
                    cut: Metres::ZERO,
                    by_material: Vec::new(),
                    life: None,
                    cut_ever: Metres::ZERO,
                    sheets: 0,
                    not_good: [0, 0],
                    reasons: Vec::new(),
                    stops: 0,
                };
                (row, BTreeMap::new())
            });
            row.cut += *way;
            *by_material.entry(of.clone()).or_insert(Metres::ZERO) += *way;
            row.sheets = row.sheets.saturating_add(1);
            row.stops = row.stops.saturating_add(count(sheet.stops.len()));
            if let Some(grade) = sheet.grade.filter(|_| sheet.stage == Stage::Closed) {
                let [closed, not_good] = &mut row.not_good;
                *closed = closed.saturating_add(1);
                *not_good = not_good.saturating_add(u32::from(grade != Grade::Good));
            }
        }
    }
    rows.into_values()
        .map(|(mut row, by_material)| {
            row.by_material = by_material.into_iter().collect();
            row.reasons = reasons(cut_on.remove(&row.bit).unwrap_or_default().into_iter());
            row
        })
        .collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use chargehand_types::history::OperationRecord;
    use chargehand_types::now::GradedPart;
    use chargehand_types::quantity::Seconds;

    pub(in crate::learn) fn sheet(revision: &str, grade: Grade, real: f64) -> SheetRecord {
        SheetRecord {
            sheet: "B1-1".into(),
            batch: "B1".into(),
            card: "tray".into(),
            revision: revision.into(),
            stage: Stage::Closed,
            begun: None,
            closed: None,
            operators: Vec::new(),
            thickness: Vec::new(),
            fasteners: Vec::new(),
            operations: vec![OperationRecord {
                name: "rim".into(),
                bit: Some("u6".into()),
                predicted: Seconds::of(100.0),
                real: Some(Seconds::of(real)),
                held: Seconds::ZERO,
                cut: Metres::of(2.0),
                number: None,
                waiting: Seconds::ZERO,
                waiting_predicted: None,
            }],
            bits: vec![("u6".into(), Metres::of(2.0))],
            stops: Vec::new(),
            parts: Vec::new(),
            grade: Some(grade),
            touched_again: Vec::new(),
            notes: Vec::new(),
            overrides: Vec::new(),
            stopped_in: Vec::new(),
            spent: Vec::new(),
            corrections: Vec::new(),
            lot: None,
            re_entries: Vec::new(),
            tabs: None,
            left: None,
            cost: None,
            joints: Vec::new(),
        }
    }

    fn numbered(_: &CardName, revision: &Revision) -> Option<u32> {
        revision.0.strip_prefix('r')?.parse().ok()
    }

    fn history() -> Vec<SheetRecord> {
        let mut all = Vec::new();
        for n in 0..10 {
            all.push(sheet("r1", if n < 5 { Grade::Scrap } else { Grade::Good }, 110.0 + f64::from(n)));
            all.push(sheet("r2", Grade::Good, 90.0));
        }
        all
    }

    #[test]
    fn revisions_stand_side_by_side() {
        let rows = revisions(&history(), numbered);
        let [one, two] = rows.as_slice() else { panic!("two revisions: {rows:?}") };
        assert_eq!((one.number, one.sheets, two.sheets), (1, [5, 0, 5], [10, 0, 0]));
        assert_eq!(one.against_before, None);
        // scipy 1.17.1: fisher_exact([[5, 5], [10, 0]]) = 0.0325
        assert!(two.against_before.as_ref().unwrap().contains("probably better"), "{two:?}");
        assert_eq!(two.wear, [("u6".into(), Metres::of(2.0))]);
        assert!((one.seconds.unwrap().value - 114.5).abs() < 1.0e-9);
        assert!((one.time_factor.unwrap().value - 1.145).abs() < 1.0e-9);
        // scipy 1.17.1: binomtest(5, 10).proportion_ci(method="wilson")
        assert!((one.not_good[0] - 0.236_593_090_512_564).abs() < 1.0e-12);
    }

    #[test]
    fn reasons_are_counted_the_most_first() {
        let part = |index, grade, reason| GradedPart { index, name: "side".into(), grade, reason };
        let mut all = history();
        let (torn, fuzzy) = (Some(Reason::TornFace), Some(Reason::Fuzzy));
        // of revision 1; a reason left over from an earlier grade of a good part does not count
        all[0].parts = vec![part(0, Grade::Scrap, fuzzy), part(1, Grade::Rework, torn), part(2, Grade::Good, fuzzy)];
        all[2].parts = vec![part(0, Grade::Scrap, torn), part(1, Grade::Scrap, None)];
        let rows = revisions(&all, numbered);
        assert_eq!(rows[0].reasons, [(Reason::TornFace, 2), (Reason::Fuzzy, 1)]);
        assert!(rows[1].reasons.is_empty());
        let told = [(torn, [1, 1]), (fuzzy, [0, 1]), (None, [0, 1])];
        let mut found = bad_parts(&all);
        found[1..].sort_by_key(|(reason, _)| reason.is_none());
        assert_eq!(found, told);
        assert_eq!(bits(&all, |_| None)[0].reasons, rows[0].reasons, "one bit cut them all");
    }

    #[test]
    fn what_has_no_number_is_left_out() {
        assert!(revisions(&[sheet("lost", Grade::Good, 90.0)], numbered).is_empty());
        assert!(revisions(&[], numbered).is_empty());
    }

    #[test]
    fn an_unfinished_sheet_is_no_whole_one() {
        let mut open = sheet("r1", Grade::Good, 90.0);
        open.stage = Stage::Cutting;
        open.operations[0].real = None;
        let rows = revisions(&[open], numbered);
        assert_eq!((rows[0].sheets, rows[0].seconds, rows[0].time_factor), ([0; 3], None, None));
        assert_eq!(rows[0].not_good, [0.0, 1.0]);
    }

    #[test]
    fn bits_add_up_by_material() {
        let mut all = history();
        all[3].bits.push(("v90".into(), Metres::of(0.5)));
        let mut flip = false;
        let rows = bits(&all, |_| {
            flip = !flip;
            flip.then(|| "mdf".to_owned())
        });
        let [u6, v90] = rows.as_slice() else { panic!("two bits") };
        assert!((u6.cut.value() - 40.0).abs() < 1.0e-9);
        let told: Vec<(&str, f64)> = u6.by_material.iter().map(|(m, way)| (m.as_str(), way.value())).collect();
        assert_eq!(told, [("mdf", 20.0), ("unknown", 20.0)]);
        assert_eq!((u6.sheets, u6.not_good, v90.sheets), (20, [20, 5], 1));
    }
}
