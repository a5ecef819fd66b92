//! A scripted shift: a card of plant-stand sides, two sheets, the first cut good, the second stopped in the cut.

use crate::ledger::draft::Draft;
use chargehand_types::bits::BitFigures;
use chargehand_types::brought::BroughtSheet;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::{ListForm, ListKind, StepAnswer};
use chargehand_types::event::{Actor, StopRecord, StoredProgram, What};
use chargehand_types::finding::Code;
use chargehand_types::id::{BatchId, BitName, BitNumber, CardName, Revision, Seq, SheetId, StageVersion};
use chargehand_types::quantity::{Length, Metres, Seconds, Spot, Tick};
use chargehand_types::record::Left;
use chargehand_types::stage::{Decision, Grade, HeldBy, Reason, Role, Stage, StopCause};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::json;

/// The first moment of the shift.
pub fn morning() -> DateTime<Utc> {
    DateTime::from_timestamp(1_780_000_000, 0).unwrap()
}

/// The helper.
pub fn helper() -> Actor {
    Actor { who: "Wren".into(), role: Role::Helper }
}

/// The owner.
pub fn owner() -> Actor {
    Actor { who: "Moss".into(), role: Role::Owner }
}

pub const CARD: &str = "plant-stand-side";
pub const REVISION: &str = "a1b2c3";

/// Appends of the shift, in order; each list goes into the journal whole.
pub fn appends() -> Vec<Vec<Draft>> {
    let mut appends = Script::default();
    appends.opening();
    appends.first_sheet();
    appends.second_sheet();
    appends.done
}

/// Every draft of the shift.
pub fn drafts() -> Vec<Draft> {
    appends().into_iter().flatten().collect()
}

/// What is written down beside the cut, after the shift: bits by number, corrections, lots, rests, upkeep, old sheets.
pub fn books() -> Vec<Draft> {
    let sheet = |what| Draft::new(evening(), Tick(0), what).on("B1-1".into()).by(owner());
    let shop = |what| Draft::new(evening(), Tick(0), what).by(owner());
    let noted = drafts().iter().position(|d| matches!(d.what, What::SheetNoted { .. })).unwrap();
    let data = serde_json::to_value(What::SheetNoted { text: "wet board".into() }).unwrap();
    let number = BitNumber(1);
    let figures = BitFigures { diameter: Length::from_mm(6.31).ok(), ..BitFigures::default() };
    let left = Left { at: Spot::default(), size: [Length::whole_mm(300), Length::whole_mm(200)] };
    let row = BroughtSheet {
        card: CARD.into(),
        batch: None,
        closed: morning() - TimeDelta::days(400),
        by: Some("Moss".into()),
        thickness: None,
        bit: Some("c635".into()),
        predicted: None,
        real: Some(Seconds::of(900.0)),
        cut: Some(Metres::of(8.0)),
        parts: [3, 1, 0],
        grade: Grade::Rework,
        reason: Some(Reason::Fuzzy),
        lot: None,
        note: None,
    };
    vec![
        shop(What::BitBegan { number, bit: "c635".into(), figures, used: Metres::of(40.0) }),
        sheet(What::BitFitted { bit: "c635".into(), diameter: Length::from_mm(6.3).ok(), number: Some(number) }),
        shop(What::BitMeasured { number, figures, reground: true }),
        sheet(What::SheetLot { lot: "P-2611".into() }),
        sheet(What::SheetRemains { tabs: 8, left: Some(left) }),
        sheet(What::RecordCorrected { seq: Seq(noted as u64 + 1), data, note: "it was wet".into() }),
        shop(What::UpkeepDone { name: "collet".into() }),
        sheet(What::LeftGone { why: "jigs".into() }),
        shop(What::BitScrapped { number, why: "chipped".into() }),
        shop(What::SheetBrought { sheet: "old-0011223344ff".into(), row: Box::new(row) }),
    ]
}

fn evening() -> DateTime<Utc> {
    morning() + TimeDelta::hours(12)
}

#[derive(Default)]
struct Script {
    done: Vec<Vec<Draft>>,
    version: u64,
    minutes: i64,
}

