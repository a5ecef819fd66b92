//! What is written reads back; whatever is cut off or changed is told.

use super::*;

const PROGRAM_BYTES: &[u8] = b"G21\nG0 X1\nM30\n";

fn written(journal: &[u8]) -> Vec<u8> {
    let head = Head {
        journal: "beef".to_owned(),
        last: Seq(7),
        journal_bytes: journal.len() as u64,
        made_by: "chargehand test".to_owned(),
    };
    let (mut writing, mut bytes) = Writing::begin(&head);
    bytes.extend(writing.journal(journal));
    bytes.extend(writing.program(&sha(PROGRAM_BYTES), PROGRAM_BYTES));
    bytes.extend(writing.end(vec!["The program x: gone.".to_owned()]));
    bytes
}

fn sha(bytes: &[u8]) -> String {
    sha256_hex(sha2::Sha256::new_with_prefix(bytes))
}

fn read(bytes: &[u8], step: usize) -> Result<(Vec<u8>, Vec<u8>, Contents), BackupFault> {
    let mut reading = Reading::default();
    let (mut journal, mut program) = (Vec::new(), Vec::new());
    for part in bytes.chunks(step) {
        reading.feed(part);
        while let Some(piece) = reading.piece()? {
            match piece {
                Piece::Journal(bytes) => journal.extend(bytes),
                Piece::Bytes(bytes) => program.extend(bytes),
                Piece::Head(_) | Piece::Program(_) | Piece::End(_) => {}
            }
        }
    }
    reading.finish().map(|contents| (journal, program, contents))
}

#[test]
fn what_is_written_reads_back() {
    let journal: Vec<u8> = (0..2 * CONTENT_MOST + 77).map(|n| (n % 251) as u8).collect();
    let bytes = written(&journal);
    for step in [4096, bytes.len()] {
        let (back, program, contents) = read(&bytes, step).unwrap();
        assert!(back == journal && program == PROGRAM_BYTES);
        assert_eq!((contents.head.last, contents.tail.programs, contents.bytes), (Seq(7), 1, bytes.len() as u64));
        assert_eq!(contents.tail.left_out, ["The program x: gone."]);
    }
    let small = written(b"small");
    assert_eq!(read(&small, 1).unwrap().0, b"small");
}

#[test]
fn wherever_it_is_cut_it_is_not_whole() {
    let bytes = written(b"a journal");
    for end in 0..bytes.len() {
        assert_eq!(read(&bytes[..end], 64).unwrap_err(), BackupFault::Short { at: end as u64 });
    }
}

#[test]
fn every_flipped_bit_is_told() {
    let bytes = written(b"a journal");
    for at in 0..bytes.len() {
        for bit in 0..8 {
            let mut harmed = bytes.clone();
            harmed[at] ^= 1 << bit;
            let fault = read(&harmed, 64).unwrap_err();
            let told = matches!(
                fault,
                BackupFault::NoBackup
                    | BackupFault::Newer { .. }
                    | BackupFault::Damaged { .. }
                    // a length that asks for more than there is
                    | BackupFault::Short { .. }
            );
            assert!(told, "byte {at}, bit {bit}: {fault}");
        }
    }
}

#[test]
fn what_was_broken_off_says_why() {
    let mut bytes = written(b"a journal");
    bytes.truncate(6 + BEFORE_CONTENT + usize::from(bytes[10]));
    bytes.extend(Writing::broken_off("the disk is full"));
    assert_eq!(read(&bytes, 7).unwrap_err(), BackupFault::BrokenOff("the disk is full".to_owned()));
}

#[test]
fn parts_out_of_place_are_told() {
    let head = Head { journal: "beef".to_owned(), last: Seq(0), journal_bytes: 3, made_by: String::new() };
    let (mut writing, begun) = Writing::begin(&head);
    let early = [begun.clone(), writing.program(&sha(b"x"), b"x")].concat();
    assert!(read(&early, 99).unwrap_err().to_string().contains("shorter than its head says"));
    let (mut writing, begun) = Writing::begin(&head);
    let long = [begun.clone(), writing.journal(b"four")].concat();
    assert!(read(&long, 99).unwrap_err().to_string().contains("longer than its head says"));
    let (mut writing, begun) = Writing::begin(&head);
    let wrong = [begun, writing.journal(b"abc"), writing.program(&sha(b"x"), b"y"), writing.end(vec![])].concat();
    assert!(read(&wrong, 99).unwrap_err().to_string().contains("do not have its hash"));
    let twice = [written(b"abc"), written(b"abc")].concat();
    assert!(read(&twice, 99).unwrap_err().to_string().contains("something follows its end"));
    assert_eq!(read(b"G21\nG0", 99).unwrap_err(), BackupFault::NoBackup);
}
