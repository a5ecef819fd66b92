//! What came of each physical bit: its way by material, and what happened near the end of its life beside what happened
//! before.
//!
//! May live here: those sums. May not: where the rows come from.

use super::fisher::{Outcomes, in_words};
use super::tally::reasons;
use chargehand_types::bits::{NumberedBit, PhysicalRow, Stretch};
use chargehand_types::history::SheetRecord;
use chargehand_types::id::BitNumber;
use chargehand_types::quantity::Metres;
use chargehand_types::stage::Stage;
use std::collections::BTreeMap;

/// The last fifth of a life is near its end (common practice, no source).
const NEAR: f64 = 0.8;

/// One row a bit. `sheets` are all sheets of the shop, oldest first; `life` is how far a bit of its kind should last,
/// `material` what a sheet was of.
#[must_use]
pub fn physical<'a>(
    bits: impl Iterator<Item = &'a NumberedBit>,
    sheets: &[SheetRecord],
    life: impl Fn(&NumberedBit) -> Option<Metres>,
    mut material: impl FnMut(&SheetRecord) -> Option<String>,
) -> Vec<PhysicalRow> {
    let mut of: BTreeMap<BitNumber, Vec<(&SheetRecord, Metres)>> = BTreeMap::new();
    for sheet in sheets {
        for operation in &sheet.operations {
            let Some(number) = operation.number else { continue };
            let own = of.entry(number).or_default();
            match own.last_mut().filter(|(last, _)| last.sheet == sheet.sheet) {
                Some((_, way)) => *way += operation.cut,
                None => own.push((sheet, operation.cut)),
            }
        }
    }
    bits.map(|bit| row(bit, of.get(&bit.number).map_or(&[], Vec::as_slice), life(bit), &mut material)).collect()
}

fn row(
    bit: &NumberedBit,
    cut: &[(&SheetRecord, Metres)],
    life: Option<Metres>,
    material: &mut impl FnMut(&SheetRecord) -> Option<String>,
) -> PhysicalRow {
    // how long it lasted is known of a bit that is scrapped; of others it is what they should
    let whole = if bit.scrapped.is_some() { Some(bit.since_grind) } else { life };
    let near = whole.map(|whole| Metres::of(whole.value() * NEAR)).filter(|near| *near > Metres::ZERO);
    let mut by_material: BTreeMap<String, Metres> = BTreeMap::new();
    // backwards from what it has cut since it was new or ground anew
    let mut stands = Some(bit.since_grind);
    let (mut early, mut late) = (Vec::new(), Vec::new());
    for (sheet, way) in cut.iter().rev() {
        let of = material(sheet).unwrap_or_else(|| "unknown".to_owned());
        *by_material.entry(of).or_insert(Metres::ZERO) += *way;
        if stands.zip(near).is_some_and(|(stands, near)| stands > near) {
            late.push(*sheet)
        } else {
            early.push(*sheet)
        }
        // what was cut before the last grinding belongs to an earlier edge
        stands = stands.map(|stands| stands - *way).filter(|left| *left > Metres::ZERO);
    }
    let (before, near_end) = (stretch(&early), stretch(&late));
    let says = (before.sheets > 0 && near_end.sheets > 0).then(|| in_words(outcomes(&before), outcomes(&near_end)));
    PhysicalRow { bit: bit.clone(), by_material: by_material.into_iter().collect(), before, near_end, near, says }
}

fn stretch(sheets: &[&SheetRecord]) -> Stretch {
    let mut sum = Stretch { reasons: reasons(sheets.iter().copied()), ..Stretch::default() };
    for sheet in sheets.iter().filter(|sheet| sheet.stage == Stage::Closed) {
        if let Some(grade) = sheet.grade {
            sum.count(grade, u32::try_from(sheet.stops.len()).unwrap_or(u32::MAX));
        }
    }
    sum
}

fn outcomes(of: &Stretch) -> Outcomes {
    Outcomes { good: of.sheets.saturating_sub(of.not_good), bad: of.not_good }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learn::tally::tests::sheet;
    use chargehand_types::bits::{BitFigures, Scrapped};
    use chargehand_types::stage::{Grade, Reason};
    use chrono::DateTime;

    fn bit(number: u32, since_grind: f64, scrapped: bool) -> NumberedBit {
        let at = DateTime::from_timestamp(1_780_000_000, 0).unwrap();
        NumberedBit {
            number: BitNumber(number),
            bit: "u6".into(),
            began: at,
            by: None,
            figures: BitFigures::default(),
            diameters: Vec::new(),
            regrinds: 0,
            cut: Metres::of(since_grind),
            since_grind: Metres::of(since_grind),
            last: None,
            scrapped: scrapped.then(|| Scrapped { at, by: None, why: "dull".to_owned() }),
        }
    }

    /// Twenty-five sheets of 2 m each by bit 1; the last five came out bad.
    fn sheets() -> Vec<SheetRecord> {
        let mut all: Vec<SheetRecord> = (0..25).map(|_| sheet("r1", Grade::Good, 100.0)).collect();
        for (nth, sheet) in all.iter_mut().enumerate() {
            sheet.sheet = format!("B1-{nth}").as_str().into();
            sheet.operations[0].number = Some(BitNumber(1));
            if nth >= 20 {
                sheet.grade = Some(Grade::Scrap);
                sheet.parts = vec![chargehand_types::now::GradedPart {
                    index: 0,
                    name: "side".into(),
                    grade: Grade::Scrap,
                    reason: Some(Reason::Fuzzy),
                }];
            }
        }
        all
    }

    #[test]
    fn the_last_fifth_stands_beside_the_rest() {
        let (sheets, bits) = (sheets(), [bit(1, 50.0, true), bit(2, 0.0, false)]);
        let rows = physical(bits.iter(), &sheets, |_| None, |_| Some("mdf".to_owned()));
        let [one, two] = rows.as_slice() else { panic!("two bits") };
        assert_eq!(one.near, Some(Metres::of(40.0)));
        assert_eq!((one.before.sheets, one.before.not_good), (20, 0));
        assert_eq!((one.near_end.sheets, one.near_end.not_good), (5, 5));
        assert_eq!(one.near_end.reasons, [(Reason::Fuzzy, 5)]);
        // worked by hand: of all ways to choose 5 bad sheets of 25 one is as uneven, 1 in 53,130
        assert!(one.says.as_ref().unwrap().contains("worse, as good as certainly"), "{:?}", one.says);
        assert_eq!(one.by_material, [("mdf".to_owned(), Metres::of(50.0))]);
        assert_eq!((two.near, two.before.sheets, &two.says), (None, 0, &None));
    }

    #[test]
    fn an_edge_that_was_ground_away_has_no_end_to_be_near() {
        // 4 m since it was ground anew, 24 m should last: nothing of it is near the end
        let (sheets, bits) = (sheets(), [bit(1, 4.0, false)]);
        let rows = physical(bits.iter(), &sheets, |_| Some(Metres::of(24.0)), |_| None);
        assert_eq!((rows[0].before.sheets, rows[0].near_end.sheets), (25, 0));
    }
}
