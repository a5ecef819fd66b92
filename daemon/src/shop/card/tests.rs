//! What `card` takes and what it refuses, with the words of each fault.

use super::*;
use crate::shop::stores;

const CARD: &str = include_str!("../../../../tests/cases/plant-stand-sides/plant-stand-sides.card.toml");

fn owned() -> Stores {
    Stores {
        bits: stores::bits("bits.toml", include_str!("../../../../tests/cases/bits.toml")).unwrap(),
        materials: stores::materials("materials.toml", include_str!("../../../../tests/cases/materials.toml")).unwrap(),
        fasteners: stores::fasteners("fasteners.toml", include_str!("../../../../tests/cases/fasteners.toml")).unwrap(),
    }
}

fn told(text: &str) -> Vec<String> {
    let faults = read("a.card.toml", text, &owned()).unwrap_err();
    let nearest = |f: &Fault| f.nearest.clone().map(|n| format!(" ({n})")).unwrap_or_default();
    faults.iter().map(|f| format!("{}:{} {}: {}{}", f.line, f.column, f.key, f.found, nearest(f))).collect()
}

fn one(from: &str, to: &str) -> String {
    assert!(CARD.contains(from), "{from}");
    let all = told(&CARD.replacen(from, to, 1));
    assert_eq!(all.len(), 1, "{all:?}");
    all.into_iter().next().unwrap_or_default()
}

#[test]
fn sound_card_reads_whole() {
    let card = read("a.card.toml", CARD, &owned()).unwrap();
    assert_eq!(card.name.0, "plant-stand-sides");
    assert_eq!(card.sheet.size.map(Length::mm), [610.0, 1220.0]);
    assert_eq!(card.holddown.places.len(), 7);
    assert_eq!(card.operations[1].after, ["slots"]);
    assert_eq!(order(&card), [0, 1]);
}

#[test]
fn unknown_names_get_nearest() {
    assert_eq!(one("\"u635\"", "\"u653\""), "22:7 operation 1.bit: there is no bit `u653` (u635)");
    assert_eq!(
        one("softwood-plywood", "softwod-plywood"),
        "7:12 sheet.material: there is no material `softwod-plywood` (softwood-plywood)"
    );
    assert_eq!(
        one("screw-4x30", "screw-4x3"),
        "15:12 holddown.fastener: there is no fastener `screw-4x3` (screw-4x30)"
    );
    assert_eq!(one("[\"slots\"]", "[\"slot\"]"), "30:10 operation 2.after 1: there is no operation `slot` (slots)");
}

#[test]
fn impossible_sizes_are_refused() {
    assert_eq!(one("thickness = 18.0", "thickness = 0"), "9:13 sheet.thickness: found 0 mm");
    assert_eq!(one("[610.0, 1220.0]", "[610.0, -1]"), "8:16 sheet.size 2: found -1 mm");
    assert_eq!(one("[610.0, 1220.0]", "[610.0]"), "8:8 sheet.size: found a list of 1");
    assert_eq!(one("[610.0, 1220.0]", "[610.0, 1220.0, 18.0]"), "8:8 sheet.size: found a list of 3");
    assert_eq!(one("parts = 4", "parts = 0"), "4:9 card.parts: found 0 parts");
}

#[test]
fn operations_twice_are_refused() {
    let text = CARD.replace("name = \"outlines\"", "name = \"slots\"").replace("after = [\"slots\"]", "after = []");
    assert_eq!(told(&text), ["27:8 operation 2.name: the operation `slots` is there twice"]);
}

#[test]
fn circles_of_after_are_named() {
    let text = CARD.replacen("after = []", "after = [\"outlines\"]", 1);
    assert_eq!(told(&text), ["23:9 operation 1.after: these wait for each other: slots after outlines after slots"]);
    assert_eq!(one("after = []", "after = [\"slots\"]"), "23:10 operation 1.after 1: `slots` cannot come after itself");
}

#[test]
fn order_follows_after_then_file() {
    let text = CARD.to_owned() + "[[operation]]\nname = \"a\"\nprogram = \"a.nc\"\nbit = \"u635\"\n";
    let text = text.replacen("after = []", "after = [\"a\"]", 1);
    assert_eq!(order(&read("x", &text, &owned()).unwrap()), [2, 0, 1]);
}

