//! The journal packed away: the same events before and after, whatever is cut short, and harm is noticed.

use super::shift;
use crate::ledger::fault::LedgerFault;
use crate::ledger::frame;
use crate::ledger::journal::{self, Header, Journal};
use crate::ledger::pages::FilePages;
use crate::ledger::{Ledger, rescue};
use chargehand_types::event::Event;
use chargehand_types::id::Seq;
use std::path::{Path, PathBuf};

/// More than one block, several times over.
const SHIFTS: usize = 12;

fn open(path: &Path) -> Result<Journal<FilePages>, LedgerFault> {
    let pages = FilePages::open(path).map_err(|e| LedgerFault::io("opening", path, &e))?;
    Journal::open(pages).map(|(journal, words)| {
        assert_eq!(words, Vec::<String>::new());
        journal
    })
}

fn work(journal: &mut Journal<FilePages>, shifts: usize) {
    for append in std::iter::repeat_n(shift::appends(), shifts).flatten() {
        journal.append(append).unwrap();
    }
}

fn events(journal: &Journal<FilePages>) -> Vec<Event> {
    journal.events_after(Seq(0), 10_000).unwrap()
}

/// A journal of some shifts, not sealed.
fn written(dir: &Path) -> (PathBuf, Journal<FilePages>) {
    let path = dir.join("journal");
    journal::create(&path, &Header { journal: "beef".into(), made_by: "a test".into() }).unwrap();
    let mut journal = open(&path).unwrap();
    work(&mut journal, SHIFTS);
    (path, journal)
}

#[test]
fn the_journal_is_the_same_before_and_after() {
    let dir = tempfile::tempdir().unwrap();
    let (path, mut journal) = written(dir.path());
    let before = events(&journal);
    let plain = std::fs::metadata(&path).unwrap().len();
    assert!(plain > 600_000, "several blocks: {plain}");
    journal.seal().unwrap();
    assert_eq!(journal.unsealed(), 0);
    assert_eq!(events(&journal), before, "in the same journal");
    let packed = std::fs::metadata(dir.path().join("sealed/000001")).unwrap().len();
    assert!(std::fs::metadata(&path).unwrap().len() < 100 && packed < plain / 4, "{packed} of {plain}");

    // it goes on, is sealed again, and still is one journal
    work(&mut journal, 1);
    let more = events(&journal);
    assert_eq!(more[..before.len()], before[..]);
    drop(journal);
    let mut again = open(&path).unwrap();
    assert_eq!(events(&again), more);
    assert_eq!(again.last(), more.last().unwrap().seq);
    again.seal().unwrap();
    drop(again);
    let again = open(&path).unwrap();
    assert_eq!(events(&again), more);
    for seq in [1, before.len() as u64, more.len() as u64] {
        assert_eq!(again.events_after(Seq(seq - 1), 1).unwrap()[0], more[usize::try_from(seq).unwrap() - 1]);
    }
}

#[test]
fn a_sealing_cut_short_loses_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let (path, mut journal) = written(dir.path());
    let before = events(&journal);
    let plain = std::fs::read(&path).unwrap();
    journal.seal().unwrap();
    drop(journal);
    // the stretch was written, and the journal not yet begun anew
    std::fs::write(&path, &plain).unwrap();
    let mut journal = open(&path).unwrap();
    assert_eq!(events(&journal), before);
    work(&mut journal, 1);
    let more = events(&journal);
    journal.seal().unwrap();
    assert_eq!(events(&journal), more);
    drop(journal);
    assert_eq!(events(&open(&path).unwrap()), more);
}

#[test]
fn a_torn_tail_behind_it_is_cut_off() {
    let dir = tempfile::tempdir().unwrap();
    let (path, mut journal) = written(dir.path());
    journal.seal().unwrap();
    let before = events(&journal);
    work(&mut journal, 1);
    drop(journal);
    let bytes = std::fs::read(&path).unwrap();
    let link = frame::link(0).len();
    std::fs::write(&path, &bytes[..link + 30]).unwrap();
    let (journal, words) = Journal::open(FilePages::open(&path).unwrap()).unwrap();
    assert_eq!(words.len(), 1, "{words:?}");
    assert_eq!(events(&journal), before);
    drop(journal);
    assert_eq!(std::fs::metadata(&path).unwrap().len(), link as u64);
}

#[test]
fn harm_is_noticed_and_the_rest_is_saved() {
    let dir = tempfile::tempdir().unwrap();
    let store = dir.path().join("store");
    let (ledger, _) = Ledger::open(&store).unwrap();
    for append in std::iter::repeat_n(shift::appends(), SHIFTS).flatten() {
        ledger.append_blocking(append).unwrap();
    }
    ledger.close_blocking();
    let path = store.join("journal");
    let mut journal = open(&path).unwrap();
    let before = events(&journal);
    journal.seal().unwrap();
    drop(journal);
    let sealed = store.join("sealed/000001");
    let whole = std::fs::read(&sealed).unwrap();

    // a block, the table, the trailer, a missing file: each is refused with a word about rescue
    let mut harmed = whole.clone();
    harmed[500] ^= 4;
    std::fs::write(&sealed, &harmed).unwrap();
    let journal = Journal::open(FilePages::open(&path).unwrap());
    let told = match journal {
        Ok((journal, _)) => journal.events_after(Seq(0), 10_000).unwrap_err(),
        Err(fault) => fault,
    };
    assert!(told.to_string().contains("--rescue"), "{told}");
    for at in [whole.len() - 60, whole.len() - 20, whole.len() - 2] {
        let mut harmed = whole.clone();
        harmed[at] ^= 1;
        std::fs::write(&sealed, &harmed).unwrap();
        let told = Ledger::open(&store).unwrap_err();
        assert!(told.to_string().contains("--rescue"), "{at}: {told}");
    }

    // what is in the other blocks is saved
    std::fs::write(&sealed, &harmed).unwrap();
    let into = dir.path().join("saved");
    let rescued = rescue(&store, &into).unwrap();
    let saved = usize::try_from(rescued.records).unwrap();
    assert!(saved < before.len() && saved * 3 > before.len(), "{saved} of {}", before.len());
    assert!(!rescued.lost.is_empty());
    let (ledger, _) = Ledger::open(&into).unwrap();
    assert_eq!(ledger.events_after_blocking(Seq(0), 10_000).unwrap().len(), saved);
    ledger.close_blocking();

    std::fs::write(&sealed, &whole).unwrap();
    let (ledger, opening) = Ledger::open(&store).unwrap();
    assert_eq!(opening.words, Vec::<String>::new());
    assert_eq!(ledger.events_after_blocking(Seq(0), 10_000).unwrap(), before);
    ledger.close_blocking();
}

#[test]
fn a_build_without_sealing_says_that_this_is_newer() {
    // what an older build would read first: a whole frame of a later format
    let link = frame::link(77);
    let (head, _) = frame::read(&link).unwrap();
    assert!(head.format > frame::FORMAT && head.sequence == 0);
    assert_eq!(frame::linked(&link).unwrap(), (77, link.len()));
}
