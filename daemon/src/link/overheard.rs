//! What a controller says, in plain words, by a profile: for whoever tries a new one.

use super::heard::{Ear, Heard};
use super::numbered::framed;
use crate::shop::profile::{Flow, Profile};

/// A line of the controller, and what it means by the profile; none when the profile does not know it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Overheard {
    /// As it was said.
    pub line: String,
    /// In plain words.
    pub means: Option<String>,
    /// Whether it shows that the profile fits: words for people come from controllers of every kind.
    pub telling: bool,
}

/// What the profile makes of these bytes.
#[must_use]
pub fn overheard(profile: &Profile, bytes: &[u8]) -> Vec<Overheard> {
    let text = String::from_utf8_lossy(bytes);
    let mut ear = Ear::default();
    let lines = text.lines().map(str::trim).filter(|l| !l.is_empty());
    lines
        .map(|line| {
            let heard = ear.take(format!("{line}\n").as_bytes(), profile).pop().unwrap_or(Heard::Noise);
            let means = means(&heard);
            let telling = means.is_some() && !matches!(heard, Heard::Said(_));
            Overheard { line: line.to_owned(), means, telling }
        })
        .collect()
}

/// The bytes that ask for a report by the profile, once the port is open.
#[must_use]
pub fn asks_for_report(profile: &Profile) -> Vec<u8> {
    let keys = &profile.keys;
    if !keys.at_once.report.is_empty() {
        return super::conversation::latin1(&keys.at_once.report);
    }
    let words = keys.commands.report.as_bytes();
    let mut line = match keys.flow {
        Flow::Numbered { .. } => framed(1, words),
        Flow::Window { .. } | Flow::OneAtATime => words.to_vec(),
    };
    line.extend_from_slice(keys.line_end.as_bytes());
    line
}

fn means(heard: &Heard) -> Option<String> {
    Some(match heard {
        Heard::Acknowledged => "a line was taken".to_owned(),
        Heard::Refused(why) => format!("a line was refused: {why}"),
        Heard::Fault(what, _) => format!("a fault: {what}"),
        Heard::Report(told) => match told.state.machine.or(told.state.work) {
            Some(at) => {
                format!(
                    "a report: {}; the bit is at {:.3} {:.3} {:.3}",
                    told.state.word,
                    at.x.mm(),
                    at.y.mm(),
                    at.z.mm()
                )
            }
            None => format!("a report: {}; no place that can be read", told.state.word),
        },
        Heard::Again(Some(number)) => format!("it asks for line {number} again"),
        Heard::Greeting => "it starts anew".to_owned(),
        Heard::Said(text) => format!("words for people: {text}"),
        Heard::Touched(Some(z)) => format!("a probing move met something at machine Z {:.3}", z.mm()),
        Heard::Touched(None) => "a probing move met nothing".to_owned(),
        Heard::Busy => "it is busy, and alive".to_owned(),
        Heard::Aside => "something by the way".to_owned(),
        Heard::Again(None) | Heard::Noise => return None,
    })
}
