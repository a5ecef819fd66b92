//! A drawing, lists and a record for tests.

use super::{at, spot};
use chargehand_types::check::{CutPath, Drawing, DrawnFastener};
use chargehand_types::event::Actor;
use chargehand_types::history::{OperationRecord, SheetRecord};
use chargehand_types::now::GradedPart;
use chargehand_types::quantity::{Length, Metres, Seconds};
use chargehand_types::queue::{CardList, CardRow, SheetList, SheetRow};
use chargehand_types::stage::{Grade, Role, Stage};
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
        }],
        bits: vec![("c635".into(), Metres::of(8.44))],
        stops: vec![],
        parts: vec![GradedPart { index: 0, name: "side".into(), grade: Grade::Good }],
        grade: Some(Grade::Good),
        notes: vec!["the left edge is a little fuzzy".into()],
        overrides: Vec::new(),
    }
}
