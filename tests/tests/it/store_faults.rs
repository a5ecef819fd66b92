//! A full disk, a store that cannot be written, one of a newer build, and store files that were cut or changed: told
//! clearly, never served wrong, and what is readable comes out.

use chargehand_daemon::ledger::frame::{self, HEAD};
use chargehand_tests::client::{Client, Token, fresh};
use chargehand_tests::disk::SmallDisk;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::event::{Event, What};
use chargehand_types::stage::{Grade, Stage};
use serde_json::json;
use std::path::{Path, PathBuf};

const RATE: f64 = 60.0;
/// Notes written before a fault at most; a few mebibytes of them fill what is left of the small disk.
const NOTES_MOST: u32 = 20_000;

/// A disk of its own, or a word that it cannot be had.
fn small_disk() -> Option<SmallDisk> {
    let disk = SmallDisk::of(16);
    if disk.is_none() {
        println!("Not tried here: a small disk of its own takes root and the right to mount.");
    }
    disk
}

fn store_of(disk: &SmallDisk) -> String {
    disk.path("store").display().to_string()
}

/// Writes a note; the command's id when it was answered, or what was said.
fn note(client: &Client, text: &str) -> Result<String, String> {
    let id = fresh();
    let body = json!({"command_id": id, "terminal": "t", "act": {"act": "note", "text": text}});
    match client.ask("POST", "/v1/acts", Some(&body), Token::Shown).unwrap() {
        (200, _) => Ok(id.0),
        (status, told) => Err(format!("{status} {}", told["detail"].as_str().unwrap_or_default())),
    }
}

fn are_all_there(client: &Client, answered: &[String]) {
    let events = client.all_events();
    for id in answered {
        assert!(events.iter().any(|e| e.command_id.as_ref().is_some_and(|c| c.0 == *id)), "{id} was answered");
    }
}

#[test]
fn a_full_disk_is_told_and_loses_nothing() {
    let Some(disk) = small_disk() else { return };
    let mut shop = Workshop::new(RATE);
    let store = store_of(&disk);
    let client = shop.start_with(&["--store", &store]);
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk_into_cut();
    // what else lies on the disk takes all but a little of what is left
    disk.fill(600_000);
    let text = "x".repeat(200);
    let mut answered = Vec::new();
    let said = (0..NOTES_MOST).find_map(|_| match note(&client, &text) {
        Ok(id) => {
            answered.push(id);
            None
        }
        Err(said) => Some(said),
    });
    let said = said.expect("the disk becomes full");
    println!("{} notes, then: {said}", answered.len());
    assert!(said.contains("is full") && said.contains(&store), "{said}");
    let later = note(&client, "one more").unwrap_err();
    println!("later: {later}");
    assert!(later.contains("since an earlier fault"), "{later}");
    // hold and stop go to the line whether they can be written down or not
    let _ = client.ask(
        "POST",
        "/v1/acts",
        Some(&json!({"command_id": fresh(), "terminal": "t", "act": Act::Hold})),
        Token::Shown,
    );
    let held = client.until("it stands still although the disk is full", |n| {
        n.machine.motion != chargehand_types::now::Motion::Moving
    });
    println!("{}", held.headline);
    are_all_there(&client, &answered);
    shop.kill();
    // a record that is short enough may still find room in what was left
    shop.begin(&["--store", &store]);
    if let Some(client) = shop.answers_or_ends() {
        let said = (0..NOTES_MOST).find_map(|_| note(&client, &text).map(|id| answered.push(id)).err());
        let said = said.expect("the disk is full");
        println!("started on the full disk: {said}");
        assert!(said.contains("is full"), "{said}");
        are_all_there(&client, &answered);
        shop.kill();
    } else {
        println!("not started on the full disk: {}", shop.log());
        assert!(shop.log().contains("is full"), "{}", shop.log());
    }
    disk.make_room();
    let client = shop.start_with(&["--store", &store]);
    are_all_there(&client, &answered);
    note(&client, "there is room again").unwrap();
    shop.kill();
}