impl Script {
    fn draft(&mut self, what: What) -> Draft {
        self.minutes += 1;
        let at = morning() + TimeDelta::minutes(self.minutes);
        Draft::new(at, Tick(self.minutes.unsigned_abs() * 60_000_000), what)
    }

    fn say(&mut self, what: What) {
        let draft = self.draft(what);
        self.done.push(vec![draft]);
    }

    fn say_on(&mut self, sheet: &str, actor: &Actor, what: What) {
        let draft = self.draft(what).on(sheet.into()).by(actor.clone());
        self.done.push(vec![draft]);
    }

    fn stage(&mut self, from: Stage, to: Stage, operation: u32, held: Option<HeldBy>) -> What {
        self.version += 1;
        let (version, floor) = (StageVersion(self.version), json!({"stage": to.word(), "n": self.version}));
        What::SheetStage { from, to, version, operation, held, stopped: None, floor }
    }

    fn opening(&mut self) {
        self.say(What::DaemonStarted { version: "0.1.0".into() });
        self.say(What::LinkUp { note: "ready".into() });
        self.say(What::PersonCame { who: "Moss".into(), role: Role::Owner });
        self.say(What::PersonCame { who: "Wren".into(), role: Role::Helper });
        let program = StoredProgram { path: "slots.nc".into(), sha256: "00".repeat(32), bytes: 17 };
        let card = self.draft(What::CardAdded {
            name: CARD.into(),
            revision: REVISION.into(),
            text: "name = \"plant-stand-side\"\n".repeat(1_500),
            programs: vec![program],
        });
        self.done.push(vec![card.from_command("c-1".into(), Some("bench".into()))]);
        self.say(What::FindingSigned {
            card: CARD.into(),
            revision: REVISION.into(),
            code: Code::BitDue,
            fingerprint: "f-1".into(),
        });
        let batch = self.draft(What::BatchAdded {
            batch: BatchId::from("B1"),
            card: CardName::from(CARD),
            revision: Revision::from(REVISION),
            sheets: vec!["B1-1".into(), "B1-2".into()],
            due: Some(morning() + TimeDelta::days(3)),
            weight: 1.5,
            predicted: vec![Seconds::of(612.3), Seconds::of(0.1 + 0.2)],
            order: None,
        });
        self.done.push(vec![batch.from_command("c-2".into(), Some("bench".into()))]);
        self.say(What::MachineHomed);
    }

    fn first_sheet(&mut self) {
        let sheet = "B1-1";
        let taken = self.stage(Stage::Queued, Stage::Securing, 0, None);
        self.say_on(sheet, &helper(), taken);
        self.secure(sheet);
        self.cut(sheet, 0, "slots", 3.25);
        self.cut(sheet, 1, "outlines", 11.0 / 3.0);
        let off = self.stage(Stage::Cutting, Stage::TakingOff, 1, None);
        self.say_on(sheet, &helper(), off);
        self.say_on(
            sheet,
            &helper(),
            What::SheetSigned { list: ListKind::TakingOff, form: ListForm::Full, operation: None },
        );
        let checking = self.stage(Stage::TakingOff, Stage::Checking, 1, None);
        self.say_on(sheet, &helper(), checking);
        for (index, grade) in [(1, Grade::Good), (0, Grade::Rework), (0, Grade::Good)] {
            let bad = grade != Grade::Good;
            self.say_on(
                sheet,
                &owner(),
                What::PartChecked {
                    index,
                    name: "side".into(),
                    grade,
                    reason: bad.then_some(Reason::TabScar),
                    note: bad.then(|| "sanded since".into()),
                },
            );
        }
        self.say_on(sheet, &owner(), What::SheetNoted { text: "dry board".into() });
        let closed = self.draft(What::SheetClosed { grade: Grade::Good, good: 2, of: 2 });
        let closed = closed.on(sheet.into()).from_command("c-3".into(), Some("bench".into()));
        let stage = self.stage(Stage::Checking, Stage::Closed, 1, None);
        let stage = self.draft(stage).on(sheet.into()).from_command("c-3".into(), Some("bench".into()));
        self.done.push(vec![closed, stage]);
    }

