//! How figures are said, and that every language says everything.

use super::table::hole;
use super::*;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

#[test]
fn spans_read_like_speech() {
    let said = |s| span(Seconds::of(s));
    assert_eq!(said(0.0), "0 s");
    assert_eq!(said(59.6), "1 min");
    assert_eq!(said(220.0), "3 min 40 s");
    assert_eq!(said(1860.0), "31 min");
    assert_eq!(said(7500.0), "2 h 05 min");
    assert_eq!(said(-5.0), "0 s");
}

#[test]
fn waiting_is_rounded() {
    let said = |s| rounded(Seconds::of(s));
    assert_eq!(said(12.4), "12 s");
    assert_eq!(said(44.0), "40 s");
    assert_eq!(said(221.0), "3 min 30 s");
    assert_eq!(said(722.0), "12 min");
}

#[test]
fn one_is_not_many() {
    assert_eq!(count(1, "sheet"), "1 sheet");
    assert_eq!(count(0, "sheet"), "0 sheets");
}
/// The holes of a text, each once, in order of their names.
fn holes(mut text: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    while let Some((_, name, after)) = hole(text) {
        names.insert(name.to_owned());
        text = after;
    }
    names
}

#[test]
fn every_language_has_the_same_keys_and_holes() {
    let english: BTreeMap<&str, &str> = english().all().collect();
    assert!(english.len() > 100, "the English file was read");
    for (language, file) in SHIPPED {
        let words = Words::read(file).unwrap();
        let said: BTreeMap<&str, &str> = words.all().collect();
        assert_eq!(said.keys().collect::<Vec<_>>(), english.keys().collect::<Vec<_>>(), "{language}");
        for (key, text) in said {
            assert_eq!(holes(text), holes(english[key]), "{language}: {key}");
            assert!(!text.trim().is_empty(), "{language}: {key} is empty");
        }
    }
}

/// Every `say!` of a source: its key and the names of the holes it fills.
fn said_in(source: &str) -> Vec<(String, BTreeSet<String>)> {
    let mut found = Vec::new();
    for (at, _) in source.match_indices("say!(") {
        let (mut depth, mut quoted, mut escaped) = (1, false, false);
        let (mut parts, mut part) = (Vec::new(), String::new());
        for c in source[at + "say!(".len()..].chars() {
            match (c, quoted) {
                ('"', _) if !escaped => quoted = !quoted,
                ('(' | '[' | '{', false) => depth += 1,
                (')' | ']' | '}', false) => depth -= 1,
                (',', false) if depth == 1 => {
                    parts.push(std::mem::take(&mut part));
                    continue;
                }
                _ => {}
            }
            escaped = c == '\\' && !escaped;
            if depth == 0 {
                break;
            }
            part.push(c);
        }
        parts.push(part);
        let Some(key) = parts.get(1).and_then(|k| k.trim().strip_prefix('"')?.strip_suffix('"')) else { continue };
        let names = parts.iter().skip(2).filter_map(|p| Some(p.split_once('=')?.0.trim().to_owned())).collect();
        found.push((key.to_owned(), names));
    }
    found
}

fn sources(folder: &Path, found: &mut Vec<(PathBuf, String)>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("words/tests.rs") {
            let text = String::from_utf8(crate::outside::file(&path).unwrap()).unwrap();
            let code: Vec<&str> = text.lines().filter(|l| !l.trim_start().starts_with("//")).collect();
            found.push((path, code.join("\n")));
        }
    }
}

#[test]
fn what_is_said_is_in_the_file_and_what_is_in_the_file_is_said() {
    let mut all = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut all);
    let english: BTreeMap<&str, &str> = english().all().collect();
    let mut said = 0;
    for (path, source) in &all {
        for (key, names) in said_in(source) {
            said += 1;
            let text = english.get(key.as_str()).unwrap_or_else(|| panic!("{}: {key} is in no file", path.display()));
            assert_eq!(names, holes(text), "{}: the holes of {key}", path.display());
        }
    }
    assert!(said > 50, "only {said} were found");
    for key in english.keys() {
        let literal = format!("\"{key}\"");
        assert!(all.iter().any(|(_, source)| source.contains(&literal)), "nobody says {key}");
    }
}

#[test]
fn the_reader_of_sources_sees_holes() {
    let found = said_in(r#"say!(w, "a.b", n = f(1, ")"), at = x) + &say!(w, "c.d")"#);
    let names = |all: &[&str]| all.iter().map(|n| (*n).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(found, [("a.b".to_owned(), names(&["n", "at"])), ("c.d".to_owned(), names(&[]))]);
}
