//! Drafts of short programs, one question at a time.

use super::*;
use crate::findings::tests::{bench, pool, shop_stores};

const TRAY: &str = "(Herb tray - tray)\nG21 G90 T2 M6\nM3 S18000\nG0 X30 Y30 Z5\nG1 Z-6 F700\nX130 F2400\nY130\nX30\nY30\n\
    Z-12.2 F700\nX80 F2400\nZ-9\nX92\nZ-12.2 F700\nX130 F2400\nY130\nX30\nY30\nG0 Z5\nM30\n";

fn ask(programs: &[(&str, &str)], answers: &[(&str, &str)]) -> Result<Drafted, CannotDraft> {
    let programs: Vec<(String, Vec<u8>)> =
        programs.iter().map(|(p, t)| ((*p).to_owned(), t.as_bytes().to_vec())).collect();
    let answers = answers.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    let (stores, bench, pool) = (shop_stores(), bench(), pool());
    let name = "herb-tray";
    draft(&Wanted { name, programs: &programs, answers: &answers, stores: &stores, bench: &bench, pool: &pool })
}

fn open(drafted: &Drafted) -> Vec<&str> {
    drafted.missing.iter().map(|q| q.key.as_str()).collect()
}

#[test]
fn what_the_shop_has_one_of_is_not_asked() {
    let drafted = ask(&[("herb-tray-tray.nc", TRAY)], &[]).unwrap();
    assert_eq!(open(&drafted), ["parts"]);
    assert_eq!(drafted.missing[0].suggested.as_deref(), Some("1"));
    for words in [
        "name = \"tray\"",
        "title = \"Herb tray\"",
        "bit = \"u6\"",
        "thickness = 12.0",
        "z_zero = \"top\"",
        "leaves = \"tabs\"",
        "material = \"plywood\"",
        "# ?? parts = ",
        "unattended = false",
    ] {
        assert!(drafted.text.contains(words), "{words} in\n{}", drafted.text);
    }
    assert!(drafted.assumed.iter().any(|a| a.contains("12.2") && a.contains("0.2 mm")), "{:?}", drafted.assumed);
}

#[test]
fn an_answered_draft_is_a_card() {
    let drafted = ask(&[("tray.nc", TRAY)], &[("parts", "1")]).unwrap();
    let card = crate::shop::card::read("a.card.toml", &drafted.text, &shop_stores()).unwrap();
    assert_eq!((card.parts, card.operations.len()), (1, 1));
    assert!(!drafted.text.contains("# ??"));
}

#[test]
fn parts_are_the_pieces_the_cuts_leave() {
    // the same tray three times; equal pieces share a name
    let way = TRAY.split_once("G0 X30").map(|(_, rest)| format!("G0 X30{rest}")).unwrap().replace("M30\n", "");
    let far = |dx: f64, dy: f64| {
        let moved = |word: &str, axis: char, by: f64| -> Option<String> {
            let value: f64 = word.get(1..)?.parse().ok()?;
            word.starts_with(axis).then(|| format!("{axis}{}", value + by))
        };
        let word = |w: &str| moved(w, 'X', dx).or_else(|| moved(w, 'Y', dy)).unwrap_or_else(|| w.to_owned());
        let line = |l: &str| l.split(' ').map(word).collect::<Vec<_>>().join(" ");
        way.lines().map(line).collect::<Vec<_>>().join("\n")
    };
    let three = TRAY.replace("M30", &format!("{}\n{}\nM30", far(200.0, 0.0), far(0.0, 250.0)));
    let asked = ask(&[("tray.nc", &three)], &[]).unwrap();
    assert_eq!(asked.missing[0].suggested.as_deref(), Some("3"), "{:?}", asked.missing);
    assert!(!asked.text.contains("[[part]]"));
    let drafted = ask(&[("tray.nc", &three)], &[("parts", "3")]).unwrap();
    let card = crate::shop::card::read("a.card.toml", &drafted.text, &shop_stores()).unwrap();
    let [part] = card.named_parts.as_slice() else { panic!("{}", drafted.text) };
    assert_eq!((part.name.as_str(), part.at.len()), ("piece 94 x 94 mm", 3));
    // fewer parts than pieces: nobody knows which
    assert!(!ask(&[("tray.nc", &three)], &[("parts", "2")]).unwrap().text.contains("[[part]]"));
}

#[test]
fn a_bit_that_comments_deny_is_asked() {
    let other = TRAY.replace("(Herb tray", "(bit: 3 mm up-cut)\n(Herb tray");
    let drafted = ask(&[("tray.nc", &other)], &[("parts", "1")]).unwrap();
    assert_eq!(open(&drafted), ["bit.tray"]);
    assert_eq!(drafted.missing[0].choices, ["u6", "u3"]);
    assert!(drafted.text.contains("# ?? bit = "), "{}", drafted.text);
    let unknown = TRAY.replace("(Herb tray", "(8 mm cutter)\n(Herb tray");
    assert_eq!(open(&ask(&[("tray.nc", &unknown)], &[("parts", "1")]).unwrap()), ["bit.tray"]);
    let answered = ask(&[("tray.nc", &other)], &[("parts", "1"), ("bit.tray", "u3")]).unwrap();
    assert!(answered.text.contains("bit = \"u3\""));
}

