//! Controller profiles: how one family of controllers talks, by what can be seen on the wire.

use super::fault::Fault;
use super::text::{Faults, Text};
use super::understands::Understands;
use chargehand_types::quantity::{Feed, Length};
use regex_lite::Regex;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// The profile that ships.
pub const ACKNOWLEDGED_WINDOW: &str = include_str!("../../../config/controllers/acknowledged-window.toml");

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
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPatterns {
    acknowledged: Spanned<String>,
    refused: Spanned<String>,
    fault: Spanned<String>,
    report: Spanned<String>,
    greeting: Spanned<String>,
    probe: Spanned<String>,
    said: Spanned<String>,
    busy: Spanned<String>,
    resend: Spanned<String>,
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
    pub set_work_zero: String,
    pub zero_here: String,
    pub hand_move: String,
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

/// Reads a profile.
///
/// # Errors
/// Every fault.
pub fn profile(text: Text<'_>) -> Result<Profile, Vec<Fault>> {
    let keys: Keys = text.read()?;
    let mut faults = Faults::of(text);
    if keys.line_end.is_empty() {
        faults.add(0..0, "line_end", "a line needs an end");
    }
    if keys.at_once.report.is_empty() && !matches!(keys.flow, Flow::Numbered { .. }) {
        faults.add(0..0, "report", "a controller that sends no report cannot be trusted with a cut");
    }
    if matches!(keys.flow, Flow::Numbered { .. }) {
        faults.add(0..0, "flow", "numbered lines come with a later version");
    }
    if let Flow::Window { window } = keys.flow
        && window < 20
    {
        faults.add(0..0, "window", "a window holds at least 20 bytes");
    }
    let mut compile = |pattern: &Spanned<String>, key: &str| match Regex::new(pattern.as_ref()) {
        Ok(regex) => Some(regex),
        Err(e) => {
            faults.add(pattern.span(), key, format!("the pattern is malformed: {e}"));
            None
        }
    };
    let p = &keys.patterns;
    let compiled = (|| {
        Some(Patterns {
            acknowledged: compile(&p.acknowledged, "acknowledged")?,
            refused: compile(&p.refused, "refused")?,
            fault: compile(&p.fault, "fault")?,
            report: compile(&p.report, "report")?,
            greeting: compile(&p.greeting, "greeting")?,
            probe: compile(&p.probe, "probe")?,
            said: compile(&p.said, "said")?,
            busy: compile(&p.busy, "busy")?,
            resend: compile(&p.resend, "resend")?,
        })
    })();
    match compiled {
        Some(patterns) => faults.or(Profile { keys, patterns }),
        None => match faults.or(()) {
            Err(found) => Err(found),
            // a pattern that did not compile has left its fault
            Ok(()) => Err(Vec::new()),
        },
    }
}
