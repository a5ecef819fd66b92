//! The machine's state in the words of MTConnect 1.4 (ANSI/MTC1.4), as lines of its adapter protocol: pure.
//!
//! May live here: the words, and which of our states each stands for. May not: sockets. The device file that describes
//! these items is `config/monitoring/device.xml`.

use chargehand_types::now::{LinkNow, Motion, Now};
use chargehand_types::stage::{Grade, HeldBy, Stage};
use chrono::{DateTime, SecondsFormat, Utc};

/// What stands for "not known".
const UNAVAILABLE: &str = "UNAVAILABLE";

/// One data item with its value; a condition or a message is a line of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Item {
    pub name: &'static str,
    /// The fields after the name.
    pub fields: Vec<String>,
    pub alone: bool,
}

fn event(name: &'static str, value: impl Into<String>) -> Item {
    Item { name, fields: vec![value.into()], alone: false }
}

fn condition(name: &'static str, level: &str, code: &str, text: &str) -> Item {
    let fields = [level, code, "", "", text].map(str::to_owned).to_vec();
    Item { name, fields, alone: true }
}

/// Everything, always in the same order.
pub(super) fn items(now: &Now) -> Vec<Item> {
    let up = now.machine.link == LinkNow::Up;
    let known = |text: String| if up { text } else { UNAVAILABLE.to_owned() };
    let sheet = now.sheet.as_ref();
    let operation = sheet.and_then(|s| s.operation.as_ref());
    let graded = |good: bool| {
        let parts = sheet.map_or(0, |s| s.graded.iter().filter(|p| (p.grade == Grade::Good) == good).count());
        parts.to_string()
    };
    let none = || UNAVAILABLE.to_owned();
    let program = sheet.zip(operation).map(|(s, o)| format!("{}/{}", s.id, o.name).to_uppercase());
    let comms = match &now.machine.link {
        LinkNow::Up => condition("comms", "NORMAL", "", ""),
        LinkNow::Opening => condition("comms", UNAVAILABLE, "", ""),
        LinkNow::Down { why } => condition("comms", "FAULT", "LINK", why),
    };
    let motion = match sheet.and_then(|s| s.stopped.as_ref()) {
        _ if !up => condition("motion", UNAVAILABLE, "", ""),
        Some(stopped) => condition("motion", "FAULT", "STOPPED", &stopped.record.text),
        None if !now.machine.position_known => condition("motion", "WARNING", "POSITION", "position is not known"),
        None => condition("motion", "NORMAL", "", ""),
    };
    let message = match now.calls.last() {
        Some(call) => vec![format!("CALL-{}", call.number), call.text.clone()],
        None => vec![String::new(), UNAVAILABLE.to_owned()],
    };
    vec![
        event("avail", known("AVAILABLE".to_owned())),
        // no input tells this program that the circuit of the red button is closed
        event("estop", UNAVAILABLE),
        event("mode", known(mode(now).to_owned())),
        event("exec", known(execution(now).to_owned())),
        event("pgm", known(program.unwrap_or_else(none))),
        event("lineno", known(operation.and_then(|o| o.line).map_or_else(none, |l| l.to_string()))),
        event("tool", known(now.machine.bit.as_ref().map_or_else(none, |b| b.0.to_uppercase()))),
        event("good", known(graded(true))),
        event("bad", known(graded(false))),
        event("feed", known(now.machine.feed.map_or_else(none, |f| format!("{:.0}", f.unit())))),
        event("feedovr", known(now.machine.per_cent.map_or_else(none, |[feed, _]| feed.to_string()))),
        event("rapidovr", known(now.machine.per_cent.map_or_else(none, |[_, rapid]| rapid.to_string()))),
        comms,
        motion,
        Item { name: "msg", fields: message, alone: true },
    ]
}

fn mode(now: &Now) -> &'static str {
    match now.sheet.as_ref().map(|s| s.stage) {
        Some(Stage::Cutting | Stage::Held) => "AUTOMATIC",
        _ => "MANUAL",
    }
}

/// EXECUTION. A hold that was only asked for is still ACTIVE; a finished operation is one whose motion ended.
fn execution(now: &Now) -> &'static str {
    let Some(sheet) = &now.sheet else { return if now.waiting > 0 { "READY" } else { "STOPPED" } };
    match sheet.stage {
        Stage::Cutting => "ACTIVE",
        Stage::Held if now.machine.motion == Motion::HoldAsked => "ACTIVE",
        Stage::Held if sheet.held.as_ref().is_some_and(|h| h.by == HeldBy::Prompt) => "PROGRAM_STOPPED",
        Stage::Held => "FEED_HOLD",
        Stage::Stopped | Stage::SetAside => "INTERRUPTED",
        Stage::Ready => "READY",
        Stage::TakingOff | Stage::Checking | Stage::Closed => "PROGRAM_COMPLETED",
        Stage::Queued | Stage::Securing | Stage::Tooling => "STOPPED",
    }
}

/// The lines that tell what is otherwise than before; with nothing before, all of it.
pub(super) fn lines(before: Option<&[Item]>, items: &[Item], at: DateTime<Utc>) -> String {
    let stamp = at.to_rfc3339_opts(SecondsFormat::Micros, true);
    let changed = |item: &&Item| before.is_none_or(|b| !b.contains(item));
    let mut out = String::new();
    let together: Vec<&Item> = items.iter().filter(changed).filter(|i| !i.alone).collect();
    if !together.is_empty() {
        out.push_str(&stamp);
        for item in together {
            put(&mut out, item);
        }
        out.push('\n');
    }
    for item in items.iter().filter(changed).filter(|i| i.alone) {
        out.push_str(&stamp);
        put(&mut out, item);
        out.push('\n');
    }
    out
}

fn put(out: &mut String, item: &Item) {
    out.push('|');
    out.push_str(item.name);
    for field in &item.fields {
        out.push('|');
        out.push_str(&value(field));
    }
}

/// A value: one line; with a pipe in it, in double quotes and the pipe escaped.
fn value(text: &str) -> String {
    let line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if line.contains('|') { format!("\"{}\"", line.replace('|', "\\|")) } else { line }
}
