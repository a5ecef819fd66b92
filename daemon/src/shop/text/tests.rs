//! What reading a text takes and refuses, with the place and words of each fault.

use super::*;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct File {
    bit: BTreeMap<String, Bit>,
    #[serde(default)]
    list: Vec<Entry>,
}

#[derive(Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct Bit {
    diameter: f64,
    kind: Kind,
    #[serde(default)]
    at: Option<Row<f64, 2>>,
}

#[derive(Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct Entry {
    name: String,
}

#[derive(Debug, Deserialize, PartialEq)]
#[serde(rename_all = "kebab-case")]
enum Kind {
    UpCut,
    DownCut,
}

fn faults(text: &str) -> Vec<(u32, u32, String, Option<String>)> {
    let faults = read::<File>("f.toml", text).unwrap_err();
    faults.into_iter().map(|f| (f.line, f.column, format!("{}: {}", f.key, f.found), f.nearest)).collect()
}

#[test]
fn sound_text_reads() {
    let file: File = read("f.toml", "[bit.a]\ndiameter = 6\nkind = \"up-cut\"\n").unwrap();
    assert_eq!(file.bit["a"].diameter, 6.0);
}

#[test]
fn every_fault_is_told_once() {
    let text = "[bit.a]\ndiamter = 6\nkind = \"upcut\"\n[bit.b]\ndiameter = \"6\"\nkind = \"up-cut\"\nat = [1.0, 2.0, 3.0]\n\
                [[list]]\nnam = \"x\"\n[[list]]\nname = \"y\"\nfoo = 1\n[extra]\n";
    let told = faults(text);
    let short: Vec<String> =
        told.iter().map(|(l, c, said, near)| format!("{l}:{c} {said} ({})", near.as_deref().unwrap_or(""))).collect();
    assert_eq!(
        short,
        [
            "2:1 bit.a.diamter: there is no key `diamter` here (diameter)",
            "3:8 bit.a.kind: `upcut` is none of the words allowed (up-cut)",
            "5:12 bit.b.diameter: found the text \"6\" ()",
            "7:6 bit.b.at: found a list of 3 ()",
            "9:1 list 1.nam: there is no key `nam` here (name)",
            "12:1 list 2.foo: there is no key `foo` here ()",
            "13:2 extra: there is no key `extra` here ()",
        ]
    );
}

#[test]
fn missing_keys_point_at_their_table() {
    assert_eq!(
        faults("[bit.a]\nkind = \"up-cut\"\n"),
        [(1, 1, "bit.a.diameter: the key `diameter` is missing".to_owned(), None)]
    );
    assert_eq!(faults(""), [(1, 1, "bit: the key `bit` is missing".to_owned(), None)]);
}

#[test]
fn broken_syntax_has_a_place() {
    let told = faults("[bit.a]\ndiameter = = 6\nkind = \"up-cut\n");
    assert!(told.iter().any(|f| f.0 == 2), "{told:?}");
    assert!(told.iter().any(|f| f.0 == 3), "{told:?}");
}

#[test]
fn keys_twice_are_refused() {
    let told = faults("[bit.a]\ndiameter = 6\ndiameter = 7\nkind = \"up-cut\"\n");
    assert_eq!((told[0].0, told[0].1), (3, 1));
}

#[test]
fn places_of_keys_are_found() {
    let text = "[bit.a]\ndiameter = 6\nkind = \"up-cut\"\nat = [1.0, 2.0]\n";
    let doc = Doc::parse("f.toml", text).unwrap();
    let at = Path::top().key("bit").key("a").key("at").at(1);
    assert_eq!(doc.fault(&at).column, 12);
    assert_eq!(doc.fault(&at.key("gone")).column, 12);
    assert_eq!(doc.fault(&Path::top().key("bit").key("a")).line, 1);
}
