//! `chargehand card new` through the real daemon and the real command line: a card out of bare programs, that the
//! daemon's own check takes.

use chargehand_tests::workshop::{Ended, Workshop, repository};
use std::path::{Path, PathBuf};

/// Machine seconds to a real one.
const RATE: f64 = 60.0;
const PROGRAMS: [&str; 2] = ["plant-stand-sides-slots.nc", "plant-stand-sides-outlines.nc"];

/// A folder with nothing but programs.
fn programs() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in PROGRAMS {
        std::fs::copy(repository().join("config/demo").join(name), folder.path().join(name)).unwrap();
    }
    folder
}

fn ended(told: &Ended, code: i32, words: &[&str]) {
    let all = format!("{}{}", told.said, told.complained);
    println!("{all}");
    assert_eq!(told.code, Some(code), "{all}");
    for word in words {
        assert!(all.contains(word), "{word:?} is not in: {all}");
    }
}

fn card_in(folder: &Path) -> PathBuf {
    folder.join("stand/stand.card.toml")
}

#[test]
fn a_drafted_card_is_taken_by_the_check() {
    let mut shop = Workshop::new(RATE);
    let _client = shop.start();
    let folder = programs();
    let at = folder.path();
    let [slots, outlines] = PROGRAMS;
    // nobody is at the terminal: the gaps are marked, named, and the code says that something is missing
    let told = shop.says(at, &["card", "new", "stand", outlines, slots]);
    ended(&told, 5, &["# ??", "parts", "material", "fastener", "Which material?"]);
    let text = std::fs::read_to_string(card_in(at)).unwrap();
    assert!(text.contains("# ?? material = ") && text.contains("bit = \"c635\""), "{text}");
    let told = shop.says(at, &["check", "stand/stand.card.toml"]);
    assert_ne!(told.code, Some(0), "a card with gaps is not taken");
    // never over what lies there
    let answers = ["--answer", "parts=4", "--answer", "material=softwood-plywood", "--answer", "fastener=screw-4x30"];
    let anew = [&["card", "new", "stand", slots, outlines][..], &answers].concat();
    ended(&shop.says(at, &anew), 5, &["is there already", "--replace"]);
    assert_eq!(std::fs::read_to_string(card_in(at)).unwrap(), text, "it was left alone");
    let told = shop.says(at, &[&anew[..], &["--replace"]].concat());
    ended(&told, 0, &["18 mm thick", "`outlines` leaves tabs: 28 lifts", "`outlines` comes after `slots`", "Written"]);
    // the written card is taken by the check and into the shop, with its programs beside it
    ended(&shop.says(at, &["check", "stand/stand.card.toml"]), 0, &["can run", "slots, then outlines"]);
    ended(&shop.says(at, &["card", "add", "stand/stand.card.toml"]), 0, &["`stand` is in the shop"]);
    for name in PROGRAMS {
        let copied = std::fs::read(at.join("stand").join(name)).unwrap();
        assert_eq!(copied, std::fs::read(at.join(name)).unwrap());
    }
}

#[test]
fn what_makes_no_sense_is_said_and_nothing_is_written() {
    let mut shop = Workshop::new(RATE);
    let _client = shop.start();
    let folder = programs();
    let at = folder.path();
    std::fs::write(at.join("broken.nc"), "G21\nG1 X--4\n").unwrap();
    std::fs::write(at.join("picture.nc"), [0x89, b'P', b'N', b'G', 0, 0, 1, 2]).unwrap();
    let slots = PROGRAMS[0];
    for (arguments, code, words) in [
        (vec!["card", "new", "stand", "broken.nc"], 5, vec!["broken.nc", "line 2"]),
        (vec!["card", "new", "stand", "picture.nc"], 5, vec!["picture.nc"]),
        (vec!["card", "new", "stand", "none.nc"], 5, vec!["none.nc"]),
        (vec!["card", "new", "stand", slots, "--answer", "thicknes=18"], 5, vec!["nearest: `thickness`"]),
        (vec!["card", "new", "stand", slots, "--answer", "parts=lots"], 5, vec!["whole number"]),
        (vec!["card", "new", "stand", slots, slots], 2, vec![slots]),
        (vec!["card", "new", "Bad Name", slots], 5, vec!["is no name of a card"]),
        (vec!["card", "new", "../stand", slots], 5, vec!["is no name of a card"]),
        (vec!["card", "new", "stand"], 2, vec!["PROGRAM"]),
    ] {
        ended(&shop.says(at, &arguments), code, &words);
        assert!(!card_in(at).exists(), "{arguments:?} wrote a card");
    }
}

#[test]
fn the_draft_comes_as_one_document() {
    let mut shop = Workshop::new(RATE);
    let _client = shop.start();
    let folder = programs();
    let told = shop.says(folder.path(), &["card", "new", "stand", PROGRAMS[0], "--json"]);
    assert_eq!(told.code, Some(5), "{told:?}");
    let document: serde_json::Value = serde_json::from_str(&told.said).unwrap();
    assert_eq!(document["schema"], 1);
    let keys: Vec<&str> = document["missing"].as_array().unwrap().iter().map(|q| q["key"].as_str().unwrap()).collect();
    assert_eq!(keys, ["parts", "material", "fastener"]);
}
