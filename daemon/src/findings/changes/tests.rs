//! One thing changed at a time: what is told of it, and that nothing else is.

use super::*;
use crate::findings::tests::{bench, pool, shop_stores, tray_card};
use crate::findings::{Case, check};

/// A square in two passes, entered straight down, with one tab.
const SQUARE: &str = "(tray)\nG21 G90 T2 M6\nM3 S18000\nG0 X30 Y30 Z5\nG1 Z-6 F700\nX130 F2400\nY130\nX30\nY30\n\
    Z-12.2 F700\nX80 F2400\nZ-9\nX92\nZ-12.2 F700\nX130 F2400\nY130\nX30\nY30\nG0 Z5\nX200\nG1 Z-4 F700\nX220 F2400\nG0 Z5\nM5\nM30\n";

fn between(old: &str, new: &str, change: impl FnOnce(&mut Card)) -> Vec<Change> {
    let (stores, bench, used, pool) = (shop_stores(), bench(), BTreeMap::new(), pool());
    let judged = |card: &Card, programs: &BTreeMap<String, Vec<u8>>| {
        let case = Case {
            card,
            programs,
            stores: &stores,
            bench: &bench,
            thickness: None,
            bit_used: &used,
            pool: &pool,
            window: false,
        };
        check(&case).unwrap().report
    };
    let programs = |text: &str| BTreeMap::from([("tray.nc".to_owned(), text.as_bytes().to_vec())]);
    let (a, mut b) = (tray_card(), tray_card());
    change(&mut b);
    let (pa, pb) = (programs(old), programs(new));
    let (ra, rb) = (judged(&a, &pa), judged(&b, &pb));
    let side = |card, programs, report| Revised { card, programs, report };
    changes(&side(&a, &pa, &ra), &side(&b, &pb, &rb), &stores, &bench)
}

/// Of a program changed in this way: the kinds told, and every sentence.
fn told(from: &str, to: &str) -> (Vec<ChangeKind>, String) {
    let new = SQUARE.replace(from, to);
    assert_ne!(new, SQUARE, "{from} is there");
    let all = between(SQUARE, &new, |_| {});
    let text = all.iter().map(|c| c.says.clone()).collect::<Vec<_>>().join("\n");
    println!("{text}\n");
    (all.iter().map(|c| c.kind).collect(), text)
}

#[test]
fn the_same_is_told_as_nothing() {
    assert_eq!(between(SQUARE, SQUARE, |_| {}), []);
}

#[test]
fn other_writing_is_no_other_cut() {
    let (kinds, text) = told("(tray)", "(tray, mended)\n(by hand)");
    assert_eq!(kinds, [ChangeKind::Writing], "{text}");
    assert!(text.contains("cuts the same"), "{text}");
}

#[test]
fn a_feed_changes_the_time_too() {
    let (kinds, text) = told("F2400", "F3000");
    assert_eq!(kinds, [ChangeKind::Feed, ChangeKind::Time], "{text}");
    assert!(text.contains("`tray` is fed at 3000 mm/min, before 2400 mm/min"), "{text}");
    let (kinds, text) = told("F700", "F900");
    assert_eq!(kinds, [ChangeKind::PlungeFeed, ChangeKind::Time], "{text}");
}

#[test]
fn a_speed_is_told() {
    let (kinds, text) = told("S18000", "S16000");
    assert_eq!(kinds, [ChangeKind::Speed], "{text}");
    assert!(text.contains("at 16000 rpm, before at 18000 rpm"), "{text}");
}

#[test]
fn a_third_pass_is_told_by_its_depths() {
    let (kinds, text) = told("Y30\nZ-12.2 F700\nX80", "Y30\nZ-9.1 F700\nX130 F2400\nY130\nX30\nY30\nZ-12.2 F700\nX80");
    assert!(kinds.starts_with(&[ChangeKind::Depths, ChangeKind::Entry]), "{text}");
    assert!(text.contains("cuts in 4 passes (4, 6, 9.1, 12.2 mm), before in 3 passes (4, 6, 12.2 mm)"), "{text}");
    // 400 mm of level way and 3.1 mm down to it
    assert!(kinds.contains(&ChangeKind::Way), "{text}");
}

