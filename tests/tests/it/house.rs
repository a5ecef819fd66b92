//! The rules of the house, read from the sources: which room may use which, that every module says what it is for,
//! and that no file grows into a god file.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The rooms of `daemon/src`, in the order the work flows. An arrow points up this list only. Rooms not built yet
/// keep their places.
const ROOMS: &[&str] = &[
    "shop",
    "program",
    "sending",
    "timing",
    "sheetmap",
    "holddown",
    "findings",
    "calendar",
    "learn",
    "dayplan",
    "floor",
    "link",
    "practice",
    "ledger",
    "people",
    "serial",
    "simulator",
    "api",
    "notices",
    "app",
];

/// Rooms that come with their own issues; their places are empty until then.
const EMPTY_PLACES: &[&str] = &[];

/// Down to this one every room is pure.
const LAST_PURE: &str = "practice";

/// Libraries that a pure room must not know.
const NOT_PURE: &[&str] =
    &["tokio", "axum", "sled", "serialport", "rustix", "getrandom", "tracing_subscriber", "reqwest"];

/// A file longer than this needs an entry in [`LONG_FILES`] with its reason.
const LONGEST: usize = 600;

/// Files that may be longer, and why.
const LONG_FILES: &[(&str, &str)] = &[];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The rooms that a source names by `crate::ROOM`, comments left out.
fn rooms_used(text: &str) -> BTreeSet<String> {
    let mut used = BTreeSet::new();
    for line in text.lines().filter(|l| !l.trim_start().starts_with("//")) {
        for (at, _) in line.match_indices("crate::") {
            let rest = &line[at + "crate::".len()..];
            if let Some(inside) = rest.strip_prefix('{') {
                for part in inside.split([',', '}']) {
                    used.insert(part.trim().split("::").next().unwrap_or_default().to_owned());
                }
            } else {
                used.insert(
                    rest.split(|c: char| !(c.is_alphanumeric() || c == '_')).next().unwrap_or_default().to_owned(),
                );
            }
        }
    }
    used.retain(|r| ROOMS.contains(&r.as_str()));
    used
}

fn place(room: &str) -> usize {
    ROOMS.iter().position(|r| *r == room).unwrap()
}

#[test]
fn arrows_point_up_only() {
    let mut wrong = Vec::new();
    for room in ROOMS.iter().filter(|r| !EMPTY_PLACES.contains(r)) {
        let folder = root().join("daemon/src").join(room);
        assert!(folder.is_dir(), "the room {room} has no folder");
        for file in sources(&folder) {
            let text = std::fs::read_to_string(&file).unwrap();
            for used in rooms_used(&text) {
                if place(&used) > place(room) {
                    wrong.push(format!("{} uses {used}, which lies below {room}", file.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn an_arrow_down_would_be_seen() {
    let used = rooms_used("use crate::{floor::State, app};\n// crate::shop\nlet x = crate::link::Link::new();");
    assert_eq!(used.into_iter().collect::<Vec<_>>(), ["app", "floor", "link"]);
}

#[test]
fn empty_places_are_still_empty() {
    for room in EMPTY_PLACES {
        assert!(ROOMS.contains(room));
        assert!(!root().join("daemon/src").join(room).exists(), "{room} is built: take it off the list");
    }
}

#[test]
fn pure_rooms_know_no_io_library() {
    for room in &ROOMS[..=place(LAST_PURE)] {
        let folder = root().join("daemon/src").join(room);
        if !folder.is_dir() {
            continue;
        }
        for file in sources(&folder) {
            let text = std::fs::read_to_string(&file).unwrap();
            for library in NOT_PURE {
                let named = text.lines().any(|l| {
                    !l.trim_start().starts_with("//")
                        && (l.contains(&format!("use {library}")) || l.contains(&format!("{library}::")))
                });
                assert!(!named, "{} uses {library}", file.display());
            }
        }
    }
}

#[test]
fn shared_types_know_nobody() {
    for file in sources(&root().join("shared-types/src")) {
        let text = std::fs::read_to_string(&file).unwrap();
        for word in ["chargehand_daemon", "chargehand_terminal", "std::fs", "std::net", "tokio"] {
            assert!(!text.contains(word), "{} knows {word}", file.display());
        }
    }
}

#[test]
fn the_terminal_knows_only_shared_types() {
    for file in sources(&root().join("terminal/src")) {
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(!text.contains("chargehand_daemon"), "{} knows the daemon's inside", file.display());
    }
}

#[test]
fn every_module_says_what_it_is_for() {
    let mut silent = Vec::new();
    for folder in ["shared-types/src", "daemon/src", "terminal/src", "tests/src", "tests/tests"] {
        for file in sources(&root().join(folder)) {
            let text = std::fs::read_to_string(&file).unwrap();
            if !text.starts_with("//!") {
                silent.push(file.display().to_string());
            }
        }
    }
    assert!(silent.is_empty(), "no header:\n{}", silent.join("\n"));
}

#[test]
fn no_file_grows_without_a_reason() {
    let mut long = Vec::new();
    for folder in ["shared-types/src", "daemon/src", "terminal/src", "tests"] {
        for file in sources(&root().join(folder)) {
            let lines = std::fs::read_to_string(&file).unwrap().lines().count();
            let name = file.display().to_string();
            if lines > LONGEST && !LONG_FILES.iter().any(|(f, _)| name.ends_with(f)) {
                long.push(format!("{name}: {lines} lines"));
            }
        }
    }
    assert!(long.is_empty(), "{}", long.join("\n"));
}

#[test]
fn unsafe_lives_in_one_module() {
    let mut found = Vec::new();
    for folder in ["shared-types/src", "daemon/src", "terminal/src", "tests/src"] {
        for file in sources(&root().join(folder)) {
            if std::fs::read_to_string(&file).unwrap().contains("allow(unsafe_code)") {
                found.push(file);
            }
        }
    }
    assert!(found.len() <= 1, "{found:?}");
}

#[test]
fn leftovers_are_not_committed() {
    // Put together here so that this file does not find itself.
    let words = [["TO", "DO"].concat(), ["FIX", "ME"].concat(), ["dbg", "!("].concat(), ["todo", "!("].concat()];
    for folder in ["shared-types/src", "daemon/src", "terminal/src", "tests/src", "tests/tests"] {
        for file in sources(&root().join(folder)) {
            let text = std::fs::read_to_string(&file).unwrap();
            for word in &words {
                assert!(!text.contains(word.as_str()), "{} holds {word}", file.display());
            }
        }
    }
}

/// Names of tests in the last column of the table of norms.
fn norms_tests(text: &str) -> Vec<String> {
    let table = text.split_once("## Norms of the terminal").map_or("", |t| t.1);
    let table = table.split_once("\n## ").map_or(table, |t| t.0);
    let last = table.lines().filter_map(|row| row.trim_end().strip_suffix('|')?.rsplit_once('|').map(|r| r.1));
    let quoted = last.flat_map(|cell| cell.split('`').skip(1).step_by(2));
    quoted.filter(|name| name.contains('_')).map(str::to_owned).collect()
}

#[test]
fn every_test_of_the_norms_exists() {
    let named = norms_tests(&std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap());
    assert!(named.len() > 60, "only {} tests are named", named.len());
    let mut all = String::new();
    for folder in ["daemon/src", "terminal/src", "shared-types/src", "tests/tests"] {
        for file in sources(&root().join(folder)) {
            all.push_str(&std::fs::read_to_string(&file).unwrap());
        }
    }
    for name in named {
        assert!(all.contains(&format!("fn {name}(")), "the norms name a test that is not there: {name}");
    }
}
