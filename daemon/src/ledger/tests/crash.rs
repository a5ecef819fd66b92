//! The scripted shift with the power gone at every operation of the disk.

use super::disk::{CrashDisk, Unsynced};
use super::shift;
use crate::ledger::draft::Draft;
use crate::ledger::fault::LedgerFault;
use crate::ledger::fold::State;
use crate::ledger::journal::Journal;
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;

/// Appends until the disk fails; the events somebody was told of.
fn run(journal: &mut Journal<CrashDisk>, appends: &[Vec<Draft>]) -> Vec<Event> {
    let mut told = Vec::new();
    for append in appends {
        match journal.append(append.clone()) {
            Ok(events) => told.extend(events),
            Err(_) => break,
        }
    }
    told
}

fn all(journal: &Journal<CrashDisk>) -> Vec<Event> {
    journal.events_after(Seq(0), usize::MAX).unwrap()
}

fn whats(drafts: &[Vec<Draft>]) -> Vec<What> {
    drafts.iter().flatten().map(|d| d.what.clone()).collect()
}

fn operations_of_the_shift() -> usize {
    let disk = CrashDisk::new();
    let (mut journal, _) = Journal::open(disk.clone()).unwrap();
    let told = run(&mut journal, &shift::appends());
    assert_eq!(told.len(), shift::drafts().len());
    disk.operations()
}

#[test]
fn no_crash_loses_or_doubles_an_event() {
    let appends = shift::appends();
    for crash in 0..operations_of_the_shift() {
        for unsynced in Unsynced::ALL {
            let disk = CrashDisk::new().crash_at(crash);
            let (mut journal, _) = Journal::open(disk.clone()).unwrap();
            let told = run(&mut journal, &appends);
            assert!(told.len() < shift::drafts().len(), "the power was cut");

            let (mut journal, _) = Journal::open(disk.after_power_cut(unsynced)).unwrap();
            let found = all(&journal);
            assert_eq!(found[..told.len()], told, "crash {crash}, {unsynced:?}: told, yet lost");
            let next = told_appends(&appends, found.len());
            let next = next.unwrap_or_else(|| panic!("crash {crash}, {unsynced:?}: half an append"));
            let untold = appends[..next].iter().flatten().count() - told.len();
            assert!(untold <= appends[next.saturating_sub(1)].len(), "at most one append more");

            run(&mut journal, &appends[next..]);
            let end: Vec<_> = all(&journal).into_iter().map(|e| e.what).collect();
            assert_eq!(end, whats(&appends), "crash {crash}, {unsynced:?}: the shift goes on");
        }
    }
}

/// How many whole appends make so many events.
fn told_appends(appends: &[Vec<Draft>], events: usize) -> Option<usize> {
    (0..=appends.len()).find(|n| appends[..*n].iter().flatten().count() == events)
}

#[test]
fn the_fold_of_what_is_found_is_the_fold_of_what_was_told() {
    let disk = CrashDisk::new();
    let (mut journal, _) = Journal::open(disk.clone()).unwrap();
    let mut live = State::default();
    for event in run(&mut journal, &shift::appends()) {
        live.apply(&event);
    }
    let (journal, words) = Journal::open(disk.after_power_cut(Unsynced::Lost)).unwrap();
    let mut found = State::default();
    for event in all(&journal) {
        found.apply(&event);
    }
    assert_eq!(found, live);
    assert!(words.is_empty());
}

#[test]
fn a_full_disk_latches_until_reopened() {
    let appends = shift::appends();
    let disk = CrashDisk::new().full_at(6);
    let (mut journal, _) = Journal::open(disk.clone()).unwrap();
    for append in &appends[..3] {
        journal.append(append.clone()).unwrap();
    }
    let first = journal.append(appends[3].clone()).unwrap_err();
    assert!(matches!(first, LedgerFault::Full { .. }), "{first}");
    let later = journal.append(appends[3].clone()).unwrap_err();
    assert_eq!(later, LedgerFault::Latched(Box::new(first.clone())));
    assert_eq!(journal.append(appends[3].clone()).unwrap_err(), later, "said once, not nested");
    assert_eq!(all(&journal).len(), 3, "what was told can still be read");

    let (mut journal, words) = Journal::open(disk.after_power_cut(Unsynced::Kept)).unwrap();
    assert!(words.is_empty(), "the half-written record was taken back: {words:?}");
    run(&mut journal, &appends[3..]);
    assert_eq!(all(&journal).len(), shift::drafts().len());
}

#[test]
fn event_ids_are_unique_and_places_gap_free() {
    let (mut journal, _) = Journal::open(CrashDisk::new()).unwrap();
    let told = run(&mut journal, &shift::appends());
    let ids: std::collections::BTreeSet<_> = told.iter().map(|e| e.id.clone()).collect();
    assert_eq!(ids.len(), told.len());
    for (nth, event) in (1..).zip(&told) {
        assert_eq!(event.seq, Seq(nth));
    }
    assert_eq!(journal.events_after(Seq(3), 2).unwrap(), told[3..5]);
    assert_eq!(journal.events_after(Seq(told.len() as u64), 5).unwrap(), []);
    assert_eq!(journal.events_after(Seq(u64::MAX), 5).unwrap(), []);
}

#[test]
fn what_would_not_read_back_is_not_written() {
    let disk = CrashDisk::new();
    let (mut journal, _) = Journal::open(disk.clone()).unwrap();
    let mut append = shift::appends().swap_remove(6);
    if let What::BatchAdded { weight, .. } = &mut append[0].what {
        *weight = f64::NAN;
    }
    let before = disk.live();
    let fault = journal.append(append).unwrap_err();
    assert!(matches!(fault, LedgerFault::Unwritable(_)), "{fault}");
    assert_eq!(disk.live(), before);
    journal.append(shift::appends().swap_remove(0)).unwrap();
}

#[test]
fn appends_have_a_limit() {
    let (mut journal, _) = Journal::open(CrashDisk::new()).unwrap();
    let one = shift::drafts().swap_remove(0);
    let fault = journal.append(vec![one.clone(); 1_001]).unwrap_err();
    assert_eq!(fault.to_string(), "one append (in events) has 1001, at most 1000 are taken");
    assert_eq!(journal.append(vec![one; 1_000]).unwrap().len(), 1_000);
    assert_eq!(journal.append(Vec::new()).unwrap(), []);
}
