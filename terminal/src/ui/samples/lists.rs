//! A drawing, lists and a record for tests.

use super::{at, spot};
use crate::ui::past::Records;
use chargehand_types::check::{CutPath, Drawing, DrawnFastener};
use chargehand_types::event::Actor;
use chargehand_types::history::{BitRow, DaySum, Figures, Learnt, LostTo, OperationRecord, RevisionRow, SheetRecord};
use chargehand_types::now::GradedPart;
use chargehand_types::quantity::{Length, Metres, Seconds};
use chargehand_types::queue::{CardList, CardRow, Look, SheetList, SheetRow, Verdict};
use chargehand_types::stage::{Grade, Reason, Role, Stage};
use chrono::DateTime;

/// The sheet from above: two slots cut by the first operation, an outline by the second.
pub fn drawing() -> Drawing {
    let path =
        |operation, lines, through, points: &[[f32; 2]]| CutPath { operation, lines, through, points: points.to_vec() };
    let fastener = |number, x, y| DrawnFastener {
        number,
        at: spot(x, y),
        head: Length::whole_mm(8),
        title: "4.0 x 30 countersunk wood screw".into(),
    };
    Drawing {
        size: [Length::whole_mm(610), Length::whole_mm(1220)],
        corner: spot(0, 0),
        paths: vec![
            path(0, [10, 60], false, &[[150.0, 300.0], [450.0, 300.0], [450.0, 318.0], [150.0, 318.0], [150.0, 300.0]]),
            path(1, [100, 200], true, &[[60.0, 100.0], [550.0, 100.0], [550.0, 1120.0], [60.0, 1120.0], [60.0, 100.0]]),
        ],
        fasteners: vec![fastener(1, 20, 20), fastener(2, 590, 20), fastener(3, 20, 1200), fastener(4, 590, 1200)],
    }
}

pub fn sheets() -> SheetList {
    let row = |id: &str, card: &str, stage, grade| SheetRow {
        id: id.into(),
        batch: "B1".into(),
        card: card.into(),
        stage,
        operation: Some("outlines".into()),
        due: DateTime::from_timestamp(1_772_900_000, 0),
        grade,
        predicted: Seconds::of(1860.0),
    };
    SheetList {
        schema: 1,
        sheets: vec![
            row("B1-1", "plant-stand-sides", Stage::Cutting, None),
            row("B1-2", "plant-stand-sides", Stage::Queued, None),
            row("B2-1", "seed-tray", Stage::Closed, Some(Grade::Rework)),
        ],
    }
}

pub fn cards() -> CardList {
    let row = |name: &str, title: &str, findings| CardRow {
        name: name.into(),
        title: title.into(),
        revision: "3f2a9c41be".into(),
        number: 2,
        added: at(),
        findings,
        seconds: Seconds::of(1860.0),
        parts: 4,
    };
    CardList {
        schema: 1,
        cards: vec![
            row("plant-stand-sides", "Plant stand, pair of sides", [0, 1, 2]),
            row("seed-tray", "Seed tray with six wells", [0, 0, 0]),
        ],
    }
}

pub fn record() -> SheetRecord {
    SheetRecord {
        sheet: "B1-1".into(),
        batch: "B1".into(),
        card: "plant-stand-sides".into(),
        revision: "3f2a9c41be0011".into(),
        stage: Stage::Closed,
        begun: Some(at()),
        closed: Some(at()),
        operators: vec![Actor { who: "Ada".into(), role: Role::Owner }],
        thickness: vec![Length::whole_mm(18)],
        fasteners: vec![spot(20, 20)],
        operations: vec![OperationRecord {
            name: "slots".into(),
            bit: Some("c635".into()),
            predicted: Seconds::of(700.0),
            real: Some(Seconds::of(722.0)),
            held: Seconds::of(14.0),
            cut: Metres::of(8.44),
            number: None,
            waiting: Seconds::of(95.0),
            waiting_predicted: None,
        }],
        bits: vec![("c635".into(), Metres::of(8.44))],
        stops: vec![],
        parts: vec![GradedPart { index: 0, name: "side".into(), grade: Grade::Good, reason: None }],
        grade: Some(Grade::Good),
        touched_again: Vec::new(),
        notes: vec!["the left edge is a little fuzzy".into()],
        overrides: Vec::new(),
        stopped_in: Vec::new(),
        spent: vec![(Stage::Cutting, Seconds::of(736.0)), (Stage::Checking, Seconds::of(60.0))],
        corrections: Vec::new(),
        lot: None,
        re_entries: Vec::new(),
        tabs: None,
        left: None,
        cost: None,
        joints: vec![],
    }
}

