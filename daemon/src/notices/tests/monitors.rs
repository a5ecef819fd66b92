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

/// The device file, read by a general-purpose reader of XML (the crate `roxmltree`), against the lines we send and what
/// ANSI/MTC1.4 part 2 asks of a device: an AVAILABILITY, ids that are unique, a category for each item.
#[test]
fn the_device_file_is_whole() {
    let text = include_str!("../../../../config/monitoring/device.xml");
    let document = roxmltree::Document::parse(text).expect("the device file is XML");
    let root = document.root_element();
    assert_eq!(root.tag_name().namespace(), Some("urn:mtconnect.org:MTConnectDevices:1.4"));
    let mut ids = std::collections::BTreeSet::new();
    for element in document.descendants().filter(roxmltree::Node::is_element) {
        assert_eq!(element.tag_name().namespace(), root.tag_name().namespace(), "{element:?}");
        if let Some(id) = element.attribute("id") {
            assert!(ids.insert(id), "{id} is there once");
        }
    }
    let described: Vec<_> =
        document.descendants().filter(|n| n.has_tag_name((root.tag_name().namespace().unwrap(), "DataItem"))).collect();
    let of = |name: &str| described.iter().find(|d| d.attribute("name") == Some(name)).unwrap();
    let device = document.descendants().find(|n| n.tag_name().name() == "Device").unwrap();
    let available = of("avail");
    assert_eq!(available.attribute("type"), Some("AVAILABILITY"));
    assert_eq!(available.parent().and_then(|p| p.parent()), Some(device), "the device's own");
    for item in items(&called(1)) {
        let category = of(item.name).attribute("category");
        match (item.alone, item.fields.len()) {
            (false, 1) => assert!(matches!(category, Some("EVENT" | "SAMPLE")), "{item:?}"),
            (true, 2) => assert_eq!(of(item.name).attribute("type"), Some("MESSAGE"), "{item:?}"),
            (true, 5) => assert_eq!(category, Some("CONDITION"), "{item:?}"),
            _ => panic!("{item:?}"),
        }
        // part 3: a sample has units, an event has none
        assert_eq!(of(item.name).attribute("units").is_some(), category == Some("SAMPLE"), "{item:?}");
    }
}

/// One line by the published rules of the adapter protocol: a time in UTC, keys and values between pipes, a pipe within a
/// value escaped and the value quoted; conditions and messages on a line of their own.
fn fields(line: &str) -> Vec<String> {
    let (mut all, mut field, mut quoted) = (Vec::new(), String::new(), false);
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if field.is_empty() && !quoted => quoted = true,
            '"' if quoted && matches!(chars.peek(), None | Some('|')) => quoted = false,
            '\\' if quoted && chars.peek() == Some(&'|') => field.extend(chars.next()),
            '|' => {
                assert!(!quoted, "a pipe within quotes is escaped: {line}");
                all.push(std::mem::take(&mut field));
            }
            c => field.push(c),
        }
    }
    assert!(!quoted, "{line}");
    all.push(field);
    all
}

#[test]
fn every_line_keeps_the_adapters_rules() {
    let mut lost = called(2);
    lost.machine.link = LinkNow::Down { why: "the \"cable\" | is\nout".to_owned() };
    for now in [still(), called(1), lost] {
        let text = lines(None, &items(&now), fixed());
        assert!(text.ends_with('\n') && !text.contains('\r'));
        let mut told = 0;
        for line in text.lines() {
            let fields = fields(line);
            let stamp = DateTime::parse_from_rfc3339(&fields[0]).unwrap_or_else(|e| panic!("{e}: {line}"));
            assert!(fields[0].ends_with('Z') && stamp.to_utc() == fixed(), "{line}");
            let item = items(&now).into_iter().find(|i| i.name == fields[1]).unwrap();
            if item.alone {
                let expected = match item.name {
                    "msg" => 4,
                    _ => 7,
                };
                assert_eq!(fields.len(), expected, "time, name and the fields of a message or a condition: {line}");
                told += 1;
                if item.name != "msg" {
                    // the qualifier is HIGH, LOW or nothing
                    assert!(["HIGH", "LOW", ""].contains(&fields[5].as_str()), "{line}");
                }
            } else {
                assert_eq!(fields.len() % 2, 1, "a time and pairs: {line}");
                told += fields.len() / 2;
            }
        }
        assert_eq!(told, items(&now).len());
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
