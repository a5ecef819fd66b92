//! A batch from card to graded sheets, through the real daemon, its socket and its practice machine.

use base64::Engine as _;
use chargehand_tests::client::{Client, files};
use chargehand_tests::operator::Operator;
use chargehand_tests::samples::compare;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::check::{CheckReport, CheckRequest};
use chargehand_types::checklist::{ListForm, ListKind};
use chargehand_types::event::What;
use chargehand_types::history::SheetRecord;
use chargehand_types::quantity::Seconds;
use chargehand_types::queue::{BatchList, SheetList};
use chargehand_types::stage::{Grade, Reason, Role, Stage};
use serde_json::Value;
use std::collections::BTreeMap;

/// Machine seconds to a real one: slow enough that a few real milliseconds of waiting are no machine time.
const RATE: f64 = 20.0;
/// What real time may differ from predicted, as a share.
const TIMES_WITHIN: f64 = 0.03;

fn judge_record(record: &SheetRecord, revision: &str) {
    assert_eq!(record.stage, Stage::Closed);
    assert_eq!(record.card.0, CARD);
    assert_eq!(record.revision.0, revision);
    assert_eq!((revision.len(), revision.chars().all(|c| c.is_ascii_hexdigit())), (64, true));
    let (who, role) = (&record.operators[0].who.0, record.operators[0].role);
    assert_eq!((record.operators.len(), who.as_str(), role), (1, "Solveig", Role::Owner));
    assert!(record.begun.unwrap() < record.closed.unwrap());
    assert_eq!(record.operations.iter().map(|o| o.name.as_str()).collect::<Vec<_>>(), ["slots", "outlines"]);
    let (mut predicted, mut real) = (0.0, 0.0);
    for o in &record.operations {
        predicted += o.predicted.value();
        real += o.real.unwrap().value();
        println!(
            "{} {}: {:.2} s predicted, {:.2} s real",
            record.sheet,
            o.name,
            o.predicted.value(),
            o.real.unwrap().value()
        );
        assert_eq!((o.held, o.bit.as_ref().unwrap().0.as_str()), (Seconds::ZERO, "c635"));
    }
    println!("{}: real over predicted {:.4}", record.sheet, real / predicted);
    assert!((real / predicted - 1.0).abs() < TIMES_WITHIN, "{predicted} predicted, {real} real");
    let cut: f64 = record.operations.iter().map(|o| o.cut.value()).sum();
    let by_bit: Vec<_> = record.bits.iter().map(|(b, m)| (b.0.as_str(), m.value())).collect();
    println!("{}: {cut:.3} m cut", record.sheet);
    assert_eq!(by_bit.len(), 1);
    assert_eq!(by_bit[0].0, "c635");
    assert!((by_bit[0].1 - cut).abs() < 1.0e-9 && cut > 2.0);
    assert!(record.thickness.iter().all(|t| (t.mm() - 12.0).abs() < 1.0e-9));
    assert_eq!((record.fasteners.len(), record.stops.len(), record.parts.len()), (4, 0, 2));
}

/// The steps asked of one sheet, each with its list and form.
fn steps(client: &Client, sheet: &str) -> Vec<(ListKind, ListForm, String)> {
    let of_sheet = client.all_events().into_iter().filter(|e| e.sheet.as_ref().is_some_and(|s| s.0 == sheet));
    of_sheet
        .filter_map(|e| match e.what {
            What::StepAnswered { list, form, step, taken: true, .. } => Some((list, form, step)),
            _ => None,
        })
        .collect()
}

/// The feed that the card's check advises for a slot entered too steeply, mm/min.
fn advised_feed(client: &Client, shop: &Workshop) -> f64 {
    let mut files = files(&shop.card());
    let steep =
        "G21 G90 G17 G94\nM3 S14000\nG0 X85 Y70 Z20\nG1 Z0.5 F2400\nG1 X90 Z-4\nG1 X130 F4000\nG0 Z20\nM5\nM30\n";
    let program = files.programs.get_mut("label-board-slots.nc").unwrap();
    *program = base64::engine::general_purpose::STANDARD.encode(steep);
    let bit_used = BTreeMap::new();
    let request = CheckRequest { files, thickness: None, corners: Vec::new(), z_shift: None, bit_used };
    let report: CheckReport = client.post("/v1/check", &request).unwrap();
    let told = report.advice.iter().find(|a| a.contains("a starting point for a test cut")).unwrap();
    let (_, fed) = told.split_once("fed ").unwrap_or_else(|| panic!("{told}"));
    fed.split_once(' ').unwrap().0.parse().unwrap()
}

