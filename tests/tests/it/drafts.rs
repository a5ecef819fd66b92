//! Cards drafted from their programs against the cards that people wrote for them, and against what is known of the
//! cases from an outside reading (`truth.json`: a reader and a sheet of their own).

use super::cases::{Known, Shop, folder, known, names, read, shop, text};
use chargehand_daemon::findings::{Drafted, Wanted, draft};
use chargehand_daemon::shop::card::{self, order};
use chargehand_types::card::{Card, Leaves};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What no program tells: asked for every card.
const ALWAYS_ASKED: [&str; 3] = ["parts", "material", "fastener"];
/// Cards of which more must be asked, and why.
const EXCEPTIONS: [(&str, &str, &str); 1] =
    [("label-stakes", "thickness", "Z zero is on the waste board: no cut tells how thick the sheet is")];
/// A cut that ends this near the underside (mm) goes through.
const THROUGH: f64 = 0.05;

fn drafted(shop: &Shop, name: &str, programs: &[(String, Vec<u8>)], answers: &BTreeMap<String, String>) -> Drafted {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let wanted = Wanted { name, programs, answers, stores: &shop.stores, bench: &shop.bench, pool: &pool };
    draft(&wanted).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// The answers a person would give, out of the card they wrote.
fn answers(card: &Card) -> BTreeMap<String, String> {
    let mut all: BTreeMap<String, String> = BTreeMap::new();
    all.insert("parts".into(), card.parts.to_string());
    all.insert("material".into(), card.sheet.material.clone());
    all.insert("fastener".into(), card.holddown.fastener.clone());
    for (_, key, _) in EXCEPTIONS.iter().filter(|(name, ..)| *name == card.name.0) {
        assert_eq!(*key, "thickness");
        all.insert((*key).into(), card.sheet.thickness.mm().to_string());
    }
    all
}

/// Programs in the order the card cuts them.
fn in_order(card: &Card, programs: &BTreeMap<String, Vec<u8>>) -> Vec<(String, Vec<u8>)> {
    let paths = order(card).into_iter().map(|at| card.operations[at].program.clone());
    paths.map(|p| (p.clone(), programs[&p].clone())).collect()
}

/// Programs in the order they are cut: a person may call an operation otherwise than its program.
fn sequence(card: &Card) -> Vec<String> {
    order(card).into_iter().map(|at| card.operations[at].program.clone()).collect()
}

/// What an operation leaves, from the outside reading alone.
fn truly_leaves(known: &Known, operation: &str) -> Leaves {
    let truth = &known.truth;
    let of = truth["operations"].as_array().unwrap().iter().find(|o| o["name"] == operation).unwrap();
    let low = of["extents_cut"]["z"][0].as_f64().unwrap();
    let pieces = truth["pieces"].as_array().unwrap();
    let has_tabs = pieces.iter().flat_map(|p| p["tabs"].as_array().unwrap()).any(|t| t["operation"] == operation);
    if low > truth["bottom_z"].as_f64().unwrap() + THROUGH {
        Leaves::Pocket
    } else if has_tabs {
        Leaves::Tabs
    } else {
        Leaves::Through
    }
}

/// Compares a draft with the card a person wrote; gives what differs.
fn compare(shop: &Shop, name: &str, own: &Card, draft: &Drafted, leaves: impl Fn(&str) -> Leaves) -> Vec<String> {
    assert!(draft.missing.is_empty(), "{name}: {:?}", draft.missing);
    let card = card::read(&format!("{name}.card.toml"), &draft.text, &shop.stores)
        .unwrap_or_else(|f| panic!("{name}: {}\n{}", chargehand_daemon::shop::fault::told(&f), draft.text));
    let mut wrong = Vec::new();
    let mut ask = |what: &str, ours: String, theirs: String| {
        println!("{name:18} {what:24} {} | {}", ours.replace(name, ""), theirs.replace(name, ""));
        if ours != theirs {
            wrong.push(format!("{name}: {what}: drafted {ours}, the card says {theirs}"));
        }
    };
    ask("z_zero", format!("{:?}", card.sheet.z_zero), format!("{:?}", own.sheet.z_zero));
    ask("thickness", card.sheet.thickness.to_string(), own.sheet.thickness.to_string());
    ask("order", sequence(&card).join(" "), sequence(own).join(" "));
    for theirs in &own.operations {
        let ours = card.operations.iter().find(|o| o.program == theirs.program).unwrap();
        ask(&format!("{}: bit", theirs.name), ours.bit.clone(), theirs.bit.clone());
        let told = |l: Leaves| format!("{l:?}");
        ask(&format!("{}: leaves", theirs.name), ours.leaves.map_or("-".into(), told), told(leaves(&theirs.name)));
    }
    wrong
}

/// As many lifts are told of each operation as the outside reading knows tabs.
fn tabs_told(known: &Known, draft: &Drafted) -> Vec<String> {
    let mut wrong = Vec::new();
    for operation in &known.card.operations {
        let pieces = known.truth["pieces"].as_array().unwrap();
        let tabs = pieces.iter().flat_map(|p| p["tabs"].as_array().unwrap());
        // a tab between two pieces is known of both
        let places = tabs.filter(|t| t["operation"] == operation.name.as_str()).map(|t| t["place"].to_string());
        let count = places.collect::<BTreeSet<_>>().len();
        if count == 0 {
            continue;
        }
        let told = format!("`{}` leaves tabs: {count} lifts of ", operation.name);
        println!("{:18} {told}", known.card.name.0);
        if !draft.assumed.iter().any(|a| a.starts_with(&told)) {
            wrong.push(format!("{}: not told: {told}: {:?}", known.card.name, draft.assumed));
        }
    }
    wrong
}

#[test]
fn good_cards_are_drafted_as_written() {
    let folder = folder();
    let shop = shop(&folder);
    let (mut wrong, mut good) = (Vec::new(), 0);
    for name in names(&folder) {
        let known = known(&folder, &name, &shop);
        if known.truth["kind"] != "good" {
            continue;
        }
        good += 1;
        let programs = in_order(&known.card, &known.programs);
        let asked: Vec<String> =
            drafted(&shop, &name, &programs, &BTreeMap::new()).missing.into_iter().map(|q| q.key).collect();
        let exceptions = EXCEPTIONS.iter().filter(|(n, ..)| *n == name).map(|(_, key, _)| *key);
        let mut expected: Vec<&str> = exceptions.chain(ALWAYS_ASKED).collect();
        expected.sort_unstable();
        let mut sorted = asked.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, expected, "{name}: what is asked");
        let draft = drafted(&shop, &name, &programs, &answers(&known.card));
        wrong.extend(compare(&shop, &name, &known.card, &draft, |operation| truly_leaves(&known, operation)));
        wrong.extend(tabs_told(&known, &draft));
    }
    assert!(good >= 5, "{good} good cases");
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn parting_cuts_stay_last_whatever_comes_first() {
    // handed in backwards, pockets still come before what parts, and the inside before the outside around it
    let folder = folder();
    let shop = shop(&folder);
    for (name, last) in [
        ("herb-crate", "openings.nc herb-crate-outlines.nc"),
        ("plant-stand-sides", "outlines.nc"),
        ("seed-tray-rack", "outlines.nc"),
    ] {
        let known = known(&folder, name, &shop);
        let mut programs = in_order(&known.card, &known.programs);
        programs.reverse();
        let draft = drafted(&shop, name, &programs, &answers(&known.card));
        let card = card::read("a.card.toml", &draft.text, &shop.stores).unwrap();
        let order = sequence(&card).join(" ");
        println!("{name}: {order}");
        assert!(order.ends_with(last), "{name}: {order}");
    }
}

#[test]
fn the_demo_cards_are_drafted_as_written() {
    // their programs have no T word: the bits come from comments alone, and the cards say what is left
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let shop = demo_shop(&root);
    let mut wrong = Vec::new();
    for path in [
        "config/demo/plant-stand-sides.card.toml",
        "config/demo/seed-trays.card.toml",
        "tests/cases-own/label-board/label-board.card.toml",
    ] {
        let path = root.join(path);
        let own = card::read("a.card.toml", &text(&path), &shop.stores).unwrap();
        let beside = path.parent().unwrap();
        let programs: BTreeMap<String, Vec<u8>> =
            own.operations.iter().map(|o| (o.program.clone(), read(&beside.join(&o.program)))).collect();
        let draft = drafted(&shop, &own.name.0, &in_order(&own, &programs), &answers(&own));
        let leaves = |name: &str| own.operations.iter().find(|o| o.name == name).and_then(|o| o.leaves).unwrap();
        wrong.extend(compare(&shop, &own.name.0, &own, &draft, leaves));
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// The shop the project ships, with the demo's machine.
fn demo_shop(root: &Path) -> Shop {
    let folder = tempfile::tempdir().unwrap();
    for (from, to) in [
        ("config/bits.toml", "bits.toml"),
        ("config/materials.toml", "materials.toml"),
        ("config/fasteners.toml", "fasteners.toml"),
        ("config/demo/daemon.toml", "daemon.toml"),
    ] {
        std::fs::copy(root.join(from), folder.path().join(to)).unwrap();
    }
    shop(folder.path())
}
