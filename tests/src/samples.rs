//! Stored samples of what the daemon answers: the shape and every word pinned, what differs from run to run replaced
//! by a mark. `UPDATE=1` in the environment writes them anew.
//!
//! May live here: what differs from run to run, and comparing. May not: making answers.

use serde_json::Value;
use std::path::Path;

/// Keys whose value differs from run to run or machine to machine, and the mark it is replaced by.
const MARKS: &[(&str, &str)] = &[
    ("added", "<time>"),
    ("begun", "<time>"),
    ("closed", "<time>"),
    ("tick", "<tick>"),
    ("command_id", "<command>"),
    ("revision", "<revision>"),
    ("sha256", "<sha256>"),
    ("fingerprint", "<fingerprint>"),
    ("seq", "<seq>"),
    ("version", "<version>"),
    ("line", "<line>"),
    ("last_line_done", "<line>"),
    ("last_line_sent", "<line>"),
    ("next_lift", "<seconds>"),
    ("run_down_left", "<seconds>"),
    ("left", "<seconds>"),
];

/// Keys below which a number with a fraction is what a person or a file said, and is kept.
const SAID: &[&str] =
    &["expect", "expected", "least", "most", "value", "places", "thickness", "size", "weight", "fasteners"];

/// A copy with everything replaced that differs from run to run.
#[must_use]
pub fn marked(value: &Value) -> Value {
    mark(value, false)
}

fn mark(value: &Value, said: bool) -> Value {
    match value {
        Value::Null | Value::Bool(_) => value.clone(),
        Value::Array(items) => items.iter().map(|v| mark(v, said)).collect(),
        Value::Object(entries) => {
            let is_event = entries.contains_key("kind") && entries.contains_key("tick");
            let one = |(k, v): (&String, &Value)| {
                let marked = match MARKS.iter().find(|(m, _)| m == k) {
                    Some((_, with)) if !v.is_null() && !v.is_object() && !v.is_array() => Value::from(*with),
                    _ if k == "id" && is_event => Value::from("<id>"),
                    _ => mark(v, said || SAID.contains(&k.as_str())),
                };
                (k.clone(), marked)
            };
            Value::Object(entries.iter().map(one).collect())
        }
        Value::Number(n) if n.is_f64() && !said => Value::from("<number>"),
        Value::Number(_) => value.clone(),
        Value::String(text) => match chrono::DateTime::parse_from_rfc3339(text) {
            Ok(_) => Value::from("<time>"),
            Err(_) => value.clone(),
        },
    }
}

/// Compares with the stored sample of that name, or writes it when asked to.
pub fn compare(name: &str, value: &Value) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/samples").join(format!("{name}.json"));
    let is = serde_json::to_string_pretty(&marked(value)).unwrap_or_default() + "\n";
    if std::env::var_os("UPDATE").is_some_and(|v| v == "1") {
        std::fs::create_dir_all(path.parent().unwrap_or(&path)).unwrap_or_else(|e| panic!("{e}"));
        std::fs::write(&path, is).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        return;
    }
    let was = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}; UPDATE=1 writes it", path.display()));
    if was != is {
        let differs = was.lines().zip(is.lines()).enumerate().find(|(_, (a, b))| a != b);
        let (at, first) = differs.map_or((0, String::new()), |(n, (a, b))| (n + 1, format!("was {a}\nis  {b}")));
        panic!("{} differs at line {at}:\n{first}\nIf that is meant, UPDATE=1 writes it anew.\n{is}", path.display());
    }
}