    fn secure(&mut self, sheet: &str) {
        let readings = [18.0, 18.1, 17.95, 18.05].map(|mm| Length::from_mm(mm).unwrap());
        self.say_on(
            sheet,
            &helper(),
            What::StepAnswered {
                list: ListKind::Securing,
                form: ListForm::Full,
                step: "thickness".into(),
                answer: StepAnswer::Measured { values: readings.to_vec() },
                expected: Some(18.0),
                taken: true,
            },
        );
        self.say_on(sheet, &helper(), What::SheetMeasured { thickness: readings.to_vec() });
        let at = Spot { x: Length::whole_mm(12), y: Length::whole_mm(300) };
        self.say_on(sheet, &helper(), What::SheetFastened { places: vec![at], holes: vec![at] });
        self.say_on(
            sheet,
            &helper(),
            What::SheetSigned { list: ListKind::Securing, form: ListForm::Full, operation: None },
        );
    }

    fn begin(&mut self, sheet: &str, operation: u32, name: &str) {
        let tooling = self.stage(Stage::Securing, Stage::Tooling, operation, None);
        self.say_on(sheet, &helper(), tooling);
        let bit = What::BitFitted { bit: "c635".into(), diameter: Length::from_mm(6.35).ok(), number: None };
        self.say_on(sheet, &helper(), bit);
        let cutting = self.stage(Stage::Ready, Stage::Cutting, operation, None);
        let start = What::OperationStarted { operation: name.into(), predicted: Seconds::of(612.3), from_line: 1 };
        let together = [cutting, start].map(|what| {
            let draft = self.draft(what).on(sheet.into()).by(helper());
            draft.from_command(format!("go-{sheet}-{name}").into(), Some("bench".into()))
        });
        self.done.push(together.into());
    }

    fn cut(&mut self, sheet: &str, operation: u32, name: &str, metres: f64) {
        self.begin(sheet, operation, name);
        let held = self.stage(Stage::Cutting, Stage::Held, operation, Some(HeldBy::Person));
        self.say_on(sheet, &owner(), held);
        let on = self.stage(Stage::Held, Stage::Cutting, operation, None);
        self.say_on(sheet, &owner(), on);
        self.say_on(
            sheet,
            &owner(),
            What::OperationFinished {
                operation: name.into(),
                bit: BitName::from("c635"),
                predicted: Seconds::of(612.3),
                real: Seconds::of(640.7),
                held: Seconds::of(12.1),
                cut: Metres::of(metres),
                number: None,
            },
        );
    }

    fn second_sheet(&mut self) {
        let sheet = "B1-2";
        let taken = self.stage(Stage::Queued, Stage::Securing, 0, None);
        self.say_on(sheet, &helper(), taken);
        self.begin(sheet, 0, "slots");
        self.say(What::LinkDown { why: "the cable was pulled".into() });
        for line in [None, Some(41)] {
            let stopped = stopped(&mut self.version, line);
            let call = What::CallRaised {
                number: if line.is_some() { 2 } else { 1 },
                reason: CallReason::Stopped,
                text: "Somebody must look.".into(),
            };
            let together = [stopped, call].map(|what| self.draft(what).on(SheetId::from(sheet)));
            self.done.push(together.into());
        }
        self.say(What::CallAnswered { number: 1 });
        let decided = What::SheetDecided { decision: Decision::Restart, line: None };
        self.say_on(sheet, &owner(), decided);
        self.say(What::PersonLeft { who: "Wren".into() });
    }
}

fn stopped(version: &mut u64, last_line_done: Option<u32>) -> What {
    *version += 1;
    let stopped = StopRecord {
        cause: StopCause::LinkLost,
        text: "The link was lost.".into(),
        last_line_done,
        last_line_sent: Some(60),
        position_known: false,
        bit_in_cut: true,
    };
    What::SheetStage {
        from: Stage::Cutting,
        to: Stage::Stopped,
        version: StageVersion(*version),
        operation: 0,
        held: None,
        stopped: Some(stopped),
        floor: json!({"stage": "stopped", "n": *version}),
    }
}
