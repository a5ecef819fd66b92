//! Bad input to the whole program: each is refused with a sentence that names the place, and nothing is lost.

use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::queue::{BatchList, SheetList};

/// Machine seconds to a real one.
const RATE: f64 = 60.0;

#[test]
fn bad_settings_name_their_line() {
    let shop = Workshop::new(RATE);
    shop.edit("daemon.toml", |text| text + "\nmystery = 1\n");
    let ended = shop.run_to_end(&[]);
    println!("{}", ended.complained);
    assert!(ended.code.is_some_and(|c| c != 0));
    ended.refused(ended.code.unwrap(), &["daemon.toml", "mystery"]);
}

#[test]
fn settings_that_are_no_text_are_refused() {
    let shop = Workshop::new(RATE);
    shop.write("daemon.toml", &[0xff, 0xfe, 0x00]);
    let ended = shop.run_to_end(&[]);
    println!("{}", ended.complained);
    assert!(ended.code.is_some_and(|c| c != 0));
    ended.refused(ended.code.unwrap(), &["daemon.toml"]);
}

#[test]
fn second_daemon_leaves_the_first_alone() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    let ended = shop.run_to_end(&[]);
    println!("{}", ended.complained);
    assert!(ended.code.is_some_and(|c| c != 0), "{ended:?}");
    assert!(!ended.complained.contains("panicked"));
    assert_eq!(client.now().waiting, 0, "the first still answers");
}

#[test]
fn bad_cards_are_refused_and_nothing_is_added() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    let good = std::fs::read_to_string(shop.card()).unwrap();
    for (bad, names) in [
        (good.clone() + "\n[mystery]\nanswer = 42\n", "mystery"),
        (good.replacen("c635", "no-such-bit", 2), "no-such-bit"),
        (good.replacen('=', "", 1), "label-board.card.toml"),
    ] {
        assert_ne!(bad, good);
        shop.write("label-board.card.toml", bad.as_bytes());
        let problem = client.add_card(&shop.card()).unwrap_err();
        println!("{problem}");
        assert!(format!("{problem} {problem:?}").contains(names), "{names:?} is not in {problem:?}");
    }
    assert!(client.add_batch(CARD, 1).is_err(), "a card that was refused has no batch");
    let (sheets, batches): (SheetList, BatchList) =
        (client.get("/v1/sheets").unwrap(), client.get("/v1/batches").unwrap());
    assert_eq!((sheets.sheets.len(), batches.batches.len()), (0, 0));
    shop.write("label-board.card.toml", good.as_bytes());
    client.add_card(&shop.card()).unwrap();
    assert!(client.add_batch(CARD, 0).is_err(), "a batch of none is no batch");
    assert_eq!(client.add_batch(CARD, 1).unwrap().id.as_deref(), Some("B1"));
}

#[test]
fn bodies_that_are_no_command_are_refused() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    for (path, body) in [
        ("/v1/acts", serde_json::json!({})),
        ("/v1/acts", serde_json::json!([1, 2, 3])),
        ("/v1/batches", serde_json::json!({"sheets": -1})),
        ("/v1/cards", serde_json::json!({"text": null})),
    ] {
        let problem = client.post::<serde_json::Value>(path, &body).unwrap_err();
        println!("{path}: {problem}");
    }
    assert_eq!(client.now().waiting, 0, "it still answers");
}

#[test]
fn card_that_would_stop_gets_no_batch() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    let name = "label-board-slots.nc";
    shop.edit(name, |text| text.replace("M30", "G1 X5000 F1000\nM30"));
    let told = client.add_card(&shop.card()).map_or_else(|p| p.to_string(), |done| format!("{:?}", done.findings));
    println!("{told}");
    assert!(told.contains("OutsideTravel"), "{told}");
    let problem = client.add_batch(CARD, 1).unwrap_err();
    println!("{problem}");
    assert_eq!(client.now().waiting, 0);
}
