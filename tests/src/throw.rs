//! Bytes thrown at every face from one seed: what ships and what the tests own, changed at random, without a compiler
//! that watches where they lead. The fuzz targets do that better; this needs nothing but a stable compiler.

use crate::days::chance::Chance;
use crate::workshop::repository;
use crate::{faces, judge};
use chargehand_types::backup::{Head, Writing};
use chargehand_types::id::Seq;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

/// Longest input that is made.
const LONGEST: usize = 4096;
/// Texts longer than this are thrown in pieces of this size.
const PIECE: usize = 2048;

/// A face.
pub struct Face {
    /// Its name.
    pub name: &'static str,
    /// What must hold of any bytes.
    pub holds: fn(&[u8]),
    /// What is changed.
    pub samples: Vec<Vec<u8>>,
}

/// Every face.
#[must_use]
pub fn faces() -> Vec<Face> {
    let root = repository();
    let programs = with_first(&[7], &found(&root.join("tests"), "nc"));
    let mut cards = found(&root.join("tests"), "toml");
    cards.extend(found(&root.join("config/demo"), "toml"));
    cards.retain(|text| text.windows(6).any(|w| w == b"[card]"));
    let names = ["daemon", "bits", "materials", "fasteners", "controllers", "checklists"];
    let mut settings = Vec::new();
    for (which, name) in (0..).zip(names) {
        let mut texts = found(&root.join("config").join(name), "toml");
        texts.extend(std::fs::read(root.join(format!("config/{name}.toml"))).ok());
        settings.extend(with_first(&[which], &texts));
    }
    vec![
        Face { name: "reading", holds: judge::reading, samples: programs.clone() },
        Face { name: "sending", holds: judge::sending, samples: programs },
        Face { name: "cards", holds: faces::cards, samples: cards },
        Face { name: "settings", holds: faces::settings, samples: settings },
        Face { name: "controllers", holds: faces::controllers, samples: talks() },
        Face { name: "bodies", holds: faces::bodies, samples: texts(BODIES) },
        Face { name: "journals", holds: faces::journals, samples: journals() },
        Face { name: "backups", holds: faces::backups, samples: backups() },
        Face { name: "calendars", holds: faces::calendars, samples: texts(CALENDARS) },
    ]
}

fn texts(all: &[&str]) -> Vec<Vec<u8>> {
    all.iter().map(|t| t.as_bytes().to_vec()).collect()
}

fn with_first(first: &[u8], texts: &[Vec<u8>]) -> Vec<Vec<u8>> {
    texts.iter().map(|text| [first, text].concat()).collect()
}

/// Files below a folder.
fn found(folder: &Path, extension: &str) -> Vec<Vec<u8>> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut paths: Vec<_> = entries.filter_map(|e| Some(e.ok()?.path())).collect();
    paths.sort();
    let mut all = Vec::new();
    for path in paths {
        if path.is_dir() {
            all.extend(found(&path, extension));
        } else if path.extension().is_some_and(|e| e == extension) {
            all.extend(std::fs::read(&path).ok());
        }
    }
    all
}

/// What a controller says: an order or a wait, then bytes with their count.
fn talks() -> Vec<Vec<u8>> {
    let heard = |text: &str| -> Vec<u8> {
        text.as_bytes().chunks(64).flat_map(|c| [&[u8::try_from(c.len() - 1).unwrap_or(0)], c].concat()).collect()
    };
    let window = [
        vec![0],
        heard("Small 1.0 ['$' for help]\r\n<Idle|MPos:0.000,0.000,50.000|FS:0,0|WCO:0.000,0.000,0.000>\r\n"),
        vec![234, 248, 251],
        heard("ok\r\nok\r\n<Run|MPos:1.000,0.000,0.000|Bf:14,90|FS:600,0>\r\n"),
        vec![222],
        heard("<Hold:0|MPos:2.000,0.000,0.000>\r\nerror:20\r\nALARM:1\r\n"),
        vec![201, 225, 243, 238],
        heard("ok\r\n[MSG:Check]\r\n[PRB:1.0,2.0,3.0:1]\r\nok\r\n"),
    ];
    let numbered = [
        vec![1],
        heard("start\necho: ready\nok\nX:0.00 Y:0.00 Z:50.00 Count X:0 Y:0 Z:20000\nok\n"),
        vec![234, 248, 251],
        heard("ok\nok\nResend: 3\nok\nError:checksum mismatch, Last Line: 2\nbusy: processing\n"),
        vec![225, 209, 209],
        heard("ok\nok\n//action:pause\n!!\n"),
    ];
    vec![window.concat(), numbered.concat()]
}

