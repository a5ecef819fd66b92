//! Every card of `cases/` against what is known of it: findings, extents, lengths, seconds, pieces, tabs.
//!
//! The truths were computed apart from this program (a reader of their own, exact arcs, a linear program for the
//! speeds at the joints and quadrature for the times). `CHARGEHAND_CASES` may name another folder of cases.

use chargehand_daemon::findings::{Bench, Case, Judged, check};
use chargehand_daemon::shop::{card, config, profile, stores};
use chargehand_types::card::{Card, Stores};
use chargehand_types::check::{Extents, OperationReport, PieceReport};
use chargehand_types::finding::{Code, Finding};
use chargehand_types::quantity::{Length, Metres};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What is judged without a map of the sheet; the others come with that map.
const JUDGED: [Code; 24] = [
    Code::NotThrough,
    Code::RapidInMaterial,
    Code::PlungeEntry,
    Code::SteepRamp,
    Code::ShallowFirstPass,
    Code::PassTooDeep,
    Code::PartLoose,
    Code::WeakTabs,
    Code::Unreadable,
    Code::LooseArc,
    Code::NotForThisController,
    Code::OutsideTravel,
    Code::OutsideSheet,
    Code::BedBite,
    Code::SpindleOff,
    Code::NoFeed,
    Code::ChipLoadLow,
    Code::ChipLoadHigh,
    Code::WrongBit,
    Code::BitDue,
    Code::WeakHolddown,
    Code::FastenerInPath,
    Code::SuspectUnits,
    Code::NoEnd,
];
/// Times may differ from the truth by this share.
const TIME_SHARE: f64 = 0.002;
/// Areas of pieces may differ by this share.
const AREA_SHARE: f64 = 0.005;
/// Tabs are read from the moves: places and sizes to this, mm.
const TAB_MM: f64 = 0.02;
/// Extents and lengths are told exactly or in steps of a micrometre.
const LENGTH_MM: f64 = 0.001;

#[allow(clippy::disallowed_methods, reason = "a test reads its own cases")]
pub(super) fn read(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(super) fn text(path: &Path) -> String {
    String::from_utf8(read(path)).unwrap()
}

#[allow(clippy::disallowed_methods, reason = "another folder may be named by hand")]
pub(super) fn folder() -> PathBuf {
    std::env::var_os("CHARGEHAND_CASES")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("cases"), PathBuf::from)
}

pub(super) fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter_map(|path| Some(path.file_name()?.to_str()?.to_owned()))
        .filter(|name| folder.join(name).join(format!("{name}.card.toml")).exists())
        .collect();
    names.sort();
    assert!(!names.is_empty(), "no case in {}", folder.display());
    names
}

pub(super) struct Shop {
    pub(super) stores: Stores,
    pub(super) bench: Bench,
    pub(super) pool: rayon::ThreadPool,
}

pub(super) fn shop(folder: &Path) -> Shop {
    let file = |name: &str| (name.to_owned(), text(&folder.join(name)));
    let (bits, materials, fasteners, daemon) =
        (file("bits.toml"), file("materials.toml"), file("fasteners.toml"), file("daemon.toml"));
    let config = config::read(&daemon.0, &daemon.1).unwrap();
    let profile = profile::profile("acknowledged-window", profile::ACKNOWLEDGED_WINDOW).unwrap();
    Shop {
        stores: Stores {
            bits: stores::bits(&bits.0, &bits.1).unwrap(),
            materials: stores::materials(&materials.0, &materials.1).unwrap(),
            fasteners: stores::fasteners(&fasteners.0, &fasteners.1).unwrap(),
        },
        bench: Bench::of(&config.machine, &config.limits, &profile.keys),
        pool: rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap(),
    }
}

pub(super) struct Known {
    pub(super) card: Card,
    pub(super) programs: BTreeMap<String, Vec<u8>>,
    pub(super) truth: Value,
}

pub(super) fn known(folder: &Path, name: &str, shop: &Shop) -> Known {
    let of = folder.join(name);
    let file = format!("{name}.card.toml");
    let card = card::read(&file, &text(&of.join(&file)), &shop.stores).unwrap();
    let program = |o: &chargehand_types::card::Operation| (o.program.clone(), read(&of.join(&o.program)));
    Known {
        programs: card.operations.iter().map(program).collect(),
        card,
        truth: serde_json::from_slice(&read(&of.join("truth.json"))).unwrap(),
    }
}