#[test]
fn places_may_bear_their_own_fastener() {
    let text = CARD.replace("[163.0, 584.6]", "{ at = [-20.0, 600.0], with = \"clamp-15\" }");
    let card = read("x", &text, &owned()).unwrap();
    assert_eq!(card.holddown.places[6].with.as_deref(), Some("clamp-15"));
    let wrong = text.replace("with = \"clamp-15\"", "wit = \"clamp-15\"");
    assert_eq!(told(&wrong), ["16:127 holddown.places 7.wit: there is no key `wit` here (with)"]);
    let off = CARD.replace("[163.0, 584.6]", "[163.0, 1584.6]");
    assert_eq!(told(&off), ["16:104 holddown.places 7: the fastener at X 163 mm, Y 1584.6 mm is not on the sheet"]);
}

#[test]
fn programs_stay_beside_the_card() {
    for path in ["../x.nc", "/etc/x.nc", "a//x.nc", ""] {
        let all = told(&CARD.replacen("plant-stand-sides-slots.nc", path, 1));
        assert!(all[0].contains("is no path of a program"), "{all:?}");
    }
    assert!(read("x", &CARD.replace("plant-stand-sides-slots.nc", "nc/x.nc"), &owned()).is_ok());
}

#[test]
fn skin_goes_with_leaves() {
    assert_eq!(one("unattended = true", "leaves = \"skin\""), "19:1 operation 1.skin: the key `skin` is missing");
    assert_eq!(one("unattended = true", "skin = 0.4"), "24:8 operation 1.skin: `skin` means nothing here");
    assert_eq!(one("unattended = true", "leaves = \"skin\"\nskin = 19"), "25:8 operation 1.skin: found 19 mm");
}

#[test]
fn parts_lie_on_the_sheet() {
    let text = CARD.to_owned() + "[[part]]\nname = \"side\"\nat = [[150.0, 300.0], [700.0, 300.0]]\n";
    assert_eq!(told(&text), ["34:23 part 1.at 2: the part at X 700 mm, Y 300 mm is not on the sheet"]);
}

#[test]
fn many_faults_come_together() {
    let text = CARD.replace("parts = 4", "parts = 0").replace("u635", "u636").replace("margin = 4.0", "margin = -1");
    assert_eq!(told(&text).len(), 3);
}

#[test]
fn every_case_card_reads() {
    let cards = [
        include_str!("../../../../tests/cases/crate-ends-clamp/crate-ends-clamp.card.toml"),
        include_str!("../../../../tests/cases/crate-lids-thick/crate-lids-thick.card.toml"),
        include_str!("../../../../tests/cases/folding-shelf/folding-shelf.card.toml"),
        include_str!("../../../../tests/cases/frame-units/frame-units.card.toml"),
        include_str!("../../../../tests/cases/herb-crate/herb-crate.card.toml"),
        include_str!("../../../../tests/cases/label-stakes/label-stakes.card.toml"),
        include_str!("../../../../tests/cases/rack-rails-entry/rack-rails-entry.card.toml"),
        include_str!("../../../../tests/cases/rail-set-syntax/rail-set-syntax.card.toml"),
        include_str!("../../../../tests/cases/seed-tray-rack/seed-tray-rack.card.toml"),
        include_str!("../../../../tests/cases/shelf-order/shelf-order.card.toml"),
        include_str!("../../../../tests/cases/shelf-pegs-feeds/shelf-pegs-feeds.card.toml"),
        include_str!("../../../../tests/cases/side-panels-screw/side-panels-screw.card.toml"),
        include_str!("../../../../tests/cases/stand-feet-loose/stand-feet-loose.card.toml"),
        include_str!("../../../../tests/cases/trellis-slats-reach/trellis-slats-reach.card.toml"),
    ];
    for text in cards {
        let card = read("x", text, &owned()).map_err(|f| crate::shop::fault::told(&f));
        assert!(card.is_ok(), "{}", card.unwrap_err());
    }
}