const BODIES: &[&str] = &[
    r#"{"command_id":"c-1","terminal":"t1","seen":7,"act":{"act":"hold"}}"#,
    r#"{"command_id":"c-2","terminal":"t1","seen":7,"act":{"act":"sign-in","who":"Solveig","pin":"731904"}}"#,
    r#"{"command_id":"c-3","terminal":"t1","seen":7,"act":{"act":"answer","step":"thickness","answer":"value","value":18.1}}"#,
    r#"{"command_id":"c-4","terminal":"t1","seen":7,"act":{"act":"hand-move","axis":"z","by":-0.1}}"#,
    r#"{"command_id":"c-5","terminal":"t1","seen":7,"act":{"act":"override","feed":80,"rapid":null}}"#,
    r#"{"command_id":"c-6","terminal":"t1","act":{"act":"grade-part","index":3,"grade":"rework","reason":"torn-face"}}"#,
    r#"{"command_id":"c","card":{"card_file":"a.card.toml","card":"[card]","programs":{"a.nc":"RzIx"}},"by":"o"}"#,
    r#"{"command_id":"c","card_file":"a.card.toml","card":"[card]","programs":{"a.nc":"RzIx"}}"#,
    r#"{"command_id":"c","card":"plant-stand-sides","sheets":3,"due":"2027-01-14T08:00:00Z","weight":2}"#,
    r#"{"command_id":"c","product":"stand","sets":4,"due":null}"#,
    r#"{"command_id":"c","fit":"leg-slot","slot":18.2,"mate":17.9,"bit":"c635"}"#,
    r#"{"card_file":"a.card.toml","card":"[card]\nname = \"a\"","programs":{"a.nc":"RzIx"},"thickness":18.0}"#,
    r#"{"at":[[1.0,2.0],[3.5,-0.0]],"fastener":"screw"}"#,
    r#"{"kind":{"material":"ply","thickness":18.0},"count":12,"command_id":"c"}"#,
    r#"{"by":{"who":"Solveig","pin":"731904"},"change":{"do":"set-pin","who":"Emrik","pin":"4711"}}"#,
    r#"{"by":{"who":"Solveig","pin":"731904"},"name":"shelf","role":"helper","expires":"2027-01-14T08:00:00Z"}"#,
];

const CALENDARS: &[&str] = &[
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//a//b\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20270101T000000Z\r\n\
     DTSTART;TZID=Europe/Berlin:20270118T080000\r\nDTEND;TZID=Europe/Berlin:20270118T120000\r\n\
     RRULE:FREQ=WEEKLY;BYDAY=MO,WE;UNTIL=20270301T000000Z\r\nEXDATE;TZID=Europe/Berlin:20270120T080000\r\n\
     SUMMARY:Mornings\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
    "BEGIN:VCALENDAR\nVERSION:2.0\nBEGIN:VEVENT\nDTSTART;VALUE=DATE:20270120\nDURATION:P1DT2H\n\
     RRULE:FREQ=MONTHLY;INTERVAL=2;COUNT=5;BYMONTHDAY=-1\nEND:VEVENT\nBEGIN:VEVENT\nDTSTART:20270115T120000Z\n\
     DURATION:PT45M\nRRULE:FREQ=DAILY;COUNT=300\nRDATE:20270202T120000Z\nTRANSP:TRANSPARENT\nEND:VEVENT\n\
     END:VCALENDAR\n",
];

/// A short journal, whole and as payloads.
fn journals() -> Vec<Vec<u8>> {
    let payloads = [
        r#"{"journal":"beef","made_by":"test"}"#,
        r#"{"v":1,"seq":1,"id":"e1","at":"2027-01-14T08:00:00Z","tick":1,"kind":"person.came","data":{"who":"o","role":"owner"}}"#,
        r#"{"v":1,"seq":2,"id":"e2","command_id":"c","at":"2027-01-14T08:00:01Z","tick":2,"kind":"machine.homed","data":{}}"#,
        r#"{"v":0,"seq":3,"id":"e3","at":"2027-01-14T08:00:02Z","tick":3,"actor":{"name":"o","role":"owner"},"kind":"link.up","data":{"note":"n"}}"#,
    ]
    .join("\n");
    let whole = [&[0][..], &faces::framed(payloads.as_bytes())].concat();
    vec![[&[1][..], payloads.as_bytes()].concat(), whole]
}

/// A small backup, whole and as blocks to be given their checksums.
fn backups() -> Vec<Vec<u8>> {
    // SHA-256 of "abc" (FIPS 180-4, example B.1)
    let sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let head = Head { journal: "beef".to_owned(), last: Seq(2), journal_bytes: 7, made_by: "test".to_owned() };
    let (mut writing, mut bytes) = Writing::begin(&head);
    bytes.extend(writing.journal(b"journal"));
    bytes.extend(writing.program(sha256, b"abc"));
    bytes.extend(writing.end(vec!["a program is gone".to_owned()]));
    let lines = format!(
        "h{}\njjournal\np{{\"sha256\":\"{sha256}\",\"bytes\":3}}\nbabc\n\
         e{{\"sha256\":\"\",\"programs\":1,\"left_out\":[]}}\nxit was full",
        serde_json::to_string(&head).unwrap_or_default()
    );
    vec![[&[2][..], &bytes].concat(), [&[5][..], lines.as_bytes()].concat()]
}

