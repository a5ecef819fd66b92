//! A backup by the command line while a batch runs, and back into an empty store.

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::stage::{Grade, Stage, StopCause};
use std::path::Path;

const RATE: f64 = 20.0;

fn words(path: &Path) -> String {
    path.display().to_string()
}

#[test]
fn a_running_shop_is_backed_up_and_restored() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk_into_cut();
    let file = shop.path("shop.backup");
    let here = shop.path("");
    let told = shop.says(&here, &["backup", &words(&file)]);
    println!("{}", told.said);
    assert_eq!(told.code, Some(0), "{told:?}");
    assert!(told.said.contains("2 programs") && told.said.contains("checked"), "{told:?}");
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good), "the cut went on");
    let events = client.all_events();

    // an older backup may be replaced, anything else may not
    assert_eq!(shop.says(&here, &["backup", &words(&shop.path("later.backup"))]).code, Some(0));
    assert_eq!(shop.says(&here, &["backup", &words(&shop.path("later.backup"))]).code, Some(0));
    shop.says(&here, &["backup", &words(&shop.path("daemon.toml"))]).refused(5, &["is no backup"]);

    // not into the store of a running daemon, nor into one that is in use
    let store = words(&shop.path("store"));
    let restore = ["restore", &words(&file), "--store", &store];
    shop.says(&here, &restore).refused(5, &["another daemon", "already uses the store"]);
    shop.kill();
    shop.says(&here, &restore).refused(5, &["is not empty"]);
    std::fs::rename(shop.path("store"), shop.path("store.old")).unwrap();
    let told = shop.says(&here, &restore);
    assert_eq!(told.code, Some(0), "{told:?}");
    println!("{}", told.said);

    let client = shop.start();
    let back = client.all_events();
    let from_backup = back.iter().take_while(|e| events.contains(e)).count();
    assert_eq!(back[..from_backup], events[..from_backup]);
    assert!(from_backup > 20 && from_backup < events.len(), "{from_backup} of {}", events.len());
    let now = client.now();
    let sheet = now.sheet.unwrap();
    assert_eq!(sheet.stage, Stage::Stopped, "it was being cut when the backup was made");
    assert_eq!(sheet.stopped.unwrap().record.cause, StopCause::DaemonRestarted);
}

#[test]
fn damaged_backups_are_told_and_write_nothing() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let (file, here) = (shop.path("shop.backup"), shop.path(""));
    assert_eq!(shop.says(&here, &["backup", &words(&file)]).code, Some(0));
    let whole = std::fs::read(&file).unwrap();
    let new = words(&shop.path("new-store"));
    let check = ["restore", &words(&file), "--check"];
    let told = shop.says(&here, &check);
    assert!(told.code == Some(0) && told.said.contains("is a whole backup"), "{told:?}");
    let mut harmed: Vec<(String, Vec<u8>)> = vec![
        ("empty".to_owned(), Vec::new()),
        ("something else".to_owned(), b"G21\nG90\n".to_vec()),
        ("one byte more".to_owned(), [whole.as_slice(), b"x"].concat()),
    ];
    for tenth in 1..10 {
        let at = whole.len() * tenth / 10;
        harmed.push((format!("cut at {at}"), whole[..at].to_vec()));
        let mut flipped = whole.clone();
        flipped[at] ^= 1 << (tenth % 8);
        harmed.push((format!("flipped at {at}"), flipped));
    }
    for (what, bytes) in harmed {
        std::fs::write(&file, bytes).unwrap();
        let told = shop.says(&here, &check);
        told.refused(5, &["shop.backup cannot be used"]);
        println!("{what}: {}", told.complained.trim());
        shop.says(&here, &["restore", &words(&file), "--store", &new]).refused(5, &["cannot be used"]);
        assert!(!shop.path("new-store").exists(), "{what}: nothing is written");
    }
    shop.says(&here, &["restore", "nowhere.backup", "--store", &new]).refused(5, &["nowhere.backup"]);
}
