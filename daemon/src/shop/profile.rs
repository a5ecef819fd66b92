//! Controller profiles: how one family of controllers talks, by what can be seen on the wire.

use super::check::Check;
use super::fault::Fault;
use super::text::{Doc, Path};
use super::understands::Understands;
use chargehand_types::quantity::{Feed, Length};
use regex_lite::Regex;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The profile that ships.
pub const ACKNOWLEDGED_WINDOW: &str = include_str!("../../../config/controllers/acknowledged-window.toml");

/// The other one.
pub const NUMBERED_CHECKSUM: &str = include_str!("../../../config/controllers/numbered-checksum.toml");

/// A profile, patterns compiled.
#[derive(Debug, Clone)]
pub struct Profile {
    /// The keys of its file.
    pub keys: Keys,
    /// The patterns.
    pub patterns: Patterns,
}

/// The keys of a profile file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Keys {
    /// For people.
    pub title: String,
    /// What ends a line.
    pub line_end: String,
    /// Worth trying.
    #[serde(default)]
    pub baud_candidates: Vec<u32>,
    /// Machine milliseconds in which it greets or reports after opening or a reset.
    pub greeting_within_ms: u64,
    /// Machine milliseconds without a report (or, where reports are asked for by a line, without any answer) after
    /// which it counts as silent.
    #[serde(default = "silent_after_ms")]
    pub silent_after_ms: u64,
    /// Milliseconds of rest after a reset.
    pub settle_after_reset_ms: u64,
    /// When a hold takes effect.
    pub hold: HoldTakes,
    /// What a reset does while it is held.
    pub reset_when_held: Keeps,
    /// What opening the port does.
    pub reset_on_open: Keeps,
    /// Motions that wait inside it.
    pub planner_blocks: u16,
    /// Between an arc's two radii.
    pub arc_tolerance: Length,
    /// How often a report is asked for.
    pub reports_hz: ReportsHz,
    /// Of hand moves.
    pub hand_feed: Feed,
    /// Flow control.
    pub flow: Flow,
    /// Bytes that act at once.
    pub at_once: AtOnce,
    patterns: RawPatterns,
    /// Its state words in ours.
    pub states: BTreeMap<String, State>,
    /// Names of a report's fields.
    pub fields: Fields,
    /// Letters of its inputs.
    #[serde(default)]
    pub pins: PinLetters,
    /// What it is told.
    pub commands: Commands,
    /// Least and most override, in per cent.
    #[serde(default)]
    pub override_range: BTreeMap<String, [u16; 2]>,
    /// What it takes as written.
    pub understands: Understands,
    /// What its refusals mean.
    #[serde(default)]
    pub refusals: BTreeMap<String, String>,
    /// What its faults mean.
    #[serde(default)]
    pub faults: BTreeMap<String, FaultMeans>,
}

const fn silent_after_ms() -> u64 {
    1500
}

/// When a hold takes effect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HoldTakes {
    /// At once.
    AtOnce,
    /// Behind what it already holds.
    AfterBuffer,
}

/// Whether position survives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Keeps {
    /// It does.
    KeepsPosition,
    /// It does not.
    LosesPosition,
}

/// How often a report is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReportsHz {
    /// While it moves.
    pub moving: f64,
    /// While it stands.
    pub still: f64,
}

/// Flow control.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Flow {
    /// So many bytes may be unacknowledged.
    Window {
        /// Line ends counted.
        window: u16,
    },
    /// One line at a time.
    OneAtATime,
    /// Numbered lines with a checksum.
    Numbered {
        /// Lines in flight.
        lines: u16,
    },
}

/// Bytes that act at once.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "each is the action of its name")]
pub struct AtOnce {
    pub report: String,
    pub hold: String,
    pub resume: String,
    pub reset: String,
    pub feed_plus_10: String,
    pub feed_minus_10: String,
    pub feed_whole: String,
    pub rapid_whole: String,
    pub rapid_half: String,
    pub rapid_quarter: String,
    pub end_run: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPatterns {
    acknowledged: String,
    refused: String,
    fault: String,
    report: String,
    greeting: String,
    probe: String,
    said: String,
    busy: String,
    resend: String,
    /// What is certainly no answer to a line. Anything else that cannot be read may have been one.
    #[serde(default)]
    aside: Option<String>,
}

/// Patterns of whole lines.
#[derive(Debug, Clone)]
#[allow(missing_docs, reason = "each is the kind of line of its name")]
pub struct Patterns {
    pub acknowledged: Regex,
    pub refused: Regex,
    pub fault: Regex,
    pub report: Regex,
    pub greeting: Regex,
    pub probe: Regex,
    pub said: Regex,
    pub busy: Regex,
    pub resend: Regex,
    pub aside: Option<Regex>,
}

/// Our state words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "each is the state of its name")]
pub enum State {
    Ready,
    Cutting,
    Holding,
    Faulted,
    Homing,
    Checking,
    Asleep,
    Unknown,
}

/// Names of a report's fields.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "each is the field of its name")]
pub struct Fields {
    pub machine: String,
    pub work: String,
    pub offset: String,
    pub feed_and_speed: String,
    pub feed: String,
    pub buffer: String,
    pub line: String,
    pub pins: String,
    pub overrides: String,
}

/// Letters of its inputs.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "each is the input of its name")]
pub struct PinLetters {
    pub limit: String,
    pub probe: String,
    pub door: String,
}

/// What it is told; several lines are divided by a bar.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "each is the command of its name")]
pub struct Commands {
    pub home: String,
    pub unlock: String,
    #[serde(default)]
    pub parser_state: String,
    /// Asks for a report, where no byte does.
    #[serde(default)]
    pub report: String,
    /// Is answered once everything before it has run out, where no report tells that.
    #[serde(default)]
    pub run_out: String,
    pub set_work_zero: String,
    pub zero_here: String,
    pub hand_move: String,
    /// One axis by hand, in words that `end_run` of `[at_once]` breaks off; empty where there are none.
    #[serde(default)]
    pub run: String,
    /// Straight up to a machine Z, then sideways to a machine X and Y; empty where it cannot.
    #[serde(default)]
    pub over: String,
    /// Down along Z until the plate is met; empty where it cannot.
    #[serde(default)]
    pub touch: String,
    /// Sets feeds to so much per cent, where no byte does; empty where it cannot.
    #[serde(default)]
    pub feed_override: String,
    /// The same for rapids.
    #[serde(default)]
    pub rapid_override: String,
    pub raise: String,
    pub spindle_on: String,
    pub spindle_off: String,
}

/// What a fault means.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaultMeans {
    /// In plain words.
    pub means: String,
    /// Whether position survives.
    pub position: PositionAfter,
}

