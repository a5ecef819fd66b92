//! What ships in `config/`: every file reads, and the demo's cards can be cut as they are.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test says what it misses by failing")]

use chargehand_daemon::findings::{Bench, Case, Judged, check};
use chargehand_daemon::shop::card;
use chargehand_daemon::shop::fault::told;
use chargehand_daemon::shop::profile::profile;
use chargehand_daemon::shop::shelf::{self, Folder, Page, Shop};
use chargehand_types::card::Card;
use chargehand_types::finding::Finding;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn config() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../config")
}

#[allow(clippy::disallowed_methods, reason = "a test reads what ships")]
fn page(path: &Path) -> Page {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    Page::new(path.file_name().unwrap().to_string_lossy(), text)
}

/// The files of a folder with an ending, by name without it.
fn files(folder: &Path, ending: &str) -> BTreeMap<String, PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let named = entries.filter_map(|path| {
        let name = path.file_name()?.to_str()?.strip_suffix(ending)?.to_owned();
        Some((name, path))
    });
    named.collect()
}

fn pages(folder: &Path) -> BTreeMap<String, Page> {
    files(folder, ".toml").into_iter().map(|(name, path)| (name, page(&path))).collect()
}

fn demo() -> Shop {
    shelf::read(&Folder::with(page(&config().join("demo/daemon.toml")))).map_err(|f| told(&f)).unwrap()
}

fn cards() -> Vec<(PathBuf, Card)> {
    let shop = demo();
    let read = |path: &PathBuf| {
        let page = page(path);
        card::read(&page.file, &page.text, &shop.stores).map_err(|f| told(&f)).unwrap()
    };
    files(&config().join("demo"), ".card.toml").into_values().map(|path| (path.clone(), read(&path))).collect()
}

#[allow(clippy::disallowed_methods, reason = "a test reads what ships")]
fn judged(path: &Path, card: &Card) -> Judged {
    let shop = demo();
    let bytes = |program: &String| std::fs::read(path.with_file_name(program)).unwrap();
    let programs = card.operations.iter().map(|o| (o.program.clone(), bytes(&o.program))).collect();
    let profile = profile(&shop.controller.file, &shop.controller.text).map_err(|f| told(&f)).unwrap();
    let bench = Bench::of(&shop.config.machine, &shop.config.limits, &profile.keys);
    let (stores, bit_used) = (&shop.stores, &BTreeMap::new());
    let pool = &rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    check(&Case { card, programs: &programs, stores, bench: &bench, thickness: None, bit_used, pool, window: false })
        .unwrap()
}

#[test]
fn every_shipped_file_reads() {
    let config = config();
    let folder = Folder {
        daemon: page(&config.join("daemon.toml")),
        bits: Some(page(&config.join("bits.toml"))),
        materials: Some(page(&config.join("materials.toml"))),
        fasteners: Some(page(&config.join("fasteners.toml"))),
        checklists: pages(&config.join("checklists")),
        controllers: pages(&config.join("controllers")),
    };
    assert_eq!(folder.checklists.len(), 9);
    let shop = shelf::read(&folder).map_err(|f| told(&f)).unwrap();
    assert!(folder.controllers.contains_key(&shop.config.machine.profile));
}

#[test]
fn demo_has_two_cards_and_two_people() {
    let names: Vec<String> = cards().into_iter().map(|(_, card)| card.name.0).collect();
    assert_eq!(names, ["plant-stand-sides", "seed-trays"]);
    assert_eq!(demo().config.people.len(), 2);
}

#[test]
fn demo_cards_have_no_finding() {
    for (path, card) in cards() {
        let report = judged(&path, &card).report;
        let one = |f: &Finding| format!("{:?} line {:?}: {}", f.code, f.line, f.means);
        let found: Vec<String> = report.findings.iter().map(one).collect();
        assert!(found.is_empty(), "{}: {found:#?}", card.name);
    }
}

/// A sheet of ten to fourteen minutes at real speed, so that a practice run lasts under a minute.
#[test]
fn demo_sheets_last_minutes() {
    for (path, card) in cards() {
        let seconds: f64 = judged(&path, &card).operations.iter().map(|o| o.seconds.value()).sum();
        assert!((600.0..840.0).contains(&seconds), "{}: {seconds} s", card.name);
    }
}
