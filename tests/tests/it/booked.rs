//! The books beside the cut: corrections, physical bits, lots and rests, by the command line, after real sheets.

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::bits::BitList;
use chargehand_types::checklist::ListKind;
use chargehand_types::event::What;
use chargehand_types::history::{BitHistory, SheetRecord};
use chargehand_types::id::BitNumber;
use chargehand_types::record::{Corrected, LeftList};
use chargehand_types::stage::{Grade, Reason};
use chargehand_types::upkeep::UpkeepList;

/// Machine seconds to a real one.
const RATE: f64 = 60.0;

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_record_is_corrected_and_never_edited() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let _ = Operator::owner(&client).walk_sheets(1);
    let (before, events) = (client.sheet("B1-1"), client.all_events());
    assert!(before.corrections.is_empty() && before.grade == Some(Grade::Good));
    let here = shop.path(".");
    let says = |arguments: &[&str]| shop.says(&here, arguments);
    let part = ["sheet", "correct", "B1-1", "part", "1", "--grade", "scrap", "--reason", "torn-face"];
    assert_eq!(says(&part).code, Some(2), "why is asked for");
    let told = says(&[&part[..], &["--why", "seen by daylight", "--who", "Solveig"]].concat());
    assert_eq!(told.code, Some(0), "{told:?}");
    assert!(squeezed(&told.said).contains("part 1") && told.said.contains("as a whole is to rework"), "{told:?}");
    assert_ne!(says(&[&part[..], &["--why", "again"]].concat()).code, Some(0), "it says so already");
    assert_ne!(says(&["sheet", "correct", "B1-1", "part", "99", "--grade", "good", "--why", "?"]).code, Some(0));
    assert_ne!(says(&["sheet", "correct", "B9-1", "thickness", "12", "--why", "?"]).code, Some(0));
    let told = says(&["sheet", "correct", "B1-1", "thickness", "12.1,12.2", "--why", "the caliper was not at zero"]);
    assert_eq!(told.code, Some(0), "{told:?}");

    let after: SheetRecord = client.sheet("B1-1");
    assert_eq!((after.grade, after.parts[0].reason), (Some(Grade::Rework), Some(Reason::TornFace)));
    assert_eq!(after.thickness.iter().map(|t| t.mm()).collect::<Vec<_>>(), [12.1, 12.2]);
    let kinds: Vec<&str> = after
        .corrections
        .iter()
        .map(|c| match &c.what {
            Corrected::Part { .. } => "part",
            Corrected::Thickness { was, .. } if *was == before.thickness => "thickness",
            Corrected::Outcome { was: Grade::Good, now: Grade::Rework } => "outcome",
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(kinds, ["part", "outcome", "thickness"]);
    assert!(after.corrections.iter().all(|c| c.by.as_ref().is_some_and(|by| by.who.0 == "Solveig")));
    // every earlier record is as it was, and each correction points at one of them
    let now = client.all_events();
    assert_eq!(now[..events.len()], events[..]);
    for correction in &after.corrections {
        let old = now.iter().find(|e| e.seq == correction.record).unwrap();
        assert!(old.seq.0 <= events.len() as u64 && !matches!(old.what, What::RecordCorrected { .. }));
    }
    let told = says(&["sheet", "show", "B1-1"]);
    println!("{}", told.said);
    let told = squeezed(&told.said);
    assert!(
        told.contains("corrected: part 1") && told.contains("was good") && told.contains("by Solveig (owner)"),
        "{told}"
    );
    let csv = says(&["history", "sheets", "--csv"]).said;
    assert!(csv.contains("seen by daylight"), "{csv}");
    // the fold of the restarted daemon says the same
    assert!(shop.end().success());
    let client = shop.start();
    assert_eq!(client.sheet("B1-1"), after);
}

#[test]
fn a_bit_is_known_by_its_number() {
    let mut shop = Workshop::new(RATE);
    shop.edit("label-board.card.toml", |text| {
        text + "\n[[fit]]\nname = \"slot\"\nwidth = 12.2\nmate = \"board\"\nclearance = [0.1, 0.3]\n"
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let here = shop.path(".");
    let says = |arguments: &[&str]| shop.says(&here, arguments);
    assert_ne!(says(&["bit", "new", "no-such", "--who", "Solveig"]).code, Some(0));
    assert_ne!(says(&["bit", "new", "c635", "--diameter", "4"]).code, Some(0), "that is another bit");
    let told = says(&["bit", "new", "c635", "--diameter", "6.2", "--used", "100", "--who", "Solveig"]);
    assert!(told.code == Some(0) && told.said.contains("number 1"), "{told:?}");
    assert!(says(&["bit", "new", "c635", "--diameter", "6.36"]).said.contains("number 2"));
    let told = says(&["bit", "measure", "1", "--stick-out", "24", "--cutting-length", "22"]);
    assert!(squeezed(&told.said).contains("24 mm out of the collet"), "{told:?}");

    let mut operator = Operator::owner(&client);
    let _ = operator.walk_sheets(1);
    assert!(operator.walked.iter().any(|w| w.contains("tooling/bit-number")), "{:?}", operator.walked);
    let record = client.sheet("B1-1");
    assert!(record.operations.iter().all(|o| o.number == Some(BitNumber(1))), "{record:?}");
    let cut: f64 = record.operations.iter().map(|o| o.cut.value()).sum();
    let bits: BitList = client.get("/v1/bits").unwrap();
    assert!((bits.bits[0].cut.value() - 100.0 - cut).abs() < 1.0e-9 && bits.bits[1].cut.value() == 0.0);

    // 12.0 in 12.05 with 0.1 wanted: 0.15 tight, as much as the bit is narrow; the wider one would do
    let told = says(&["sheet", "fit", "B1-1", "slot", "--slot", "12.0", "--mate", "12.05"]);
    println!("{}", told.said);
    let told = squeezed(&told.said);
    assert!(told.contains("0.15 tight, of which 0.15 is the bit") && told.contains("or use bit 2"), "{told}");

    let history: BitHistory = client.get("/v1/history/bits").unwrap();
    assert_eq!(history.physical.len(), 2);
    assert_eq!(history.physical[0].by_material[0].0, "softwood-plywood");
    let told = says(&["bit", "scrap", "1", "--why", "chipped by a screw"]);
    assert!(told.code == Some(0) && told.said.contains("never given again"), "{told:?}");
    assert_ne!(says(&["bit", "measure", "1", "--diameter", "6.2"]).code, Some(0));
    let told = squeezed(&says(&["history", "bits"]).said);
    println!("{told}");
    assert!(told.contains("c635 no. 1") && told.contains("scrapped:") && told.contains("chipped by a screw"), "{told}");
    assert!(says(&["bit", "new", "c635"]).said.contains("number 3"));
}

#[test]
fn a_measured_bit_is_what_the_sheet_is_judged_with() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    let here = shop.path(".");
    let card = shop.card();
    let says = |arguments: &[&str]| shop.says(&here, arguments);
    let check = || -> serde_json::Value {
        serde_json::from_str(&says(&["check", card.to_str().unwrap(), "--json"]).said).unwrap()
    };
    let before = check();
    assert_eq!(says(&["bit", "new", "c635", "--diameter", "6.0", "--who", "Solveig"]).code, Some(0));
    let narrow = check();
    // every part is cut free on the outside: by a narrower bit it comes out larger
    let area = |of: &serde_json::Value| of["pieces"][0]["area_mm2"].as_f64().unwrap();
    assert!(area(&narrow) > area(&before) + 10.0, "{} {}", area(&before), area(&narrow));
    // less edge than the cut is deep stops it
    assert_eq!(says(&["bit", "measure", "1", "--cutting-length", "3"]).code, Some(0));
    let short = check();
    let deep = |of: &serde_json::Value| {
        of["findings"].as_array().unwrap().iter().filter(|f| f["code"] == "pass-too-deep").count()
    };
    assert!(deep(&short) > deep(&narrow), "{short}");
    let _ = client;
}

#[test]
fn what_is_left_of_a_sheet_is_offered() {
    let mut shop = Workshop::new(RATE);
    shop.edit("label-board.card.toml", |text| text.replace("[300.0, 300.0]", "[900.0, 320.0]"));
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let here = shop.path(".");
    let _ = Operator::owner(&client).walk_sheets(1);
    let says = |shop: &Workshop, arguments: &[&str]| shop.says(&here, arguments);
    assert_eq!(says(&shop, &["sheet", "lot", "B1-1", "P-2611", "--who", "Solveig"]).code, Some(0));
    let record = client.sheet("B1-1");
    assert_eq!(record.lot.as_deref(), Some("P-2611"));
    let tabs: usize = {
        let card = shop.card();
        let checked: serde_json::Value =
            serde_json::from_str(&says(&shop, &["check", card.to_str().unwrap(), "--json"]).said).unwrap();
        checked["pieces"].as_array().unwrap().iter().map(|p| p["tabs"].as_array().unwrap().len()).sum()
    };
    assert_eq!((record.tabs, tabs > 0), (Some(tabs as u32), true));
    let waited: f64 = record.operations.iter().map(|o| o.waiting.value()).sum();
    assert!(waited > 0.0 && record.operations[0].waiting_predicted.is_some());

    // worked by hand: the holes of the right fasteners are at X 280, with 8 mm round them; all beyond is untouched
    let rest = record.left.unwrap();
    let [x, y] = rest.size.map(|side| side.mm());
    assert!((605.0..=612.0).contains(&x) && (316.0..=320.0).contains(&y), "{rest:?}");
    assert!((288.0..=291.0).contains(&rest.at.x.mm()), "{rest:?}");
    let told = says(&shop, &["stock", "left"]).said;
    assert!(told.contains("B1-1") && told.contains("P-2611") && told.contains("softwood-plywood"), "{told}");
    let shown = squeezed(&says(&shop, &["sheet", "show", "B1-1"]).said);
    println!("{shown}");
    assert!(shown.contains("lot: P-2611") && shown.contains("left: 6") && shown.contains("waiting before"), "{shown}");

    // a card whose sheet lies within it is told of it; one that has no use for it is not
    let add = |shop: &Workshop| squeezed(&says(shop, &["batch", "add", CARD, "--sheets", "1"]).said);
    assert!(!add(&shop).contains("A rest would do"));
    shop.edit("label-board.card.toml", |text| text.replace("[900.0, 320.0]", "[300.0, 300.0]"));
    client.add_card(&shop.card()).unwrap();
    let told = add(&shop);
    assert!(told.contains("A rest would do for one of them") && told.contains("of B1-1"), "{told}");
    assert_eq!(says(&shop, &["stock", "gone", "B1-1", "--why", "jigs"]).code, Some(0));
    assert_ne!(says(&shop, &["stock", "gone", "B1-1", "--why", "again"]).code, Some(0));
    assert_eq!(client.get::<LeftList>("/v1/stock/left").unwrap().left, []);
    assert!(!add(&shop).contains("A rest would do"));
}

#[test]
fn upkeep_is_asked_told_and_written_down() {
    let mut shop = Workshop::new(RATE);
    shop.edit("daemon.toml", |text| {
        text + "\n[[upkeep]]\nname = \"collet\"\nwhat = \"Collet brushed\"\nevery_metres = 0.5\n\
                [[upkeep]]\nname = \"board\"\nwhat = \"Board surfaced\"\nevery_metres = 0.5\nwith_board = true\n\
                [[upkeep]]\nname = \"brushes\"\nwhat = \"Brushes looked at\"\nevery_hours = 80.0\n"
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let here = shop.path(".");
    let says = |arguments: &[&str]| shop.says(&here, arguments);
    let due = || -> Vec<String> {
        let all: UpkeepList = client.get("/v1/upkeep").unwrap();
        all.upkeep.into_iter().filter(|row| row.due).map(|row| row.name).collect()
    };
    assert_eq!(due(), Vec::<String>::new());
    assert!(says(&["doctor"]).said.contains("nothing is due of 3"), "{}", says(&["doctor"]).said);
    let _ = Operator::owner(&client).walk_sheets(1);
    // the records say how far it has cut; the doctor says what follows
    let cut: f64 = client.sheet("B1-1").operations.iter().map(|o| o.cut.value()).sum();
    assert!(cut > 0.5);
    assert_eq!(due(), ["collet", "board"]);
    let told = squeezed(&says(&["doctor"]).said);
    assert!(told.contains("Collet brushed") && told.contains("chargehand upkeep done collet"), "{told}");
    assert_ne!(says(&["upkeep", "done", "no-such"]).code, Some(0));
    assert_eq!(says(&["machine", "new-board", "--who", "Solveig"]).code, Some(0));
    assert_eq!(due(), ["collet"], "the board's upkeep came with the new board");
    // the opening list asks for what is due, and its answer is written down under the name of whoever gave it
    let mut operator = Operator::owner(&client);
    client.act(Act::BeginList { list: ListKind::Opening }).unwrap();
    let _ = operator.walk("opened", |_, now| now.lists.iter().all(|l| l.list != ListKind::Opening || l.due.is_none()));
    assert!(operator.walked.iter().any(|w| w.contains("opening/upkeep-due")), "{:?}", operator.walked);
    assert!(!operator.walked.iter().any(|w| w.ends_with("opening/upkeep: answer")), "{:?}", operator.walked);
    assert_eq!(due(), Vec::<String>::new());
    let told = squeezed(&says(&["history", "upkeep"]).said);
    assert!(told.contains("by Solveig") && told.contains("of 80"), "{told}");
    assert_eq!(says(&["history", "upkeep", "--csv"]).said.split_terminator("\r\n").count(), 4);
    assert!(shop.end().success());
    let client = shop.start();
    let all: UpkeepList = client.get("/v1/upkeep").unwrap();
    assert!(all.upkeep.iter().all(|row| !row.due) && all.upkeep[0].done.is_some());
}

#[test]
fn sheets_cut_before_are_brought_in_once() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    let here = shop.path(".");
    let table = "Day;Card;run time;Good;Scrap;Reason;Bit;Metres;Note\n\
        2024-03-01;label-board;12,5;2;0;;c635;8,4;\n\
        2024-03-01 16:00;label-board;13;1;1;torn face;c635;8,4;\"dull; changed\"\n\
        yesterday;label-board;13;2;0;;c635;8,4;\n\
        2024-03-02;;13;2;0;;c635;8,4;\n\
        2024-03-01;label-board;12,5;2;0;;c635;8,4;\n";
    shop.write("old.csv", table.as_bytes());
    let file = shop.path("old.csv");
    let bring = |more: &[&str]| {
        let arguments = ["bring-in", file.to_str().unwrap(), "--map", "date=day", "--map", "minutes=run time"];
        shop.says(&here, &[&arguments[..], more].concat())
    };
    assert_ne!(bring(&[]).code, Some(0), "nobody is known who brings them");
    let told = bring(&["--only-look", "--who", "Solveig"]);
    assert!(told.code == Some(0) && told.said.contains("3 sheets would be taken in"), "{told:?}");
    assert_eq!(client.history().sheets, []);
    let told = bring(&[]);
    println!("{}", told.said);
    let said = squeezed(&told.said);
    assert!(said.contains("3 sheets are taken in, 0 were here already, 2 refused"), "{said}");
    assert!(said.contains("row 4: date is `yesterday`") && said.contains("row 5: it has no card"), "{said}");
    let told = bring(&["--json"]);
    let again: serde_json::Value = serde_json::from_str(&told.said).unwrap();
    assert_eq!((&again["taken"], &again["known"]), (&0.into(), &3.into()), "brought in twice it is there once");

    let sheets = client.history().sheets;
    assert_eq!(sheets.len(), 3);
    assert_eq!(sheets.iter().filter(|s| s.grade == Some(Grade::Rework)).count(), 1);
    let bits: BitHistory = client.get("/v1/history/bits").unwrap();
    assert!((bits.bits[0].cut.value() - 25.2).abs() < 1.0e-9, "{:?}", bits.bits);
    assert_eq!(bits.bits[0].reasons, [(Reason::TornFace, 1)]);
    let told = shop.says(&here, &["history", "effort"]);
    assert!(told.said.contains("before") && told.said.contains("2024-03-01"), "{}", told.said);
    // nothing of it is to be cut, and nothing is on the machine
    assert!(client.now().sheet.is_none() && client.now().waiting == 0);
    assert!(shop.end().success());
    assert_eq!(shop.start().history().sheets, sheets);
}
