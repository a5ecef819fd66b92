//! Saving what can be read out of a damaged store.

use super::shift;
use crate::ledger::fault::LedgerFault;
use crate::ledger::frame::{self, HEAD};
use crate::ledger::{Ledger, rescue};
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;
use std::path::Path;

/// A store with the shift in it and two programs named by a card, and its events.
fn store(dir: &Path) -> Vec<Event> {
    let (ledger, _) = Ledger::open(dir).unwrap();
    let kept = ledger.put_program_blocking(b"G0 X1\n".to_vec()).unwrap();
    let mut events = Vec::new();
    for mut append in shift::appends() {
        for draft in &mut append {
            if let What::CardAdded { programs, .. } = &mut draft.what {
                let mut lost = programs[0].clone();
                lost.path = "outlines.nc".into();
                programs[0].sha256.clone_from(&kept);
                programs.push(lost);
            }
        }
        events.extend(ledger.append_blocking(append).unwrap());
    }
    ledger.close_blocking();
    events
}

/// Where each record of a journal begins, the header included.
fn places(bytes: &[u8]) -> Vec<usize> {
    let mut places = vec![];
    let mut at = 0;
    while at < bytes.len() {
        places.push(at);
        at += HEAD + frame::head(&bytes[at..]).unwrap().length;
    }
    places
}

#[test]
fn every_readable_record_is_saved() {
    let dir = tempfile::tempdir().unwrap();
    let (from, into) = (dir.path().join("store"), dir.path().join("saved"));
    let before = store(&from);
    let path = from.join("journal");
    let mut bytes = std::fs::read(&path).unwrap();
    let places = places(&bytes);
    bytes[places[3] + HEAD + 2] ^= 1; // record 3's payload
    bytes[places[10] + 17] ^= 0x40; // record 10's length
    std::fs::write(&path, &bytes).unwrap();
    let fault = Ledger::open(&from).unwrap_err();
    assert!(fault.to_string().contains("--rescue"), "{fault}");

    let rescued = rescue(&from, &into).unwrap();
    assert_eq!(rescued.records, before.len() as u64 - 2);
    assert_eq!(rescued.lost.len(), 3, "{:?}", rescued.lost);
    assert!(rescued.lost[0].contains("checksum"), "{:?}", rescued.lost);
    assert!(rescued.lost[2].contains("outlines.nc of card plant-stand-side"), "{:?}", rescued.lost);
    assert_eq!(std::fs::read(&path).unwrap(), bytes, "the damaged store is left as it is");

    let (ledger, opening) = Ledger::open(&into).unwrap();
    let found = ledger.events_after_blocking(Seq(0), 10_000).unwrap();
    let lost = [3, 10];
    let kept = before.into_iter().filter(|e| !lost.contains(&e.seq.0));
    for ((found, kept), seq) in found.iter().zip(kept).zip(1..) {
        assert_eq!(*found, Event { seq: Seq(seq), ..kept }, "numbered anew, otherwise the same");
    }
    assert_eq!(opening.state.seq(), Seq(rescued.records));
    let card = opening.state.card(&shift::CARD.into()).unwrap();
    let sha256 = &card.newest().unwrap().programs[0].sha256;
    assert_eq!(ledger.program_blocking(sha256).unwrap(), b"G0 X1\n");
    ledger.close_blocking();
}

#[test]
fn a_healthy_store_is_saved_whole() {
    let dir = tempfile::tempdir().unwrap();
    let (from, into) = (dir.path().join("store"), dir.path().join("saved"));
    let before = store(&from);
    assert_eq!(rescue(&from, &into).unwrap().records, before.len() as u64);
    let again = rescue(&from, &into).unwrap_err();
    assert!(matches!(again, LedgerFault::NotEmpty { .. }), "{again}");
}

#[test]
fn a_store_in_use_is_not_rescued() {
    let dir = tempfile::tempdir().unwrap();
    let (from, into) = (dir.path().join("store"), dir.path().join("saved"));
    let (ledger, _) = Ledger::open(&from).unwrap();
    assert!(matches!(rescue(&from, &into), Err(LedgerFault::Locked { .. })));
    assert!(!into.exists());
    ledger.close_blocking();
}