fn judge(known: &Known, shop: &Shop) -> Judged {
    let given = &known.truth["given"]["measured_thickness"];
    judge_at(known, shop, Length::from_mm(given.as_f64().unwrap()).unwrap(), false)
}

fn judge_at(known: &Known, shop: &Shop, thickness: Length, window: bool) -> Judged {
    let given = &known.truth["given"];
    let bit_used: BTreeMap<String, Metres> = given["bit_used_m"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(key, used)| (key.clone(), Metres::of(used.as_f64().unwrap())))
        .collect();
    let case = Case {
        card: &known.card,
        programs: &known.programs,
        stores: &shop.stores,
        bench: &shop.bench,
        thickness: Some(thickness),
        bit_used: &bit_used,
        pool: &shop.pool,
        window,
    };
    check(&case).unwrap()
}

/// What does not agree, one sentence each.
type Wrong = Vec<String>;

fn code_of(told: &Value) -> Code {
    serde_json::from_value(told["code"].clone()).unwrap()
}

fn answers(found: &Finding, expected: &Value) -> bool {
    let [first, last] = [&expected["lines"][0], &expected["lines"][1]].map(|l| l.as_u64().unwrap());
    let inside = found.line.is_some_and(|line| (first..=last).contains(&u64::from(line)));
    let near = match (found.measured, expected["measured"].as_f64()) {
        // at the release of a piece the map counts a skin under the ignored thickness as cut, the truths do not
        (Some(measured), Some(known)) if expected["code"] == "part-loose" => {
            (measured - known).abs() <= known.abs() * AREA_SHARE
        }
        (Some(measured), Some(known)) => (measured - known).abs() <= known.abs() * 1.0e-3 + 1.0e-4,
        (_, None) => true,
        (None, Some(_)) => false,
    };
    found.code == code_of(expected)
        && found.operation.as_deref() == expected["operation"].as_str()
        && inside
        && near
        && found.limit == expected["limit"].as_f64().or(found.limit)
}

fn tolerates(tolerated: &Value, found: &Finding) -> bool {
    let code = tolerated["code"].as_str().unwrap();
    let same_code = code == "*" || code == found.code.to_string();
    let operation = tolerated["operation"].as_str();
    same_code && (operation.is_none() || operation == found.operation.as_deref())
}

fn compare_findings(name: &str, known: &Known, judged: &Judged, wrong: &mut Wrong) {
    let expected: Vec<&Value> = known.truth["findings"].as_array().unwrap().iter().collect();
    let tolerated = known.truth["tolerated"].as_array().unwrap();
    for told in expected.iter().filter(|told| JUDGED.contains(&code_of(told))) {
        let hit = judged.report.findings.iter().find(|f| answers(f, told));
        let at = format!("{} {} line {}", told["code"], told["operation"], told["line"]);
        match hit {
            Some(f) => println!("{name:22} {at:52} line {:?} of {:?}, {} x", f.line, f.lines, f.count),
            None => wrong.push(format!("{name}: not found: {at} measured {}", told["measured"])),
        }
    }
    for found in &judged.report.findings {
        let wanted = expected.iter().any(|told| answers(found, told));
        let spared = tolerated.iter().any(|t| tolerates(t, found));
        if !wanted && !spared {
            wrong.push(format!("{name}: false alarm: {found:?}"));
        }
    }
}

fn apart(ours: &Extents, truth: &Value) -> f64 {
    [("x", ours.x), ("y", ours.y), ("z", ours.z)]
        .into_iter()
        .map(|(axis, found)| match (found, truth[axis].as_array()) {
            (Some(found), Some(known)) => {
                found.iter().zip(known).map(|(f, k)| (f.mm() - k.as_f64().unwrap()).abs()).fold(0.0, f64::max)
            }
            (None, None) => 0.0,
            _ => f64::INFINITY,
        })
        .fold(0.0, f64::max)
}

