//! A backup of a store in use, and back.

use super::shift;
use crate::ledger::fault::LedgerFault;
use crate::ledger::restore::{UNDER_WAY, judge, restore};
use crate::ledger::{Ledger, State};
use chargehand_types::event::{Event, What};
use chargehand_types::id::Seq;
use std::path::{Path, PathBuf};

const PROGRAM: &[u8] = b"G21\nG0 X1\nM30\n";

/// A store with the shift in it and a program that its card names.
fn store(dir: &Path) -> Ledger {
    let (ledger, _) = Ledger::open(dir).unwrap();
    let kept = ledger.put_program_blocking(PROGRAM.to_vec()).unwrap();
    for mut append in shift::appends() {
        for draft in &mut append {
            if let What::CardAdded { programs, .. } = &mut draft.what {
                programs[0].sha256.clone_from(&kept);
            }
        }
        ledger.append_blocking(append).unwrap();
    }
    for draft in shift::books() {
        ledger.append_blocking(vec![draft]).unwrap();
    }
    ledger
}

fn all(ledger: &Ledger) -> Vec<Event> {
    ledger.events_after_blocking(Seq(0), 10_000).unwrap()
}

fn backed_up(ledger: &Ledger, meanwhile: impl FnOnce()) -> Vec<u8> {
    let sound = ledger.snapshot_blocking().unwrap().look_through().unwrap();
    meanwhile();
    let mut bytes = Vec::new();
    sound
        .give(|piece| {
            bytes.extend(piece);
            true
        })
        .unwrap();
    bytes
}

/// A backup in a file, and the folder it lies in.
fn backup_file() -> (tempfile::TempDir, PathBuf, Vec<Event>, State) {
    let dir = tempfile::tempdir().unwrap();
    let ledger = store(&dir.path().join("store"));
    let events = all(&ledger);
    // what is written while it is made is not in it, and harms nothing
    let bytes = backed_up(&ledger, || {
        ledger.append_blocking(shift::appends().swap_remove(0)).unwrap();
    });
    ledger.close_blocking();
    let mut state = State::default();
    events.iter().for_each(|e| state.apply(e));
    let file = dir.path().join("shop.backup");
    std::fs::write(&file, bytes).unwrap();
    (dir, file, events, state)
}

#[test]
fn a_backup_brings_everything_back() {
    let (dir, file, events, state) = backup_file();
    let contents = judge(&file).unwrap();
    assert_eq!((contents.head.last, contents.tail.programs), (Seq(events.len() as u64), 1));
    let into = dir.path().join("new/store");
    assert_eq!(restore(&file, &into).unwrap(), contents);
    let (ledger, opening) = Ledger::open(&into).unwrap();
    assert_eq!(all(&ledger), events, "record for record, ids and places included");
    assert_eq!(opening.state, state);
    // every event since the first is in it, the books' own included, and none names anything unknown
    assert_eq!(events[0].seq, Seq(1));
    assert!(events.windows(2).all(|two| two[1].seq.0 == two[0].seq.0 + 1));
    assert!(events.iter().any(|e| matches!(e.what, What::SheetBrought { .. })));
    assert_eq!((state.misfits().count, state.numbered_bits().count()), (0, 1));
    assert_eq!(state.sheet(&"B1-1".into()).unwrap().corrections.len(), 1);
    let sha256 = &opening.state.card(&shift::CARD.into()).unwrap().newest().unwrap().programs[0].sha256;
    assert_eq!(ledger.program_blocking(sha256).unwrap(), PROGRAM);
    // and the restored store goes on where it was
    let next = ledger.append_blocking(shift::appends().swap_remove(0)).unwrap();
    assert_eq!(next[0].seq, Seq(events.len() as u64 + 1));
    ledger.close_blocking();
}

#[test]
fn a_damaged_backup_writes_nothing() {
    let (dir, file, ..) = backup_file();
    let bytes = std::fs::read(&file).unwrap();
    let into = dir.path().join("new");
    let refused = |harmed: &[u8], what: String| {
        std::fs::write(&file, harmed).unwrap();
        let fault = restore(&file, &into).unwrap_err();
        assert!(matches!(fault, LedgerFault::Backup { .. }), "{what}: {fault}");
        assert!(fault.to_string().contains("shop.backup"), "{what}: {fault}");
        assert!(!into.exists(), "{what}: nothing was written");
    };
    for end in (0..bytes.len()).step_by(97) {
        refused(&bytes[..end], format!("cut at {end}"));
    }
    for at in (0..bytes.len()).step_by(89) {
        let mut harmed = bytes.clone();
        harmed[at] ^= 1 << (at % 8);
        refused(&harmed, format!("byte {at}"));
    }
    refused(&[bytes.as_slice(), b"x"].concat(), "one byte more".to_owned());
}

#[test]
fn only_an_empty_folder_is_restored_into() {
    let (dir, file, events, _) = backup_file();
    let used = dir.path().join("store");
    let before = std::fs::read(used.join("journal")).unwrap();
    let fault = restore(&file, &used).unwrap_err();
    assert!(matches!(fault, LedgerFault::NotEmpty { .. }), "{fault}");
    assert_eq!(std::fs::read(used.join("journal")).unwrap(), before, "it is left as it is");
    let (ledger, _) = Ledger::open(&used).unwrap();
    let fault = restore(&file, &used).unwrap_err();
    assert!(matches!(fault, LedgerFault::Locked { .. }), "a daemon has it: {fault}");
    ledger.close_blocking();
    let empty = dir.path().join("empty");
    std::fs::create_dir(&empty).unwrap();
    assert_eq!(restore(&file, &empty).unwrap().head.last, Seq(events.len() as u64));
}

#[test]
fn a_restore_cut_short_is_begun_again() {
    let (dir, file, events, _) = backup_file();
    let into = dir.path().join("new");
    restore(&file, &into).unwrap();
    // as it lies there when the power goes before the last step
    std::fs::write(into.join(UNDER_WAY), "shop.backup\n").unwrap();
    std::fs::write(into.join("journal"), b"half").unwrap();
    let fault = Ledger::open(&into).unwrap_err();
    assert!(fault.to_string().contains("restore it again"), "{fault}");
    restore(&file, &into).unwrap();
    let (ledger, _) = Ledger::open(&into).unwrap();
    assert_eq!(all(&ledger), events);
    ledger.close_blocking();
}

#[test]
fn a_program_that_is_harmed_is_left_out_and_told() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = store(&dir.path().join("store"));
    let sha256 = ledger.put_program_blocking(PROGRAM.to_vec()).unwrap();
    let path = dir.path().join("store/programs").join(&sha256[..2]).join(&sha256[2..]);
    std::fs::write(path, b"G21\nG0 X9\nM30\n").unwrap();
    let file = dir.path().join("shop.backup");
    std::fs::write(&file, backed_up(&ledger, || ())).unwrap();
    let contents = judge(&file).unwrap();
    assert_eq!(contents.tail.programs, 0, "changed bytes are never given out");
    assert!(contents.tail.left_out[0].contains("of card plant-stand-side"), "{:?}", contents.tail.left_out);
    ledger.close_blocking();
}

#[test]
fn a_harmed_journal_is_no_source_of_a_backup() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = store(&dir.path().join("store"));
    let path = dir.path().join("store/journal");
    let mut bytes = std::fs::read(&path).unwrap();
    let at = bytes.len() / 2;
    bytes[at] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let fault = ledger.snapshot_blocking().unwrap().look_through().err().unwrap();
    assert!(matches!(fault, LedgerFault::Damaged { .. }), "{fault}");
    ledger.close_blocking();
}
