//! How long the work of hands takes: by step and person, with what to fall back on.
//!
//! May live here: those durations. May not: who is here, what is planned.

use super::level::Level;
use super::median::{Interval, median, next_one};
use super::{Ground, Rests};
use chargehand_types::id::Person;
use chargehand_types::quantity::Seconds;
use std::collections::BTreeMap;

/// Rows of one person before they are taken for themselves: common practice, no source.
const OF_ONE: usize = 5;
/// Rows of anybody before they are believed: common practice, no source.
const OF_ANYBODY: usize = 3;
/// A step that took longer than this was interrupted: an hour.
const LONGEST: f64 = 3600.0;

/// One step that somebody did.
#[derive(Debug, Clone, PartialEq)]
pub struct StepTime {
    /// The step, as lists name it.
    pub step: String,
    /// Who did it.
    pub who: Person,
    /// How long.
    pub took: Seconds,
}

/// How long a step should take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The middle.
    pub takes: Seconds,
    /// Where the true middle lies; none while there are too few rows for it.
    pub interval: Option<Interval>,
    /// Where the next one will lie; none while there are too few rows for it.
    pub next: Option<Interval>,
    /// How much history it rests on.
    pub rests: Rests,
}

/// What was measured of all steps.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Durations {
    steps: BTreeMap<String, Vec<(Person, f64)>>,
}

impl Durations {
    /// From rows of history. What took no time, or more than an hour, was no step.
    #[must_use]
    pub fn of(rows: &[StepTime]) -> Self {
        let mut steps: BTreeMap<String, Vec<(Person, f64)>> = BTreeMap::new();
        for row in rows.iter().filter(|r| r.took.value() > 0.0 && r.took.value() <= LONGEST) {
            steps.entry(row.step.clone()).or_default().push((row.who.clone(), row.took.value()));
        }
        Self { steps }
    }

    /// How long a step takes this person; anybody, while the person has done it too seldom; what is usual, while
    /// everybody has.
    #[must_use]
    pub fn estimate(&self, step: &str, who: &Person, usual: Seconds, level: Level) -> Estimate {
        let all = self.steps.get(step).map(Vec::as_slice).unwrap_or_default();
        let own: Vec<f64> = all.iter().filter(|(person, _)| person == who).map(|(_, took)| *took).collect();
        if own.len() >= OF_ONE {
            return from(&own, Ground::History, usual, level);
        }
        let anybody: Vec<f64> = all.iter().map(|(_, took)| *took).collect();
        if anybody.len() >= OF_ANYBODY {
            return from(&anybody, Ground::Wider, usual, level);
        }
        from(&[], Ground::Usual, usual, level)
    }
}

fn from(rows: &[f64], on: Ground, usual: Seconds, level: Level) -> Estimate {
    match median(rows, level) {
        Some(m) => Estimate {
            takes: Seconds::of(m.value),
            interval: m.interval,
            next: next_one(rows, level),
            rests: Rests { on, rows: rows.len() },
        },
        None => Estimate { takes: usual, interval: None, next: None, rests: Rests { on: Ground::Usual, rows: 0 } },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(who: &str, times: &[f64]) -> Vec<StepTime> {
        let row = |t: &f64| StepTime { step: "fit-bit".into(), who: who.into(), took: Seconds::of(*t) };
        times.iter().map(row).collect()
    }

    fn asked(history: &[StepTime], who: &str) -> Estimate {
        Durations::of(history).estimate("fit-bit", &who.into(), Seconds::of(90.0), Level::USUAL)
    }

    #[test]
    fn the_ladder_goes_from_one_to_all_to_usual() {
        let mut history = rows("Solveig", &[60.0, 62.0, 58.0, 61.0, 300.0]);
        assert_eq!(asked(&history[..2], "Emrik").takes, Seconds::of(90.0));
        assert_eq!(asked(&history[..2], "Emrik").rests, Rests { on: Ground::Usual, rows: 0 });
        let emrik = asked(&history, "Emrik");
        assert_eq!((emrik.takes, emrik.rests), (Seconds::of(61.0), Rests { on: Ground::Wider, rows: 5 }));
        history.extend(rows("Emrik", &[120.0, 130.0, 110.0, 125.0, 118.0]));
        let emrik = asked(&history, "Emrik");
        assert_eq!((emrik.takes, emrik.rests), (Seconds::of(120.0), Rests { on: Ground::History, rows: 5 }));
        assert_eq!(asked(&history, "Solveig").takes, Seconds::of(61.0), "one long day moves nothing");
    }

    #[test]
    fn lunch_is_no_step() {
        let history = rows("Solveig", &[60.0, 60.0, 60.0, 60.0, 60.0, 60.0, 7200.0, 0.0]);
        let found = asked(&history, "Solveig");
        assert_eq!((found.takes, found.rests.rows), (Seconds::of(60.0), 6));
        assert!(found.interval.is_some() && found.next.is_none());
        let other = Durations::of(&history).estimate("sweep", &"Solveig".into(), Seconds::of(30.0), Level::USUAL);
        assert_eq!((other.takes, other.rests.on), (Seconds::of(30.0), Ground::Usual));
    }
}
