//! How figures are said, and that every language says everything.

use super::table::hole;
use super::*;
use chargehand_types::finding::Finding;
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

/// Texts in quotes that follow a mark in a source, up to the end of the quote.
fn quoted_after(source: &str, mark: &str) -> Vec<String> {
    let found = source.match_indices(mark).filter_map(|(at, _)| {
        let rest = source[at + mark.len()..].trim_start().strip_prefix('"')?;
        Some(rest.split('"').next()?.to_owned())
    });
    found.collect()
}

/// Every text of a list's file, its keys and conditions left out.
fn texts_of_list(value: &toml::Value, found: &mut Vec<String>) {
    const TEXTS: [&str; 8] = ["title", "text", "help", "hazard", "consequence", "avoid", "then", "unit"];
    match value {
        toml::Value::Table(table) => {
            for (key, inner) in table {
                match inner {
                    toml::Value::String(text) if TEXTS.contains(&key.as_str()) && text != "mm" => {
                        found.push(text.clone());
                    }
                    inner => texts_of_list(inner, found),
                }
            }
        }
        toml::Value::Array(items) => items.iter().for_each(|item| texts_of_list(item, found)),
        _ => {}
    }
}

/// Every step of the shipped lists, every refusal of the floor and every offer, in every language that ships.
#[test]
fn every_language_knows_what_the_daemon_says_most() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let read = |path: &str| String::from_utf8(crate::outside::file(&root.join(path)).unwrap()).unwrap();
    let mut texts = Vec::new();
    for entry in std::fs::read_dir(root.join("config/checklists")).unwrap() {
        let list = String::from_utf8(crate::outside::file(&entry.unwrap().path()).unwrap()).unwrap();
        texts_of_list(&toml::Value::Table(list.parse().unwrap()), &mut texts);
    }
    let lists = texts.len();
    texts.extend(quoted_after(&read("daemon/src/floor/refusal.rs"), "#[error("));
    let refusals = texts.len() - lists;
    let wording = read("daemon/src/app/wording.rs");
    let offers = wording.split("pub const fn offer").nth(1).and_then(|rest| rest.split("\n}").next()).unwrap();
    texts.extend(quoted_after(offers, "=>"));
    assert!(lists > 150 && refusals > 35 && texts.len() - lists - refusals > 25, "the sources were read");
    let before = texts.len();
    let raised = read("daemon/src/app/raised.rs");
    texts.extend(quoted_after(&raised, ": &str ="));
    texts.extend(quoted_after(&raised, "format!("));
    texts.extend(quoted_after(&read("daemon/src/app/lots.rs"), ": &str ="));
    assert_eq!(texts.len() - before, 7, "the step of the lot, the step that raises the bit, and what is told at it");
    for (language, file) in SHIPPED.iter().filter(|(language, _)| *language != "en") {
        let words = Words::read(file).unwrap();
        let said = |text: &str| {
            let bare: String = text.split('{').map(|p| p.split_once('}').map_or(p, |(_, rest)| rest)).collect();
            bare.chars().filter(|c| c.is_alphabetic()).count() >= super::daemon::LETTERS_AT_LEAST
        };
        let missing: Vec<&String> = texts.iter().filter(|t| said(t) && !words.knows(t)).collect();
        assert!(missing.is_empty(), "{language} lacks {missing:#?}");
    }
}

/// Each kind of finding, with and without each fact that changes its sentences.
fn findings() -> Vec<Finding> {
    let source = include_str!("../../../shared-types/src/finding.rs");
    let codes = source.split("pub enum Code {").nth(1).and_then(|rest| rest.split('}').next()).unwrap();
    let kebab = |name: &str| {
        let small =
            name.chars().flat_map(|c| if c.is_uppercase() { vec!['-', c.to_ascii_lowercase()] } else { vec![c] });
        small.collect::<String>().trim_start_matches('-').to_owned()
    };
    let facts = serde_json::json!({
        "piece": "cell 3", "goes-on": "outlines line 96", "axis": "X", "shift": 4.5, "bit": "c635", "rpm": 18000.0,
        "nearest-diameter": 6.0, "range": [0.05, 0.1], "fastener": "fastener 3, 4.0 x 30 wood screw, at X 20 Y 600"
    });
    let all: Vec<(String, serde_json::Value)> = facts.as_object().unwrap().clone().into_iter().collect();
    let mut told = Vec::new();
    for code in codes.lines().map(|l| l.trim().trim_end_matches(',')).filter(|l| !l.is_empty()) {
        for rule in [None, Some("height"), Some("width"), Some("number"), Some("gap")] {
            // of the others it is a sentence of the reader's
            if rule.is_some() && code != "WeakTabs" {
                continue;
            }
            for (kept, measured) in (0..=all.len() + 1).flat_map(|kept| [(kept, 2.5), (kept, -1.5)]) {
                // a way past the end of a travel is always along an axis
                let with = |(at, fact): &(usize, &(String, serde_json::Value))| {
                    *at == kept || kept == all.len() || fact.0 == "axis"
                };
                let mut facts: serde_json::Map<_, _> =
                    all.iter().enumerate().filter(with).map(|(_, f)| f.clone()).collect();
                facts.extend(rule.map(|rule| ("rule".to_owned(), rule.into())));
                let finding = serde_json::json!({
                    "code": kebab(code), "severity": "sign", "operation": "cells", "line": 4, "column": 1,
                    "lines": [4, 4], "count": 1, "fingerprint": "", "place": null, "measured": measured, "limit": 1.5,
                    "unit": "mm", "facts": facts, "means": "", "do": ""
                });
                told.push(serde_json::from_value::<Finding>(finding).unwrap().told());
            }
        }
    }
    told
}

/// What the owner signs is told in their language: what it means at the machine, and what to change.
#[test]
fn every_finding_is_told_in_every_language() {
    let findings = findings();
    assert!(findings.len() > 500, "only {}", findings.len());
    for (language, file) in SHIPPED.iter().filter(|(language, _)| *language != "en") {
        let words = Words::read(file).unwrap();
        for finding in &findings {
            for text in [&finding.means, &finding.remedy] {
                assert!(words.knows(text), "{language} lacks {}: {text}", finding.code);
                assert_ne!(words.told(text), *text, "{language}");
            }
        }
    }
}

/// No sentence of the daemon's is short enough to be found in another, and its holes are the same in the language.
#[test]
fn sentences_of_the_daemon_have_the_same_holes() {
    for (language, file) in SHIPPED {
        let table: toml::Table = file.parse().unwrap();
        let Some(sentences) = table.get("daemon").and_then(toml::Value::as_table) else { continue };
        for (english, there) in sentences {
            assert_eq!(holes(english), holes(there.as_str().unwrap()), "{language}: {english}");
        }
    }
}
