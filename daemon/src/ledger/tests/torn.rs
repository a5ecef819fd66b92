//! What is cut off on opening, and what is refused.

use super::disk::{CrashDisk, header};
use super::shift;
use crate::ledger::fault::LedgerFault;
use crate::ledger::frame::{self, HEAD, MAGIC};
use crate::ledger::journal::Journal;
use chargehand_types::id::Seq;

/// A journal with the first appends of the shift, and where the last append begins.
fn written(appends: std::ops::Range<usize>) -> (Vec<u8>, usize) {
    let disk = CrashDisk::new();
    let (mut journal, _) = Journal::open(disk.clone()).unwrap();
    let mut last = 0;
    for append in &shift::appends()[appends] {
        last = disk.live().len();
        journal.append(append.clone()).unwrap();
    }
    (disk.live(), last)
}

#[test]
fn a_torn_tail_is_cut_off_and_kept() {
    let (bytes, last) = written(0..4);
    for end in last + 1..bytes.len() {
        let disk = CrashDisk::holding(bytes[..end].to_vec());
        let (journal, words) = Journal::open(disk.clone()).unwrap();
        assert_eq!(journal.last(), Seq(3), "cut at {end}");
        assert_eq!(disk.live(), bytes[..last]);
        assert_eq!(disk.aside(), [bytes[last..end].to_vec()], "nothing is thrown away");
        assert_eq!(words.len(), 1);
        assert!(words[0].contains("journal-1.torn"), "{words:?}");
        let (_, words) = Journal::open(disk).unwrap();
        assert!(words.is_empty(), "told once");
    }
}

#[test]
fn a_half_append_is_cut_off_whole() {
    // the last append of this stretch has two events; lose the second one
    let appends = shift::appends();
    let double = appends.iter().position(|a| a.len() == 2).unwrap();
    let (bytes, last) = written(0..double + 1);
    let first = frame::head(&bytes[last..]).unwrap();
    let cut = last + HEAD + first.length;
    for end in [cut, cut + 1, bytes.len() - 1] {
        let disk = CrashDisk::holding(bytes[..end].to_vec());
        let (journal, words) = Journal::open(disk.clone()).unwrap();
        assert_eq!(journal.last(), Seq(double as u64));
        assert_eq!(disk.live(), bytes[..last]);
        assert_eq!(words.len(), 1);
    }
}

#[test]
fn a_whole_tail_is_no_torn_one() {
    let (bytes, _) = written(0..4);
    let (journal, words) = Journal::open(CrashDisk::holding(bytes)).unwrap();
    assert_eq!((journal.last(), words.len()), (Seq(4), 0));
}

#[test]
fn a_flipped_bit_in_the_middle_is_refused() {
    let (bytes, last) = written(0..4);
    for at in header().framed().len()..last {
        let mut harmed = bytes.clone();
        harmed[at] ^= 1 << (at % 8);
        let disk = CrashDisk::holding(harmed.clone());
        let fault = Journal::open(disk.clone()).unwrap_err();
        assert!(matches!(fault, LedgerFault::Damaged { .. }), "byte {at}: {fault}");
        let said = fault.to_string();
        assert!(said.contains("--rescue") && said.contains("at byte "), "{said}");
        assert_eq!(disk.live(), harmed, "nothing is changed");
    }
}

#[test]
fn a_flipped_bit_in_the_header_is_refused() {
    let (bytes, _) = written(0..2);
    for at in 0..header().framed().len() {
        let mut harmed = bytes.clone();
        harmed[at] ^= 1 << (at % 8);
        let fault = Journal::open(CrashDisk::holding(harmed)).unwrap_err();
        assert!(matches!(fault, LedgerFault::Damaged { offset: 0, .. }), "byte {at}: {fault}");
    }
    for bytes in [Vec::new(), b"hello".to_vec(), vec![0; 4096]] {
        let fault = Journal::open(CrashDisk::holding(bytes)).unwrap_err();
        assert!(matches!(fault, LedgerFault::Damaged { offset: 0, .. }), "{fault}");
    }
}

#[test]
fn a_missing_record_is_refused() {
    let (bytes, last) = written(0..3);
    let first = header().framed().len();
    let head = frame::head(&bytes[first..]).unwrap();
    let mut gap = bytes[..first].to_vec();
    gap.extend(&bytes[first + HEAD + head.length..]);
    let fault = Journal::open(CrashDisk::holding(gap)).unwrap_err();
    assert!(fault.to_string().contains("record 1 should be here, record 2 is"), "{fault}");

    let mut twice = bytes.clone();
    twice.extend(&bytes[last..]);
    let fault = Journal::open(CrashDisk::holding(twice)).unwrap_err();
    assert!(fault.to_string().contains("record 4 should be here, record 3 is"), "{fault}");
}

#[test]
fn a_magic_across_the_window_is_found() {
    // The scan reads a mebibyte at a time; the next frame may begin across that edge.
    let start = header().framed();
    let (bytes, _) = written(0..1);
    for shift in 0..8 {
        let mut harmed = start.clone();
        harmed.resize(start.len() + 1 + 1024 * 1024 - MAGIC.len() + shift, 0x20);
        harmed.extend(&bytes[start.len()..]);
        let fault = Journal::open(CrashDisk::holding(harmed)).unwrap_err();
        assert!(fault.to_string().contains("record 1 follows whole"), "{shift}: {fault}");
    }
}

#[test]
fn a_newer_format_is_refused() {
    let mut bytes = header().framed();
    let mut newer = Vec::new();
    frame::write(&mut newer, 0, 1, b"{}");
    newer[5] = 2;
    let mut crc = crc32fast::Hasher::new();
    crc.update(&newer[4..20]);
    crc.update(&newer[HEAD..]);
    newer[20..24].copy_from_slice(&crc.finalize().to_be_bytes());
    bytes.extend(newer);
    let fault = Journal::open(CrashDisk::holding(bytes)).unwrap_err();
    assert!(matches!(fault, LedgerFault::Newer { found: 2, known: 1, .. }), "{fault}");
}
