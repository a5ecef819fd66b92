//! Journals of earlier builds must still open; those of later ones are refused with a sentence.

use super::disk::{CrashDisk, header};
use crate::ledger::fault::LedgerFault;
use crate::ledger::fold::State;
use crate::ledger::frame;
use crate::ledger::journal::Journal;
use chargehand_types::id::Seq;

/// A journal as the build before this one wrote it: the words of its events, one a line.
const V0: &str = include_str!("v0.jsonl");

fn holding(lines: &str) -> CrashDisk {
    let mut bytes = header().framed();
    for (sequence, line) in (1..).zip(lines.lines()) {
        frame::write(&mut bytes, 0, sequence, line.as_bytes());
    }
    CrashDisk::holding(bytes)
}

#[test]
fn an_old_journal_folds() {
    let (journal, words) = Journal::open(holding(V0)).unwrap();
    assert!(words.is_empty());
    let mut state = State::default();
    for event in journal.events_after(Seq(0), usize::MAX).unwrap() {
        state.apply(&event);
    }
    assert_eq!(state.seq(), Seq(4));
    let sheet = state.sheet(&"B1-1".into()).unwrap();
    assert_eq!(sheet.operators[0].who, "Wren".into());
    assert_eq!(state.misfits().count, 0);
}

#[test]
fn a_newer_event_is_refused() {
    let line = V0.lines().next().unwrap().replace("\"v\":0", "\"v\":9");
    let (journal, _) = Journal::open(holding(&line)).unwrap();
    let fault = journal.events_after(Seq(0), 1).unwrap_err();
    assert!(matches!(fault, LedgerFault::Newer { found: 9, known: 1, .. }), "{fault}");
}

#[test]
fn an_unknown_kind_is_refused() {
    let line = V0.lines().next().unwrap().replace("daemon.started", "daemon.danced");
    let (journal, _) = Journal::open(holding(&line)).unwrap();
    let fault = journal.events_after(Seq(0), 1).unwrap_err();
    assert!(fault.to_string().contains("daemon.danced"), "{fault}");
}