/// What came of throwing.
#[derive(Debug, Clone, Default)]
pub struct Thrown {
    /// How often.
    pub executions: u64,
    /// The longest that one took.
    pub slowest: Duration,
    /// The input of it.
    pub slow: Vec<u8>,
    /// Inputs of which something does not hold, with what was said. At most a few are kept.
    pub bad: Vec<(Vec<u8>, String)>,
}

/// Throws at a face.
#[must_use]
#[allow(clippy::disallowed_methods, reason = "an input that takes long is a find")]
pub fn throw(face: &Face, executions: u64, seed: u64) -> Thrown {
    let mut chance = Chance::of(seed);
    let mut thrown = Thrown { executions, ..Thrown::default() };
    for _ in 0..executions {
        let input = input(face, &mut chance);
        let begun = Instant::now();
        let held = catch_unwind(AssertUnwindSafe(|| (face.holds)(&input)));
        let took = begun.elapsed();
        if took > thrown.slowest {
            thrown.slowest = took;
            thrown.slow.clone_from(&input);
        }
        if let Err(said) = held {
            let text = said.downcast_ref::<String>().cloned();
            let text = text.or_else(|| said.downcast_ref::<&str>().map(|s| (*s).to_owned()));
            thrown.bad.push((input, text.unwrap_or_default()));
            if thrown.bad.len() >= 3 {
                break;
            }
        }
    }
    thrown
}

/// One input: a sample, or a piece of one, changed a few times.
fn input(face: &Face, chance: &mut Chance) -> Vec<u8> {
    let mut bytes = piece(pick(&face.samples, chance), chance);
    for _ in 0..chance.between(1, 6) {
        change(&mut bytes, face, chance);
    }
    bytes.truncate(LONGEST);
    bytes
}

fn pick<'s, T: ?Sized, S: AsRef<T>>(of: &'s [S], chance: &mut Chance) -> &'s T {
    of[index(chance, of.len())].as_ref()
}

fn index(chance: &mut Chance, length: usize) -> usize {
    usize::try_from(chance.below(length as u64)).unwrap_or(0)
}

/// A whole sample, or its first byte with a piece of the rest where it is long.
fn piece(sample: &[u8], chance: &mut Chance) -> Vec<u8> {
    if sample.len() <= PIECE {
        return sample.to_vec();
    }
    let from = if chance.below(2) == 0 { 1 } else { 1 + index(chance, sample.len() - PIECE) };
    let mut bytes = sample[..1].to_vec();
    bytes.extend_from_slice(&sample[from..(from + PIECE).min(sample.len())]);
    bytes
}

/// Odd numbers and bits of the languages that are read here.
const WORDS: &[&str] = &[
    "0",
    "-0",
    "1e308",
    "-1e-320",
    "99999999999999999999",
    "9223372036854775807",
    "-9223372036854775808",
    "4294967296",
    "0.0000001",
    "1.7976931348623157e309",
    "NaN",
    "inf",
    "\u{0}",
    "\r\n",
    "\n\n",
    "\"\"",
    "\"",
    "'",
    "[",
    "]",
    "{",
    "}",
    "[[",
    "]]",
    "null",
    "true",
    "=",
    "#",
    "\u{feff}",
    "é",
    "\u{202e}",
    "\u{ff}",
    "%",
    "(",
    ")",
    ";",
    "G2",
    "G3R",
    "G83",
    "L9999999",
    "#1=",
    "[1/0]",
    "ok\n",
    "error:9\n",
    "ALARM:1\n",
    "<Idle>\n",
    "<Run|MPos:1,2,3>\n",
    "Resend:1\n",
    "2027-02-30",
    "FREQ=YEARLY;BYDAY=-5SU",
    "COUNT=0",
    "INTERVAL=0",
    "UNTIL=00000000",
    "DURATION:-P9999W",
    "\t",
];

fn change(bytes: &mut Vec<u8>, face: &Face, chance: &mut Chance) {
    let at = index(chance, bytes.len() + 1);
    let some = 1 + index(chance, 32);
    let to = (at + some).min(bytes.len());
    match chance.below(10) {
        0 | 1 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << chance.below(8);
            }
        }
        2 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = u8::try_from(chance.below(256)).unwrap_or(0);
            }
        }
        3 => drop(bytes.drain(at..to)),
        4 => {
            let again = bytes[at..to].to_vec();
            bytes.splice(at..at, again);
        }
        5 | 6 => {
            let word: &str = pick(WORDS, chance);
            bytes.splice(at..at, word.bytes());
        }
        7 => number(bytes, at, chance),
        8 => {
            let other: &[u8] = pick(&face.samples, chance);
            let from = index(chance, other.len().max(1));
            let until = (from + some * 4).min(other.len());
            bytes.splice(at..to, other[from.min(until)..until].to_vec());
        }
        _ => bytes.truncate(at),
    }
}

/// The number at or behind a place becomes an odd one.
fn number(bytes: &mut Vec<u8>, at: usize, chance: &mut Chance) {
    let Some(from) = bytes[at..].iter().position(u8::is_ascii_digit).map(|n| at + n) else { return };
    let length = bytes[from..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
    let word: &str = pick(&WORDS[..10], chance);
    bytes.splice(from..from + length, word.bytes());
}