/// Whether position survives a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PositionAfter {
    /// It does.
    Kept,
    /// It does not.
    Lost,
}

/// Numbered lines that may be in flight: few, since a hold waits behind them.
const MOST_NUMBERED: u16 = 4;

/// Reads a profile.
///
/// # Errors
/// Every fault.
pub fn profile(file: &str, text: &str) -> Result<Profile, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let keys: Keys = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top();
    if keys.line_end.is_empty() {
        check.tell(&top.key("line_end"), "nothing", "what ends a line, such as a line feed");
    }
    if keys.at_once.report.is_empty() {
        if keys.commands.report.is_empty() {
            let found = "neither a byte nor a line that asks for a report";
            check.tell(&top.key("at_once"), found, "one: a controller that tells nothing cannot be trusted with a cut");
        }
        if keys.commands.run_out.is_empty() {
            let wanted = "a line that is answered once all before it has run out";
            check.tell(&top.key("commands").key("run_out"), "nothing", wanted);
        }
        if keys.hold == HoldTakes::AtOnce && keys.at_once.hold.is_empty() {
            check.tell(&top.key("hold"), "at-once", "after-buffer: there is no byte that holds");
        }
    }
    if let Flow::Numbered { lines } = keys.flow
        && !(1..=MOST_NUMBERED).contains(&lines)
    {
        check.tell(&top.key("flow").key("lines"), format!("{lines} lines"), "1 to 4 lines in flight");
    }
    if let Flow::Window { window } = keys.flow
        && window < 20
    {
        check.tell(&top.key("flow").key("window"), format!("{window} bytes"), "20 bytes or more");
    }
    for (key, hz) in [("moving", keys.reports_hz.moving), ("still", keys.reports_hz.still)] {
        // a report may come late by as much as the pause between two
        if !(hz > 0.0 && 1000.0 / hz < keys.silent_after_ms as f64) {
            let silent = keys.silent_after_ms;
            let found = format!("{hz} reports a second, and silent_after_ms = {silent}");
            let wanted = "more reports, or a longer silence: between two reports it would count as silent";
            check.tell(&top.key("reports_hz").key(key), found, wanted);
        }
    }
    let patterns = compile(&keys.patterns, &mut check);
    match patterns {
        Some(patterns) => check.done(Profile { keys, patterns }),
        // each pattern that did not compile has left its fault
        None => Err(check.done(()).err().unwrap_or_default()),
    }
}

fn compile(raw: &RawPatterns, check: &mut Check<'_, '_>) -> Option<Patterns> {
    let table = Path::top().key("patterns");
    let mut one = |pattern: &str, key: &str| match Regex::new(pattern) {
        Ok(regex) => Some(regex),
        Err(e) => {
            check.tell(&table.key(key), format!("a malformed pattern: {e}"), "a regular expression");
            None
        }
    };
    Some(Patterns {
        acknowledged: one(&raw.acknowledged, "acknowledged")?,
        refused: one(&raw.refused, "refused")?,
        fault: one(&raw.fault, "fault")?,
        report: one(&raw.report, "report")?,
        greeting: one(&raw.greeting, "greeting")?,
        probe: one(&raw.probe, "probe")?,
        said: one(&raw.said, "said")?,
        busy: one(&raw.busy, "busy")?,
        resend: one(&raw.resend, "resend")?,
        aside: match &raw.aside {
            Some(pattern) => Some(one(pattern, "aside")?),
            None => None,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reports_further_apart_than_the_silence_they_break_are_refused() {
        let text = ACKNOWLEDGED_WINDOW.replace("still = 2.0", "still = 0.5");
        assert!(text != ACKNOWLEDGED_WINDOW, "the shipped profile has changed");
        let faults = profile("p.toml", &text).unwrap_err();
        let told = faults.first().map(ToString::to_string).unwrap_or_default();
        assert!(told.contains("silent_after_ms = 1500") && told.contains("reports_hz"), "{told}");
    }
}