#[test]
fn batch_of_two_is_walked() {
    let mut shop = Workshop::new(RATE);
    // so that it is the good sheet that holds the advice back
    shop.edit("daemon.toml", |text| text.replace("max_feed_tried = 3000.0", "max_feed_tried = 6000.0"));
    let client = shop.start();
    let added = client.add_card(&shop.card()).unwrap();
    assert_eq!(added.findings, [], "the short card has no finding");
    let revision = added.revision.unwrap().0;
    let free = advised_feed(&client, &shop);
    let batch = client.add_batch(CARD, 2).unwrap();
    assert_eq!(batch.id.as_deref(), Some("B1"));
    let mut operator = Operator::owner(&client);
    operator.walk_sheets(1);
    operator.grading = |i| if i == 0 { (Grade::Good, None) } else { (Grade::Rework, Some(Reason::TabScar)) };
    let now = operator.walk_sheets(1);
    assert_eq!((now.waiting, now.sheet.is_none(), now.next_sheet), (0, true, None));

    // the good sheet was cut at 2700 mm/min at most
    let kept = advised_feed(&client, &shop);
    println!("a feed to try: {free} mm/min before a sheet came out good, {kept} after");
    assert!(kept < free && kept <= 2700.0 * 1.15, "{free} before, {kept} after");
    let history = client.history();
    assert_eq!(history.sheets.iter().map(|s| s.sheet.0.as_str()).collect::<Vec<_>>(), ["B1-1", "B1-2"]);
    for record in &history.sheets {
        judge_record(record, &revision);
        assert_eq!(*record, client.sheet(&record.sheet.0), "the record alone is the record of the list");
    }
    assert_eq!(history.sheets[0].grade, Some(Grade::Good));
    assert_eq!(history.sheets[1].grade, Some(Grade::Rework));
    let rows: SheetList = client.get("/v1/sheets").unwrap();
    assert!(rows.sheets.iter().all(|r| r.stage == Stage::Closed) && rows.sheets.len() == 2);
    let batches: BatchList = client.get("/v1/batches").unwrap();
    assert_eq!((batches.batches[0].closed, batches.batches[0].sheets), (2, 2));

    let (first, second) = (steps(&client, "B1-1"), steps(&client, "B1-2"));
    println!("{} steps on the first sheet, {} on the second", first.len(), second.len());
    assert!(first.iter().all(|s| s.1 == ListForm::Full) && second.iter().all(|s| s.1 == ListForm::Repeat));
    assert!(second.len() < first.len(), "a repeat asks less");

    compare("sheets", &client.get::<Value>("/v1/sheets").unwrap());
    compare("history", &client.get::<Value>("/v1/history/sheets").unwrap());
    let events = client.all_events();
    let answered = events.iter().filter(|e| matches!(e.what, What::StepAnswered { .. }));
    compare("walk", &serde_json::to_value(answered.collect::<Vec<_>>()).unwrap());
    let mut of_kind = BTreeMap::new();
    for event in &events {
        let told = serde_json::to_value(event).unwrap();
        of_kind.entry(told["kind"].as_str().unwrap().to_owned()).or_insert(told);
    }
    println!("{} kinds of event", of_kind.len());
    compare("events", &serde_json::to_value(of_kind).unwrap());
    assert!(events.iter().zip(1..).all(|(e, n)| e.seq.0 == n), "1, 2, 3 … without a gap");
    let mut ids: Vec<_> = events.iter().map(|e| e.id.clone()).collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), events.len(), "every event has an id of its own");
    assert!(shop.end().success());
    let again = shop.start();
    let kept = again.all_events();
    assert_eq!(kept[..events.len()], events[..], "what was told is what is kept");
    assert_eq!(again.history(), history);
}

#[test]
fn two_operations_chain_by_themselves() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(&client);
    operator.walk_sheets(1);
    let starts = operator.walked.iter().filter(|w| w.ends_with(": cycle-start")).count();
    assert_eq!(starts, 1, "both operations may run alone and share a bit: {:#?}", operator.walked);
}

#[test]
fn live_stream_joins_its_replay() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    let mut live = client.events(Some(0));
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(&client);
    let now = operator.walk_sheets(1);
    let mut positions = 0;
    let mut seen = Vec::new();
    while seen.last() != Some(&now.seq.0) {
        let message = live.next_message().unwrap();
        match message.id {
            Some(seq) => seen.push(seq),
            None => match message.event.as_str() {
                "position" => positions += 1,
                other => assert_eq!(other, "plan"),
            },
        }
    }
    println!("{positions} positions between {} events", seen.len());
    assert!(seen.iter().zip(1..).all(|(seq, n)| *seq == n), "the replay and the live part join without a gap");
    assert!(positions > 3);
}

/// What the progress bar shows must follow the bit: by time, so half way through is half.
#[test]
fn progress_follows_the_cut() {
    // slow enough that the places shown are the program's, not the pace of asking
    let mut shop = Workshop::new(10.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk_into_cut();
    let mut shown: Vec<(f64, u32)> = Vec::new();
    client.until("the slots are cut", |n| {
        let sheet = n.sheet.as_ref().unwrap();
        let operation = sheet.operation.as_ref().unwrap();
        if operation.name == "slots" && sheet.stage == Stage::Cutting {
            let one = (operation.progress, operation.line.unwrap_or(0));
            if shown.last() != Some(&one) {
                shown.push(one);
            }
        }
        sheet.done.iter().any(|d| d == "slots")
    });
    println!("{} different places shown, the last at {:?}", shown.len(), shown.last());
    assert!(shown.is_sorted_by(|a, b| a.0 <= b.0 && a.1 <= b.1), "it never goes back: {shown:?}");
    assert!(shown.len() > 15, "it follows the lines: {shown:?}");
    assert!(shown.last().unwrap().0 > 0.8, "up to the end: {shown:?}");
}
