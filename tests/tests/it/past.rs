//! History by revision and by bit, after real sheets of two revisions went through the daemon and its practice machine.

use chargehand_tests::http;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::change::ChangeKind;
use chargehand_types::history::{BitHistory, EffortHistory, RevisionHistory};

/// Machine seconds to a real one.
const RATE: f64 = 60.0;

#[test]
fn two_revisions_stand_side_by_side() {
    let mut shop = Workshop::new(RATE);
    shop.edit("daemon.toml", |text| {
        text + "\n[rates]\nmachine_hour = 12.0\nhand_hour = 30.0\n[[stock]]\nname = \"ply12\"\nprice = 48.0\n\
                material = \"softwood-plywood\"\nthickness = 12.0\nsize = [1220.0, 2440.0]\n"
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(&client);
    let _ = operator.walk_sheets(1);
    // a second revision so much slower that a busy computer beside it cannot hide it
    shop.edit("label-board-slots.nc", |t| t.replace("F2700", "F1500"));
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let _ = operator.walk_sheets(1);

    let all: RevisionHistory = client.get("/v1/history/revisions").unwrap();
    let numbers: Vec<u32> = all.revisions.iter().map(|r| r.number).collect();
    assert_eq!(numbers, [1, 2]);
    assert!(all.revisions.iter().all(|r| r.changes.is_empty()), "changes come with one card only");
    let of_card: RevisionHistory = client.get(&format!("/v1/history/revisions?card={CARD}")).unwrap();
    println!("{of_card:#?}");
    let [one, two] = of_card.revisions.as_slice() else { panic!("two revisions") };
    assert_eq!((one.sheets, two.sheets), ([1, 0, 0], [1, 0, 0]));
    assert_eq!(two.changes[0].kind, ChangeKind::Feed);
    assert!(two.against_before.as_ref().unwrap().contains("too few to say anything"));
    assert!(two.seconds.unwrap().value > one.seconds.unwrap().value, "slower feeds take longer");

    // what the bits have cut is what the sheets say they have
    let bits: BitHistory = client.get("/v1/history/bits").unwrap();
    let [bit] = bits.bits.as_slice() else { panic!("one bit: {bits:?}") };
    let sheets = client.history().sheets;
    let cut: f64 = sheets.iter().flat_map(|s| &s.operations).map(|o| o.cut.value()).sum();
    assert!((bit.cut.value() - cut).abs() < 1.0e-9 && (bit.cut_ever.value() - cut).abs() < 1.0e-9);
    assert_eq!((bit.bit.0.as_str(), bit.sheets, bit.not_good), ("c635", 2, [2, 0]));
    assert_eq!(bit.by_material.len(), 1);
    assert_eq!(bit.by_material[0].0, "softwood-plywood");

    // and so are the sums that other programs read
    let told = http::send(&shop.socket(), "GET", "/metrics", &[], None).unwrap();
    let metrics = told.whole().unwrap();
    let metric = |name: &str| -> f64 {
        let line = metrics.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
        line.unwrap_or_else(|| panic!("{name} in\n{metrics}")).parse().unwrap()
    };
    let operations = || sheets.iter().flat_map(|s| &s.operations);
    let real: f64 = operations().map(|o| o.real.unwrap().value()).sum();
    let held: f64 = operations().map(|o| o.held.value()).sum();
    let parts = sheets.iter().map(|s| s.parts.len()).sum::<usize>() as f64;
    for (name, known) in [
        ("chargehand_cut_seconds_total", real),
        ("chargehand_held_seconds_total", held),
        ("chargehand_cut_metres_total", cut),
        ("chargehand_stops_total", 0.0),
        ("chargehand_parts_total{outcome=\"good\"}", parts),
        ("chargehand_parts_total{outcome=\"scrap\"}", 0.0),
    ] {
        assert!((metric(name) - known).abs() < 1.0e-4, "{name}: {} for {known}", metric(name));
    }
    assert!(real > 0.0 && cut > 0.0 && parts > 0.0);

    // what a good part cost, reckoned again from the records
    let effort: EffortHistory = client.get("/v1/history/effort").unwrap();
    assert_eq!((effort.batches.len(), effort.days.iter().map(|d| d.sheets[0]).sum::<u32>()), (2, 2));
    for (batch, sheet) in effort.batches.iter().zip(&sheets) {
        let cost = batch.cost.unwrap();
        let motion: f64 = sheet.operations.iter().map(|o| o.real.unwrap().value() + o.held.value()).sum();
        assert!((cost.machine - motion / 3600.0 * 12.0).abs() < 1.0e-9, "{cost:?}");
        // a quarter of a panel; of 600 m of a bit for 38
        assert_eq!(cost.material, Some(12.0));
        let cut: f64 = sheet.operations.iter().map(|o| o.cut.value()).sum();
        assert!((cost.bits - 38.0 * cut / 600.0).abs() < 1.0e-9, "{cost:?}");
        // 12 to load, 10 to take off, and one bit
        assert!(cost.hands >= 22.0 / 60.0 * 30.0, "{cost:?}");
        let sum = cost.machine + cost.hands + 12.0 + cost.bits;
        assert!((cost.total - sum).abs() < 1.0e-9 && (cost.each.unwrap() - sum / 2.0).abs() < 1.0e-9, "{cost:?}");
        assert_eq!((cost.scrap, batch.figures.quality), (0.0, Some(1.0)));
        assert!((0.9..1.1).contains(&batch.figures.effectiveness.unwrap()), "{:?}", batch.figures);
    }
    let here = shop.path(".");
    let told = shop.says(&here, &["history", "effort"]);
    println!("{}", told.said);
    assert!(told.said.contains("a good part") && told.said.contains("OEE"), "{}", told.said);
    assert!(told.said.lines().all(|line| line.chars().count() <= 80), "{}", told.said);
    let told = shop.says(&here, &["history", "revisions", "--card", CARD]);
    println!("{}", told.said);
    for words in ["revision 1", "revision 2", "changed: `slots` is fed at", "too few"] {
        assert!(told.said.contains(words), "{words}: {told:?}");
    }
    let told = shop.says(&here, &["history", "bits"]);
    println!("{}", told.said);
    assert!(told.said.contains("c635") && told.said.contains("in softwood-plywood"), "{told:?}");
    // asked for in part, and as a table
    let lines = |arguments: &[&str]| {
        let told = shop.says(&here, arguments);
        assert_eq!(told.code, Some(0), "{told:?}");
        told.said.split_terminator("\r\n").count()
    };
    assert_eq!(lines(&["history", "sheets", "--csv"]), 3, "a heading and two sheets");
    assert_eq!(lines(&["history", "sheets", "--csv", "--batch", "B2"]), 2);
    assert_eq!(lines(&["history", "sheets", "--csv", "--grade", "scrap"]), 1);
    assert_eq!(lines(&["history", "sheets", "--csv", "--bit", "c635", "--card", CARD, "--newest", "1"]), 2);
    assert_eq!(lines(&["history", "revisions", "--csv", "--since", "2100-01-01"]), 1);
    assert_eq!(lines(&["history", "bits", "--csv", "--card", CARD]), 2);
    assert_eq!(lines(&["history", "effort", "--csv", "--batch", "B1"]), 2);
    assert_eq!(shop.says(&here, &["history", "bits", "--csv", "--json"]).code, Some(2));
    assert_ne!(shop.says(&here, &["history", "revisions", "--card", "no-such"]).code, Some(0));
}
