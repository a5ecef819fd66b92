//! A reader of machine states, by the adapter's protocol.

use super::{called, still};
use crate::notices::adapter::serve_on;
use crate::notices::monitor::{items, lines};
use chargehand_types::now::{LinkNow, Now};
use chrono::{DateTime, Utc};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::time::timeout;

/// Values of MTConnect 1.4 (ANSI/MTC1.4 part 2 and 3) for the items with a closed list.
const WORDS: &[(&str, &[&str])] = &[
    ("avail", &["AVAILABLE", "UNAVAILABLE"]),
    ("estop", &["ARMED", "TRIGGERED", "UNAVAILABLE"]),
    ("mode", &["AUTOMATIC", "MANUAL", "MANUAL_DATA_INPUT", "SEMI_AUTOMATIC", "EDIT", "UNAVAILABLE"]),
    (
        "exec",
        &[
            "READY",
            "ACTIVE",
            "INTERRUPTED",
            "FEED_HOLD",
            "STOPPED",
            "OPTIONAL_STOP",
            "PROGRAM_STOPPED",
            "PROGRAM_COMPLETED",
            "UNAVAILABLE",
        ],
    ),
    ("comms", &["NORMAL", "WARNING", "FAULT", "UNAVAILABLE"]),
    ("motion", &["NORMAL", "WARNING", "FAULT", "UNAVAILABLE"]),
];

fn fixed() -> DateTime<Utc> {
    DateTime::from_timestamp(1_780_000_000, 0).unwrap()
}

#[test]
fn every_word_is_of_the_standard_and_every_item_is_described() {
    let device = include_str!("../../../../config/monitoring/device.xml");
    let mut lost = still();
    lost.machine.link = LinkNow::Down { why: "the cable is out".to_owned() };
    for now in [still(), called(1), lost] {
        let items = items(&now);
        for (name, words) in WORDS {
            let item = items.iter().find(|i| i.name == *name).unwrap();
            assert!(words.contains(&item.fields[0].as_str()), "{item:?}");
        }
        for item in &items {
            assert!(device.contains(&format!("name=\"{}\"", item.name)), "{} is in the device file", item.name);
        }
        assert_eq!(device.matches("<DataItem ").count(), items.len());
    }
}

#[test]
fn a_lost_link_makes_everything_unavailable() {
    let mut lost = still();
    lost.machine.link = LinkNow::Down { why: "the cable is out".to_owned() };
    for item in items(&lost) {
        match item.name {
            "comms" => assert_eq!((item.fields[0].as_str(), item.fields.len()), ("FAULT", 5)),
            _ => assert!(item.fields.iter().any(|f| f == "UNAVAILABLE"), "{item:?}"),
        }
    }
}

#[test]
fn a_pipe_within_a_text_is_quoted() {
    let all = lines(None, &items(&called(1)), fixed());
    let said = all.lines().find(|l| l.contains("|msg|")).unwrap();
    assert_eq!(said, "2026-05-28T20:26:40.000000Z|msg|CALL-1|\"The sheet stopped: look at it \\| now.\"");
    assert_eq!(lines(Some(&items(&still())), &items(&still()), fixed()), "", "nothing changed, nothing is told");
}

#[tokio::test]
async fn a_reader_is_told_all_then_what_changes_and_is_answered() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (told, standing) = watch::channel(Some(Arc::new(still())));
    tokio::spawn(serve_on(listener, standing, fixed));
    let mut reader = BufReader::new(TcpStream::connect(address).await.unwrap());
    let mut next = async |prefix: &str| loop {
        let mut line = String::new();
        timeout(Duration::from_secs(10), reader.read_line(&mut line)).await.unwrap().unwrap();
        assert!(!line.is_empty(), "the adapter hung up before {prefix}");
        if line.contains(prefix) {
            return line;
        }
    };
    assert!(next("|avail|").await.contains("|avail|AVAILABLE|estop|UNAVAILABLE|mode|MANUAL|exec|STOPPED"));
    next("|msg|").await;
    told.send(Some(Arc::new(Now { waiting: 2, ..still() }))).unwrap();
    assert_eq!(next("|exec|").await, "2026-05-28T20:26:40.000000Z|exec|READY\n", "only what changed");
    reader.write_all(b"* PING\n").await.unwrap();
    let mut line = String::new();
    timeout(Duration::from_secs(10), reader.read_line(&mut line)).await.unwrap().unwrap();
    assert_eq!(line, "* PONG 10000\n");
}