#[test]
fn a_store_that_cannot_be_written_is_told() {
    let Some(disk) = small_disk() else { return };
    let mut shop = Workshop::new(RATE);
    let store = store_of(&disk);
    let client = shop.start_with(&["--store", &store]);
    note(&client, "written while it could be").unwrap();
    assert!(shop.end().success());
    disk.read_only();
    let ended = shop.run_to_end(&["--store", &store]);
    println!("{}", ended.complained);
    ended.refused(5, &[&store, "cannot be written", "right to write"]);
}

/// A store with a sheet cut, and its events.
fn used_store() -> (Workshop, Vec<Event>) {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    Operator::owner(&client).walk_sheets(1);
    let events = client.all_events();
    assert!(shop.end().success());
    (shop, events)
}

fn copy_all(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let into = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy_all(&path, &into);
        } else {
            std::fs::copy(&path, into).unwrap();
        }
    }
}

/// A copy of the store under a name of its own.
fn copied(shop: &Workshop, name: &str) -> PathBuf {
    let copy = shop.path(name);
    copy_all(&shop.path("store"), &copy);
    copy
}

/// CRC-32 of IEEE 802.3, bit by bit: 0xEDB88320 reflected, begun and ended with all ones.
fn crc32(bytes: impl Iterator<Item = u8>) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xEDB8_8320 } else { crc >> 1 };
        }
    }
    !crc
}

#[test]
fn a_newer_store_is_left_alone() {
    let (shop, events) = used_store();
    let mut event = serde_json::to_value(events.last().unwrap()).unwrap();
    event["v"] = json!(99);
    let mut newer_event = Vec::new();
    let whole = std::fs::read(shop.path("store/journal")).unwrap();
    let next = records(&whole).len() as u64;
    event["seq"] = json!(next);
    frame::write(&mut newer_event, 0, next, event.to_string().as_bytes());
    let mut newer_format = newer_event.clone();
    newer_format[5] = 9;
    let covered = newer_format[4..20].iter().chain(&newer_format[HEAD..]).copied();
    let crc = crc32(covered);
    newer_format[20..24].copy_from_slice(&crc.to_be_bytes());
    for (name, frame, found) in [("event", newer_event, "99"), ("format", newer_format, "9")] {
        let store = copied(&shop, &format!("newer-{name}"));
        let bytes = [whole.as_slice(), &frame].concat();
        std::fs::write(store.join("journal"), &bytes).unwrap();
        let ended = shop.run_to_end(&["--store", &store.display().to_string()]);
        println!("{name}: {}", ended.complained.lines().last().unwrap_or_default());
        ended.refused(5, &["newer Chargehand", &format!("version {found}")]);
        assert_eq!(std::fs::read(store.join("journal")).unwrap(), bytes, "nothing was changed");
    }
}

/// Where the records of a journal begin, the header included.
fn records(bytes: &[u8]) -> Vec<usize> {
    let mut places = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        places.push(at);
        at += HEAD + frame::head(&bytes[at..]).unwrap().length;
    }
    places
}

/// How many events are left whole when a journal is cut in a record, or that record is harmed: an append counts whole or
/// not at all.
fn whole_before(bytes: &[u8], places: &[usize], mut record: usize) -> usize {
    while record > 1 && frame::head(&bytes[places[record - 1]..]).unwrap().rest > 0 {
        record -= 1;
    }
    record - 1
}