fn compare_operation(name: &str, ours: &OperationReport, truth: &Value, wrong: &mut Wrong) {
    let at = format!("{name} {}", ours.name);
    let mut ask = |what: &str, off: f64, allowed: f64| {
        if off.is_nan() || off > allowed {
            wrong.push(format!("{at}: {what} is off by {off} (allowed {allowed})"));
        }
    };
    ask("lines", (f64::from(ours.lines) - truth["lines"].as_f64().unwrap()).abs(), 0.0);
    if truth["extents_all"].is_null() {
        println!("{at:36} cannot be read");
        return;
    }
    let motions = |kind: &str| truth["motions"][kind].as_u64().unwrap();
    if motions("cycle_holes") == 0 {
        let blocks = ["rapid", "linear", "arc_cw", "arc_ccw"].map(motions).iter().sum::<u64>();
        ask("number of moves", blocks.abs_diff(ours.moves) as f64, 0.0);
    }
    let (all, cut) = (apart(&ours.extents, &truth["extents_all"]), apart(&ours.cut_extents, &truth["extents_cut"]));
    ask("extents", all, LENGTH_MM);
    ask("cut extents", cut, LENGTH_MM);
    let metres = |key: &str, ours: Metres| (ours.value() - truth[key].as_f64().unwrap()).abs();
    let lengths = [metres("cut_length_m", ours.cut_m), metres("rapid_length_m", ours.rapid_m)];
    let long = 1.0e-5 * ours.cut_m.value();
    ask("cut length", lengths[0], LENGTH_MM / 1000.0 + long);
    ask("rapid length", lengths[1], LENGTH_MM / 1000.0);
    let known = truth["time"]["total_s"].as_f64();
    let share = known.map(|known| ours.seconds.value() / known - 1.0);
    if let Some(share) = share {
        ask("time", share.abs(), TIME_SHARE);
    }
    println!(
        "{at:36} {:>9.3} s {:>9} s {:>+8.4} % | cut {:>10.6} m off {:.6} | rapid {:>9.6} m off {:.6} | extents off {all:.4} {cut:.4} mm",
        ours.seconds.value(),
        known.map_or("-".to_owned(), |k| format!("{k:.3}")),
        share.unwrap_or_default() * 100.0,
        ours.cut_m.value(),
        lengths[0],
        ours.rapid_m.value(),
        lengths[1],
    );
}

