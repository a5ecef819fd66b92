//! The store in a real folder, through its thread.

use super::shift;
use crate::ledger::fault::LedgerFault;
use crate::ledger::fold::State;
use crate::ledger::{Ledger, Opening, Progress};
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;
use chargehand_types::quantity::Tick;
use std::path::Path;

/// Writes the whole shift, closes, and answers the fold of what was told.
fn work_a_shift(dir: &Path) -> State {
    let (ledger, opening) = Ledger::open(dir).unwrap();
    let mut state = opening.state;
    for append in shift::appends() {
        for event in ledger.append_blocking(append).unwrap() {
            state.apply(&event);
        }
    }
    ledger.close_blocking();
    state
}

fn reopen(dir: &Path) -> (Ledger, Opening) {
    Ledger::open(dir).unwrap()
}

#[test]
fn restart_folds_to_the_same_state() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.state, before);
    assert_eq!(opening.words, Vec::<String>::new());
    let events: Vec<Event> = ledger.events_after_blocking(Seq(0), 10_000).unwrap();
    let mut folded = State::default();
    events.iter().for_each(|e| folded.apply(e));
    assert_eq!(folded, before, "the index tells what the journal tells");
    ledger.close_blocking();
}

#[test]
fn the_index_goes_on_where_it_stands() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    let (ledger, _) = reopen(dir.path());
    ledger.close_blocking();
    // a second shift on top: the same batch names come again and are only longer
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.state, before);
    let mut state = opening.state;
    for event in ledger.append_blocking(shift::drafts()).unwrap() {
        state.apply(&event);
    }
    ledger.close_blocking();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!((opening.words, opening.state), (vec![], state));
    ledger.close_blocking();
}

#[test]
fn what_shrinks_leaves_nothing_behind() {
    // the floor's state is one value of the index, in pieces; a long one and then a short one
    let dir = tempfile::tempdir().unwrap();
    for length in [60_000, 10] {
        let (ledger, _) = reopen(dir.path());
        let mut append = shift::drafts();
        for draft in &mut append {
            if let What::SheetStage { floor, .. } = &mut draft.what {
                *floor = "x".repeat(length).into();
            }
        }
        ledger.append_blocking(append).unwrap();
        ledger.close_blocking();
    }
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.words, Vec::<String>::new());
    assert_eq!(opening.state.floor().unwrap().as_str().unwrap().len(), 10);
    ledger.close_blocking();
}

#[test]
fn many_commands_are_forgotten_in_the_index_too() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, opening) = reopen(dir.path());
    let mut state = opening.state;
    let plain = shift::drafts().swap_remove(0);
    for hundred in 0..25 {
        let append = (0..100).map(|n| {
            let command = format!("c-{hundred}-{n}");
            plain.clone().from_command(command.into(), None)
        });
        for event in ledger.append_blocking(append.collect()).unwrap() {
            state.apply(&event);
        }
    }
    ledger.close_blocking();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!((opening.words, opening.state), (vec![], state));
    ledger.close_blocking();
}

#[test]
fn a_copy_made_while_it_is_open_opens() {
    let (dir, copy) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    work_a_shift(dir.path());
    let (ledger, opening) = reopen(dir.path());
    let mut state = opening.state;
    for event in ledger.append_blocking(shift::drafts()).unwrap() {
        state.apply(&event);
    }
    for name in ["journal", "index/db", "index/conf"] {
        let to = copy.path().join(name);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(dir.path().join(name), to).unwrap();
    }
    let (copied, opening) = reopen(copy.path());
    assert_eq!(opening.state, state);
    copied.close_blocking();
    ledger.close_blocking();
}

#[test]
fn a_missing_index_is_built_anew() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    std::fs::remove_dir_all(dir.path().join("index")).unwrap();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.state, before);
    assert_eq!(opening.words, ["The index was built anew from the journal: it was missing."]);
    ledger.close_blocking();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!((opening.state, opening.words), (before, vec![]));
    ledger.close_blocking();
}

#[test]
fn a_garbled_index_is_built_anew() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    let db = dir.path().join("index/db");
    let whole = std::fs::read(&db).unwrap();
    let garbles: [fn(&mut Vec<u8>); 4] = [
        |b| b.clear(),
        |b| b.truncate(300),
        |b| b.fill(0xA5),
        |b| {
            for at in (0..b.len()).step_by(97) {
                b[at] ^= 0x5A;
            }
        },
    ];
    for (nth, garble) in garbles.into_iter().enumerate() {
        let mut bytes = whole.clone();
        garble(&mut bytes);
        std::fs::write(&db, bytes).unwrap();
        let (ledger, opening) = reopen(dir.path());
        assert_eq!(opening.state, before, "garble {nth}");
        assert_eq!(opening.words.len(), 1, "garble {nth}: {:?}", opening.words);
        assert!(opening.words[0].contains("built anew"), "{:?}", opening.words);
        ledger.close_blocking();
    }
}