/// Sheets of one card in two revisions, one of another; bits, and two days.
pub fn records() -> Records {
    let sheet = |id: &str, card: &str, real, grade| {
        let mut record = record();
        record.sheet = id.into();
        record.card = card.into();
        record.grade = Some(grade);
        for operation in &mut record.operations {
            operation.real = Some(Seconds::of(real));
        }
        record
    };
    let revision = |card: &str, number, sheets, not_good, against: Option<&str>| RevisionRow {
        card: card.into(),
        number,
        revision: format!("{number}f2a9c41be0011").as_str().into(),
        sheets,
        parts: [12, 1, 0],
        reasons: vec![(Reason::TornFace, 1)],
        stops: 1,
        wear: vec![("c635".into(), Metres::of(8.4))],
        seconds: Some(Learnt { value: 1240.0, interval: None, rows: 3 }),
        time_factor: Some(Learnt { value: 1.08, interval: None, rows: 3 }),
        not_good,
        against_before: against.map(Into::into),
        changes: Vec::new(),
    };
    let bit = |name: &str, life: Option<f64>, ever| BitRow {
        bit: name.into(),
        cut: Metres::of(120.0),
        by_material: vec![("larch-board".into(), Metres::of(100.0)), ("plywood".into(), Metres::of(20.0))],
        life: life.map(Metres::of),
        cut_ever: Metres::of(ever),
        sheets: 12,
        not_good: [11, 2],
        reasons: vec![(Reason::TornFace, 2)],
        stops: 1,
    };
    let bad = |mut record: SheetRecord, parts: &[(Grade, Option<Reason>)]| {
        record.parts.extend((1..).zip(parts).map(|(index, (grade, reason))| GradedPart {
            index,
            name: "side".into(),
            grade: *grade,
            reason: *reason,
        }));
        record
    };
    let day = |date: u32, sheets, production_min, lost: &[(LostTo, f64)], availability| DaySum {
        date: chrono::NaiveDate::from_ymd_opt(2026, 2, date).unwrap(),
        sheets,
        parts: [4, 1, 0],
        planned_busy_min: 240.0,
        production_min,
        held_min: 2.0,
        stops: 1,
        figures: Figures { availability: Some(availability), effectiveness: Some(0.97), quality: Some(0.5), oee: None },
        lost: lost.to_vec(),
    };
    let (torn, tight) = (Some(Reason::TornFace), Some(Reason::SlotTight));
    Records {
        sheets: vec![
            sheet("B1-1", "plant-stand-sides", 722.0, Grade::Good),
            sheet("B1-2", "plant-stand-sides", 790.0, Grade::Rework),
            bad(
                sheet("B1-3", "plant-stand-sides", 655.0, Grade::Scrap),
                &[(Grade::Rework, torn), (Grade::Scrap, torn), (Grade::Rework, tight), (Grade::Scrap, None)],
            ),
            bad(sheet("B2-1", "seed-tray", 340.0, Grade::Good), &[(Grade::Rework, torn)]),
        ],
        revisions: vec![
            revision("plant-stand-sides", 1, [5, 4, 1], [0.19, 0.81], None),
            revision(
                "plant-stand-sides",
                2,
                [9, 1, 0],
                [0.02, 0.40],
                Some("1 of 10 not good, before 5 of 10: that may be chance"),
            ),
            revision("seed-tray", 1, [1, 0, 0], [0.0, 0.98], None),
        ],
        bits: vec![bit("c635", Some(600.0), 510.0), bit("v90", None, 12.0)],
        days: vec![
            day(
                24,
                [1, 0, 0],
                96.0,
                &[(LostTo::NothingOn, 98.0), (LostTo::Securing, 31.0), (LostTo::Tooling, 15.0)],
                0.4,
            ),
            day(
                25,
                [1, 1, 0],
                120.0,
                &[
                    (LostTo::Securing, 44.0),
                    (LostTo::TakingOff, 28.0),
                    (LostTo::NothingOn, 21.0),
                    (LostTo::Tooling, 14.0),
                    (LostTo::Starting, 7.0),
                    (LostTo::Stopped, 4.0),
                    (LostTo::Held, 2.0),
                ],
                0.5,
            ),
        ],
    }
}

/// One look of each verdict.
pub fn looks() -> Vec<Look> {
    let look = |what: &str, verdict, text: &str| Look { what: what.into(), verdict, text: text.into() };
    vec![
        look("store", Verdict::Fine, "41 events, all whole."),
        look("disk", Verdict::Word, "1.2 GB are free; a year of sheets needs about 0.4 GB."),
        look("clock", Verdict::Wrong, "It stands in the past of the last event. Set it, then start again."),
    ]
}