#[test]
fn a_bit_without_a_number_comes_from_the_comments() {
    let named = TRAY.replace("T2 M6", "").replace("(Herb tray", "(bit: 6mm)\n(Herb tray");
    assert!(ask(&[("tray.nc", &named)], &[]).unwrap().text.contains("bit = \"u6\""));
    let silent = TRAY.replace("T2 M6", "");
    assert_eq!(open(&ask(&[("tray.nc", &silent)], &[("parts", "1")]).unwrap()), ["bit.tray"]);
    let unknown = TRAY.replace("T2 M6", "T77 M6");
    let drafted = ask(&[("tray.nc", &unknown)], &[("parts", "1")]).unwrap();
    assert!(drafted.missing[0].asks.contains("tool = 77"), "{:?}", drafted.missing);
}

#[test]
fn a_depth_that_goes_through_nothing_is_asked() {
    let pocket = TRAY.replace("-12.2", "-7.3").replace("Z-9", "Z-5");
    let drafted = ask(&[("tray.nc", &pocket)], &[("parts", "1")]).unwrap();
    assert_eq!(open(&drafted), ["thickness"]);
    assert_eq!(drafted.missing[0].suggested.as_deref(), Some("8"));
    let at_18 = ask(&[("tray.nc", &pocket)], &[("parts", "1"), ("thickness", "18")]).unwrap();
    assert!(at_18.text.contains("leaves = \"pocket\"") && at_18.text.contains("thickness = 18.0"), "{}", at_18.text);
    let skin = ask(&[("tray.nc", &pocket)], &[("parts", "1"), ("thickness", "7.7 mm")]).unwrap();
    assert!(skin.text.contains("leaves = \"skin\"\nskin = 0.4"), "{}", skin.text);
}

#[test]
fn inches_are_measured_in_inches() {
    let inch = "(a)\nG20 G90 T2 M6\nM3 S18000\nG0 X1 Y1 Z.2\nG1 Z-.255 F30\nX5 F90\nY5\nX1\nY1\nZ-.508\nX5\nY5\nX1\nY1\nG0 Z.2\nM30\n";
    let drafted = ask(&[("tray.nc", inch)], &[("parts", "1")]).unwrap();
    assert!(drafted.text.contains("thickness = 12.7"), "{}", drafted.text);
}

#[test]
fn work_about_a_centre_asks_for_the_corner() {
    let centred = TRAY
        .replace("X80", "X0")
        .replace("X92", "X12")
        .replace("X30", "X-50")
        .replace("X130", "X50")
        .replace("Y30", "Y-50")
        .replace("Y130", "Y50");
    let drafted = ask(&[("tray.nc", &centred)], &[("parts", "1")]).unwrap();
    assert_eq!(open(&drafted), ["corner"]);
    assert_eq!(drafted.missing[0].suggested.as_deref(), Some("-305,-610"));
    let answered = ask(&[("tray.nc", &centred)], &[("parts", "1"), ("corner", "-305,-610")]).unwrap();
    assert!(answered.text.contains("corner = [-305.0, -610.0]\n") && answered.missing.is_empty(), "{}", answered.text);
}

#[test]
fn a_pocket_comes_first_whatever_was_named_first() {
    let pocket = "G21 G90 T2 M6\nM3 S18000\nG0 X60 Y60 Z5\nG1 Z-4 F700\nX90 F2400\nG0 Z5\nM30\n";
    let drafted = ask(&[("tray.nc", TRAY), ("cells.nc", pocket)], &[("parts", "1")]).unwrap();
    let at = |name: &str| drafted.text.find(&format!("name = \"{name}\"")).unwrap();
    assert!(at("cells") < at("tray"), "{}", drafted.text);
    assert!(drafted.text.contains("after = [\"cells\"]"));
    let turned = ask(&[("tray.nc", TRAY), ("cells.nc", pocket)], &[("parts", "1"), ("order", "tray, cells")]).unwrap();
    assert!(turned.text.contains("after = [\"tray\"]"), "{}", turned.text);
}

#[test]
fn bad_answers_say_what_would_do() {
    for (key, answer, names) in [
        ("parts", "0", "whole number"),
        ("parts", "many", "whole number"),
        ("thickness", "-3", "more than 0"),
        ("size", "610", "610x1220"),
        ("material", "oak", "plywood"),
        ("leaves.tray", "crumbs", "pocket"),
        ("order", "tray,tray", "every operation once"),
        ("thicknes", "18", "nearest: `thickness`"),
        ("skin.tray", "0.4x", "more than 0"),
    ] {
        let told = ask(&[("tray.nc", TRAY)], &[(key, answer)]).unwrap_err().to_string();
        assert!(told.contains(names), "{key}={answer}: {told}");
    }
}

#[test]
fn what_cannot_be_drafted_says_why() {
    let told = |programs: &[(&str, &str)]| ask(programs, &[]).unwrap_err().to_string();
    assert!(told(&[]).contains("at least one program"));
    assert!(told(&[("a.nc", TRAY), ("a.nc", TRAY)]).contains("given twice"));
    assert!(
        told(&[("a.nc", "G21\nG1 X--4\n")]).contains("a.nc cannot be read: line 2"),
        "{}",
        told(&[("a.nc", "G1 X--4\n")])
    );
    assert!(told(&[("a.nc", "G21 G0 X5\nM30\n")]).contains("cuts nothing"));
}

#[test]
fn two_programs_of_one_name_get_two() {
    let drafted = ask(&[("a/tray.nc", TRAY), ("b/tray.nc", TRAY)], &[("parts", "1")]).unwrap();
    assert!(drafted.text.contains("name = \"tray\"") && drafted.text.contains("name = \"tray-2\""), "{}", drafted.text);
}