/// Starts on a store whose journal was harmed. Either it says that it is damaged, and a rescue brings out what was
/// written and nothing else; or only its end is gone, what is served is what was written, and it says so.
fn told_or_rescued(shop: &mut Workshop, store: &Path, events: &[Event], left: usize, what: &str) {
    let named = store.display().to_string();
    let harmed = std::fs::read(store.join("journal")).unwrap();
    shop.begin(&["--store", &named]);
    if let Some(client) = shop.answers_or_ends() {
        let found = client.all_events();
        let log = shop.log();
        let same = found.iter().zip(events).take_while(|(a, b)| a == b).count();
        assert_eq!(same, left.min(events.len()), "{what}\n{log}");
        // what comes after it was written by this start
        assert!(found[same..].iter().all(|e| !events.contains(e)), "{what}: out of order");
        let told = log.contains("were cut off and kept in") || log.contains("ahead of the journal");
        assert!(same == events.len() || told, "{what}: {same} of {} served, and nothing said\n{log}", events.len());
        println!("{what}: {same} of {} are served, and it says so", events.len());
        shop.kill();
        return;
    }
    let log = shop.log();
    let said = log.lines().last().unwrap_or_default();
    println!("{what}: {said}");
    assert!(said.contains("is damaged") && said.contains("--rescue"), "{what}: {log}");
    assert_eq!(std::fs::read(store.join("journal")).unwrap(), harmed, "{what}: nothing was changed");
    let into = shop.path(&format!("rescued-{}", what.replace(' ', "-")));
    let into = into.display().to_string();
    let ended = shop.run_to_end(&["--store", &named, "--rescue", &into]);
    assert_eq!(ended.code, Some(0), "{what}: {ended:?}");
    assert!(ended.said.contains("records were brought into") && ended.said.contains("not readable"), "{ended:?}");
    let client = shop.start_with(&["--store", &into]);
    let found = client.all_events();
    let known = |e: &&Event| events.iter().any(|k| k.id == e.id);
    let saved = found.iter().filter(known).count();
    println!("{what}: {saved} of {} rescued", events.len());
    assert!(saved + 2 >= events.len(), "{what}: one record was harmed, {saved} of {} came out", events.len());
    for event in found.iter().filter(known) {
        let before = events.iter().find(|k| k.id == event.id).unwrap();
        assert_eq!((&event.what, &event.sheet, event.at), (&before.what, &before.sheet, before.at), "{what}");
    }
    shop.kill();
}

#[test]
fn a_harmed_journal_is_never_served_wrong() {
    let (mut shop, events) = used_store();
    let whole = std::fs::read(shop.path("store/journal")).unwrap();
    let places = records(&whole);
    let (half, last) = (places.len() / 2, places.len() - 1);
    let middle = places[half];
    for (what, at) in [
        ("flip early", places[2] + HEAD + 9),
        ("flip a length", middle + 17),
        ("flip a magic", middle),
        ("flip the last record", places[last] + HEAD + 3),
    ] {
        let store = copied(&shop, &format!("store-{}", what.replace(' ', "-")));
        let mut harmed = whole.clone();
        harmed[at] ^= 0x10;
        std::fs::write(store.join("journal"), harmed).unwrap();
        told_or_rescued(&mut shop, &store, &events, whole_before(&whole, &places, last), what);
    }
    for (what, end) in [("cut in a record", middle + 11), ("cut between records", middle)] {
        let store = copied(&shop, &format!("store-{}", what.replace(' ', "-")));
        std::fs::write(store.join("journal"), &whole[..end]).unwrap();
        told_or_rescued(&mut shop, &store, &events, whole_before(&whole, &places, half), what);
    }
    let store = copied(&shop, "store-emptied");
    std::fs::write(store.join("journal"), b"").unwrap();
    shop.run_to_end(&["--store", &store.display().to_string()])
        .refused(5, &["is damaged", "its header cannot be read"]);
    std::fs::remove_file(store.join("journal")).unwrap();
    shop.run_to_end(&["--store", &store.display().to_string()]).refused(5, &["the file is missing"]);
}