#[test]
fn a_ramp_instead_of_a_plunge_is_told() {
    let (kinds, text) = told("G1 Z-6 F700\nX130", "G1 Z0 F700\nX130 Z-6\nX30\nX130");
    assert!(kinds.contains(&ChangeKind::Entry), "{text}");
    // 6 down in 100 is 3.43 degrees
    assert!(text.contains("by 3 plunges and 1 ramp, 3.4 deg at most, before by 4 plunges"), "{text}");
}

#[test]
fn tabs_are_told_by_number_and_size() {
    let (kinds, text) = told("Z-9\nX92\n", "Z-10\nX90\n");
    assert!(kinds.contains(&ChangeKind::Tabs), "{text}");
    // 12 and 10 of way at the top, less the 6 mm of the bit
    assert!(
        text.contains("leaves 1 tab (2.2 mm high, 4 mm wide on top, or more), before 1 tab (3.2 mm high, 6 mm"),
        "{text}"
    );
    let (_, text) = told("X80 F2400\nZ-9\nX92\nZ-12.2 F700\nX130", "X130");
    assert!(text.contains("leaves no tab"), "{text}");
}

#[test]
fn moved_work_is_told_as_moved() {
    let mut new = SQUARE.to_owned();
    for (from, to) in [("Y30", "Y35.5"), ("Y130", "Y135.5")] {
        new = new.replace(from, to);
    }
    let all = between(SQUARE, &new, |_| {});
    assert_eq!(all[0].kind, ChangeKind::Place, "{all:?}");
    assert!(all[0].says.contains("0 mm along X and +5.5 mm along Y"), "{all:?}");
    assert!(all.iter().all(|c| c.kind != ChangeKind::Runs), "{all:?}");
}

#[test]
fn another_order_of_runs_is_told() {
    let two = |a: &str, b: &str| format!("G21 G90 S18000 M3\nG0 Z5\n{a}{b}M5\nM30\n");
    let one = "G0 X50 Y50\nG1 Z-4 F700\nX80 F2400\nG0 Z5\n";
    let other = "G0 X50 Y90\nG1 Z-4 F700\nX80 F2400\nG0 Z5\n";
    let all = between(&two(one, other), &two(other, one), |_| {});
    assert_eq!(all[0].kind, ChangeKind::Runs, "{all:?}");
    assert!(all[0].says.contains("the same runs in another order"), "{all:?}");
}

#[test]
fn rapids_are_told() {
    let (kinds, text) = told("G0 Z5\nX200\n", "G0 Z5\nY200\nY30\nX200\n");
    assert_eq!(kinds, [ChangeKind::Rapids, ChangeKind::Time], "{text}");
}

#[test]
fn the_card_comes_first() {
    let all = between(SQUARE, &SQUARE.replace("F2400", "F3000"), |card| {
        card.sheet.thickness = Length::from_mm(11.8).unwrap();
        card.holddown.places.clear();
        card.operations[0].bit = "u3".to_owned();
    });
    let kinds: Vec<ChangeKind> = all.iter().map(|c| c.kind).collect();
    assert!(
        kinds.starts_with(&[ChangeKind::Sheet, ChangeKind::HoldDown, ChangeKind::Bit, ChangeKind::Feed]),
        "{all:?}"
    );
    assert_eq!(all[0].says, "its thickness is 11.8 mm, before 12 mm");
    assert_eq!(all[1].says, "of its places 0 are as before, 0 are new, 1 are gone");
    assert_eq!((all[0].operation.as_deref(), all[2].operation.as_deref()), (None, Some("tray")));
}

#[test]
fn operations_come_and_go() {
    let all = between(SQUARE, SQUARE, |card| card.operations[0].name = "rim".to_owned());
    let says: Vec<&str> = all.iter().map(|c| c.says.as_str()).collect();
    assert_eq!(says, ["the operation `rim` is new", "the operation `tray` is gone"]);
}

#[test]
fn what_cannot_be_read_is_told_so() {
    let all = between(SQUARE, "G21\nG1 X--4\n", |_| {});
    assert!(all.iter().any(|c| c.says.contains("cannot be read")), "{all:?}");
}
