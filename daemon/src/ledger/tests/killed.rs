//! A real process that writes to a real store, and is killed in the middle of it.

use super::shift;
use crate::ledger::Ledger;
use chargehand_types::id::Seq;
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

const STORE: &str = "CHARGEHAND_TEST_STORE";
const TOLD: &str = "told ";

/// Not a test of its own: what the killed process does. It appends until it is killed and says what it was told.
#[test]
#[ignore = "run by kill_minus_nine_loses_nothing in a process of its own"]
fn writes_until_killed() {
    let Some(dir) = std::env::var_os(STORE) else { return };
    let (ledger, _) = Ledger::open(dir.as_ref()).unwrap();
    let mut out = std::io::stdout();
    loop {
        for append in shift::appends() {
            for event in ledger.append_blocking(append).unwrap() {
                writeln!(out, "\n{TOLD}{}", event.id).unwrap();
            }
        }
    }
}

#[test]
fn kill_minus_nine_loses_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut told = Vec::new();
    for kill_after in [1, 17, 60] {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["ledger::tests::killed::writes_until_killed", "--exact", "--ignored", "--nocapture"])
            .env(STORE, dir.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let mut ids = lines.filter_map(|l| l.strip_prefix(TOLD).map(str::to_owned));
        let before = told.len();
        told.extend(ids.by_ref().take(kill_after));
        assert_eq!(told.len(), before + kill_after, "it wrote and was told");
        child.kill().unwrap(); // SIGKILL
        told.extend(ids);
        child.wait().unwrap();

        let (ledger, opening) = Ledger::open(dir.path()).unwrap();
        let mut found = Vec::new();
        loop {
            let events = ledger.events_after_blocking(Seq(found.len() as u64), 1_000).unwrap();
            if events.is_empty() {
                break;
            }
            found.extend(events);
        }
        assert_eq!(opening.state.seq(), Seq(found.len() as u64));
        let mut told = told.iter();
        let mut next = told.next();
        for event in &found {
            if next.is_some_and(|id| *id == event.id) {
                next = told.next();
            }
        }
        assert_eq!(next, None, "told, yet lost");
        ledger.close_blocking();
    }
}