#[test]
fn a_harmed_index_costs_nothing() {
    let (mut shop, events) = used_store();
    let db = std::fs::read(shop.path("store/index/db")).unwrap();
    let used = db.iter().rposition(|b| *b != 0).unwrap_or(0);
    let mut harms: Vec<(String, Vec<u8>)> = vec![("emptied".to_owned(), Vec::new())];
    for fifth in 1..5 {
        let at = used * fifth / 5;
        let mut flipped = db.clone();
        flipped[at] ^= 0x20;
        harms.push((format!("flipped at {at}"), flipped));
        harms.push((format!("cut at {at}"), db[..at].to_vec()));
    }
    for (what, bytes) in harms {
        let store = copied(&shop, &format!("index-{}", what.replace(' ', "-")));
        std::fs::write(store.join("index/db"), bytes).unwrap();
        let client = shop.start_with(&["--store", &store.display().to_string()]);
        let found = client.all_events();
        assert_eq!(found[..events.len()], events[..], "{what}");
        assert_eq!(client.history().sheets.len(), 1, "{what}: the state is the journal's");
        println!("{what}: {}", shop.log().lines().find(|l| l.contains("index")).unwrap_or("nothing to say"));
        shop.kill();
    }
}

/// A daemon that is killed anywhere between the last grade and the sheet's end: whoever comes next closes the sheet.
#[test]
fn a_sheet_whose_last_part_is_graded_is_closed_after_a_kill() {
    let (mut shop, events) = used_store();
    let whole = std::fs::read(shop.path("store/journal")).unwrap();
    let last = events.iter().rposition(|e| matches!(e.what, What::PartChecked { .. })).unwrap();
    let sheet = events[last].sheet.clone().unwrap();
    let closed =
        |e: &Event| e.sheet.as_ref() == Some(&sheet) && matches!(e.what, What::SheetStage { to: Stage::Closed, .. });
    let ends = events.iter().rposition(closed).unwrap();
    // behind the header, a record an event; an append is there whole or not at all
    let places = records(&whole);
    let is_whole = |kept: &usize| frame::head(&whole[places[*kept]..]).unwrap().rest == 0;
    let killed: Vec<usize> = (last + 1..=ends + 1).filter(is_whole).collect();
    assert!(killed.len() > 1, "more than one append lies between the two: {killed:?}");
    for kept in killed {
        let store = copied(&shop, &format!("killed-{kept}"));
        let end = places.get(kept + 1).copied().unwrap_or(whole.len());
        std::fs::write(store.join("journal"), &whole[..end]).unwrap();
        let client = shop.start_with(&["--store", &store.display().to_string()]);
        assert_eq!(client.all_events()[..kept], events[..kept]);
        let mut owner = Operator::owner(&client);
        owner.walk("the sheet is closed", |_, n| n.sheet.is_none());
        let history = client.history();
        let record = history.sheets.iter().find(|s| s.sheet == sheet).unwrap();
        assert_eq!((record.grade, record.parts.len()), (Some(Grade::Good), 2), "cut behind event {kept}");
        assert_eq!(client.all_events().iter().filter(|e| closed(e)).count(), 1, "it ends once");
        let remains = |e: &&Event| e.sheet.as_ref() == Some(&sheet) && matches!(e.what, What::SheetRemains { .. });
        assert!(client.all_events().iter().filter(remains).count() >= 1, "what is left of it is offered");
        shop.kill();
    }
}

#[test]
fn a_harmed_program_is_not_sent_and_mended_by_adding_it_again() {
    let (mut shop, _) = used_store();
    let mut harmed = 0;
    for sub in std::fs::read_dir(shop.path("store/programs")).unwrap() {
        for file in std::fs::read_dir(sub.unwrap().path()).unwrap() {
            let path = file.unwrap().path();
            let mut bytes = std::fs::read(&path).unwrap();
            if harmed % 2 == 0 {
                bytes[5] ^= 1;
            } else {
                bytes.truncate(bytes.len() / 2);
            }
            std::fs::write(&path, bytes).unwrap();
            harmed += 1;
        }
    }
    assert_eq!(harmed, 2);
    let client = shop.start();
    let problem = client.add_batch(CARD, 1).unwrap_err();
    println!("{problem}");
    assert!(problem.detail.contains("was changed on disk and will not be sent"), "{problem}");
    client.add_card(&shop.card()).unwrap();
    let problem = client.add_batch(CARD, 1);
    println!("after adding the card again: {problem:?}");
    problem.unwrap();
}