#[test]
fn a_flipped_bit_in_the_index_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    let db = dir.path().join("index/db");
    let whole = std::fs::read(&db).unwrap();
    let used = whole.iter().rposition(|b| *b != 0).unwrap();
    for at in (0..used).step_by(used / 20) {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x10;
        std::fs::write(&db, bytes).unwrap();
        let (ledger, opening) = reopen(dir.path());
        assert_eq!(opening.state, before, "byte {at}");
        ledger.close_blocking();
    }
}

#[test]
fn an_index_ahead_of_the_journal_is_built_anew() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, _) = reopen(dir.path());
    ledger.append_blocking(shift::appends().swap_remove(0)).unwrap();
    ledger.close_blocking();
    let early = std::fs::read(dir.path().join("journal")).unwrap();
    let (ledger, opening) = reopen(dir.path());
    let state = opening.state;
    ledger.append_blocking(shift::appends().swap_remove(1)).unwrap();
    ledger.close_blocking();
    std::fs::write(dir.path().join("journal"), early).unwrap();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.state, state);
    assert!(opening.words[0].contains("ahead of the journal"), "{:?}", opening.words);

    // the same place, another event
    ledger.append_blocking(shift::appends().swap_remove(2)).unwrap();
    ledger.close_blocking();
    let other = std::fs::read(dir.path().join("journal")).unwrap();
    let (ledger, _) = reopen(dir.path());
    ledger.close_blocking();
    let early = other.len();
    let (ledger, _) = reopen(dir.path());
    ledger.close_blocking();
    assert_eq!(std::fs::read(dir.path().join("journal")).unwrap().len(), early);
}

#[test]
fn an_index_of_another_journal_is_built_anew() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let before = work_a_shift(one.path());
    work_a_shift(two.path());
    std::fs::remove_dir_all(one.path().join("index")).unwrap();
    std::fs::rename(two.path().join("index"), one.path().join("index")).unwrap();
    let (ledger, opening) = reopen(one.path());
    assert_eq!(opening.state, before);
    assert!(opening.words[0].contains("another journal"), "{:?}", opening.words);
    ledger.close_blocking();
}

#[test]
fn one_daemon_to_a_store() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, _) = reopen(dir.path());
    let fault = Ledger::open(dir.path()).unwrap_err();
    let process = Some(std::process::id());
    assert!(matches!(&fault, LedgerFault::Locked { process: p, .. } if *p == process), "{fault}");
    ledger.close_blocking();
    let (again, _) = reopen(dir.path());
    again.close_blocking();
}

#[test]
fn a_journal_gone_from_a_used_store_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    work_a_shift(dir.path());
    std::fs::remove_file(dir.path().join("journal")).unwrap();
    let fault = Ledger::open(dir.path()).unwrap_err();
    assert!(fault.to_string().contains("the file is missing"), "{fault}");
    assert!(!dir.path().join("journal").exists());
}

#[test]
fn a_torn_tail_is_kept_beside_the_journal() {
    let dir = tempfile::tempdir().unwrap();
    let before = work_a_shift(dir.path());
    let path = dir.path().join("journal");
    let mut bytes = std::fs::read(&path).unwrap();
    let whole = bytes.len();
    bytes.extend(b"\xFFCHJ\0\x01 half a record");
    std::fs::write(&path, &bytes).unwrap();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.state, before);
    assert_eq!(opening.words.len(), 1);
    let kept = std::fs::read(dir.path().join("journal-1.torn")).unwrap();
    assert_eq!(kept, bytes[whole..]);
    ledger.close_blocking();
}

#[test]
fn programs_and_progress_outlive_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.progress, None);
    let sha = ledger.put_program_blocking(b"G0 X1\n".to_vec()).unwrap();
    let progress = Progress {
        sheet: "B1-1".into(),
        operation: 1,
        sent: Some(30),
        acknowledged: Some(20),
        done: Some(10),
        at: None,
        tick: Tick(7),
    };
    ledger.progress(progress.clone());
    ledger.close_blocking();
    let (ledger, opening) = reopen(dir.path());
    assert_eq!(opening.progress, Some(progress));
    assert_eq!(ledger.program_blocking(&sha).unwrap(), b"G0 X1\n");
    assert!(matches!(ledger.program_blocking("00"), Err(LedgerFault::NoProgram { .. })));
    ledger.close_blocking();
}

#[test]
fn a_closed_store_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, _) = reopen(dir.path());
    ledger.close_blocking();
    assert_eq!(ledger.append_blocking(shift::drafts()), Err(LedgerFault::Closed));
}

#[tokio::test]
async fn the_order_of_calls_is_the_order_of_events() {
    let dir = tempfile::tempdir().unwrap();
    let (ledger, _) = reopen(dir.path());
    let mut appends = shift::appends().into_iter();
    let first = ledger.append(appends.next().unwrap());
    let second = ledger.append(appends.next().unwrap());
    assert_eq!(second.await.unwrap()[0].seq, Seq(2), "polled first, yet second");
    assert_eq!(first.await.unwrap()[0].seq, Seq(1));
    drop(ledger.append(appends.next().unwrap()));
    let events = ledger.events_after(Seq(0), 10).await.unwrap();
    assert_eq!(events.len(), 3, "nobody waited, yet it is written");
    ledger.close().await.unwrap();
}