fn mm(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn apart_of(ours: [Length; 2], truth: &Value) -> f64 {
    (ours[0].mm() - mm(&truth[0])).hypot(ours[1].mm() - mm(&truth[1]))
}

fn compare_tabs(at: &str, ours: &PieceReport, truth: &Value, wrong: &mut Wrong) {
    let known = truth["tabs"].as_array().unwrap();
    if known.len() != ours.tabs.len() {
        wrong.push(format!("{at}: {} tabs, {} known", ours.tabs.len(), known.len()));
        return;
    }
    for tab in known {
        let Some(found) = ours.tabs.iter().find(|t| apart_of(t.at, &tab["place"]) < 1.0) else {
            wrong.push(format!("{at}: no tab at {}", tab["place"]));
            continue;
        };
        let style = serde_json::to_value(found.style).unwrap();
        let off = [
            ("place", apart_of(found.at, &tab["place"])),
            ("width", (found.width.mm() - mm(&tab["width"])).abs()),
            ("top width", (found.width_top.mm() - mm(&tab["width_top"])).abs()),
            ("height", (found.height.mm() - mm(&tab["height"])).abs()),
            ("section", (found.section_mm2.value() / mm(&tab["section_mm2"]) - 1.0).abs()),
        ];
        for (what, off) in off {
            if off.is_nan() || off > TAB_MM {
                wrong.push(format!("{at}: tab at {}: {what} is off by {off}", tab["place"]));
            }
        }
        if style != tab["style"] {
            wrong.push(format!("{at}: tab at {} is {style}", tab["place"]));
        }
    }
}

fn compare_pieces(name: &str, known: &Known, judged: &Judged, wrong: &mut Wrong) {
    let pieces = known.truth["pieces"].as_array().map_or(&[][..], Vec::as_slice);
    let ours = &judged.report.pieces;
    if pieces.len() != ours.len() {
        wrong.push(format!("{name}: {} pieces, {} known", ours.len(), pieces.len()));
    }
    let (mut worst, mut tabs) = (0.0_f64, 0);
    for truth in pieces {
        let near = |p: &&PieceReport| apart_of(p.centroid, &truth["centroid"]) < 1.0;
        let same = |p: &&PieceReport| (p.area_mm2.value() / mm(&truth["area_mm2"]) - 1.0).abs() < 0.1;
        let at = format!("{name} piece at {}", truth["centroid"]);
        let Some(piece) = ours.iter().filter(near).find(same) else {
            wrong.push(format!("{at}: not found"));
            continue;
        };
        let share = piece.area_mm2.value() / mm(&truth["area_mm2"]) - 1.0;
        worst = worst.max(share.abs());
        if share.abs() > AREA_SHARE {
            wrong.push(format!("{at}: area is off by {share}"));
        }
        let loose = piece.loose_at.as_ref().map(|l| (l.operation.as_str(), u64::from(l.line)));
        let released = &truth["released_at"];
        let known = released["operation"].as_str().zip(released["line"].as_u64());
        if loose != known {
            wrong.push(format!("{at}: loose at {loose:?}, known {known:?}"));
        }
        tabs += piece.tabs.len();
        compare_tabs(&at, piece, truth, wrong);
    }
    println!("{name:22} {} pieces, areas off by {:.3} % at most, {tabs} tabs", pieces.len(), worst * 100.0);
}

#[test]
fn every_card_is_judged_as_known() {
    let folder = folder();
    let shop = shop(&folder);
    let mut wrong = Wrong::new();
    for name in names(&folder) {
        let known = known(&folder, &name, &shop);
        let judged = judge(&known, &shop);
        compare_findings(&name, &known, &judged, &mut wrong);
        compare_pieces(&name, &known, &judged, &mut wrong);
        for truth in known.truth["operations"].as_array().unwrap() {
            let ours = judged.report.operations.iter().find(|o| truth["name"] == o.name.as_str()).unwrap();
            compare_operation(&name, ours, truth, &mut wrong);
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// Every piece of a card is in its small picture under its letter, beside its neighbours as on the sheet.
#[test]
fn the_picture_shows_the_pieces() {
    let folder = folder();
    let shop = shop(&folder);
    let known = known(&folder, "plant-stand-sides", &shop);
    let report = judge(&known, &shop).report;
    let picture = &report.picture;
    println!("{}", picture.join("\n"));
    assert!(picture.len() <= 28 && picture.iter().all(|row| row.chars().count() <= 60));
    let [width, depth] = known.card.sheet.size.map(Length::mm);
    let columns = (width / (depth / picture.len() as f64 / 2.0)).round();
    for (piece, letter) in report.pieces.iter().zip('A'..) {
        let cells = picture.iter().rev().enumerate().flat_map(|(row, text)| {
            text.chars().enumerate().filter(|(_, c)| *c == letter).map(move |(column, _)| (column, row))
        });
        let cells: Vec<(usize, usize)> = cells.collect();
        let area = cells.len() as f64 * (width / columns) * (depth / picture.len() as f64);
        assert!((area / piece.area_mm2.value() - 1.0).abs() < 0.25, "{letter}: {area} {}", piece.area_mm2);
        let middle = |of: fn(&(usize, usize)) -> usize| {
            cells.iter().map(|cell| of(cell) as f64 + 0.5).sum::<f64>() / cells.len() as f64
        };
        let (x, y) = (middle(|c| c.0) * width / columns, middle(|c| c.1) * depth / picture.len() as f64);
        let off = apart_of(piece.centroid, &serde_json::json!([x, y]));
        assert!(off < 25.0, "{letter} is {off} mm off its piece");
    }
    let count = |what: char| picture.iter().flat_map(|row| row.chars()).filter(|c| *c == what).count();
    assert_eq!(count('o'), known.card.holddown.places.len());
    assert!(count('+') > 0 && count('.') > 0);
}

/// The bounds are told in steps; one step beyond, something else is found.
#[test]
fn the_working_window_ends_where_a_finding_changes() {
    let folder = folder();
    let shop = shop(&folder);
    let known = known(&folder, "side-panels-screw", &shop);
    let nominal = known.card.sheet.thickness;
    let judged = judge_at(&known, &shop, nominal, true);
    let window = judged.report.window.clone().unwrap();
    println!("{window:?}");
    let codes = |j: &Judged| j.report.findings.iter().map(|f| (f.code, f.operation.clone())).collect::<Vec<_>>();
    let at = |thickness| codes(&judge_at(&known, &shop, thickness, false));
    let [least, most] = window.thickness;
    let step = Length(50_000);
    assert!(least <= nominal && nominal <= most);
    assert_eq!((at(least), at(most)), (codes(&judged), codes(&judged)));
    assert_ne!(at(least - step), codes(&judged), "{least} thinner");
    assert_ne!(at(most + step), codes(&judged), "{most} thicker");
    // the cuts end at -12.3: through as long as no more than the ignored 0.1 mm is left
    assert_eq!(most, Length::from_mm(12.4).unwrap());
    assert!(window.bit.values().all(|[narrow, wide]| narrow <= wide));
}
