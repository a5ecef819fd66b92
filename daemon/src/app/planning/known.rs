//! What history knows of times: how long cuts take against what was reckoned, and how long hands need.
//!
//! May live here: rows for `learn` out of the state, and its answers. May not: the statistics.

use crate::dayplan::Doing;
use crate::learn::{Cut, Durations, Ground, Level, StepTime, TimeFactor, time_factor};
use crate::ledger::State as Fold;
use crate::ledger::fold::card::BatchState;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::config::HandTimes;
use chargehand_types::checklist::ListKind;
use chargehand_types::event::Actor;
use chargehand_types::history::Learnt;
use chargehand_types::id::{Person, Revision};
use chargehand_types::plan::{HandTime, Hands, Minutes};
use chargehand_types::quantity::Seconds;
use chrono::{DateTime, Utc};
use std::collections::BTreeMap;

/// How much longer or shorter than reckoned a step may well be until history knows better: 15 %. Common practice, no
/// source.
const SPREAD: f64 = 0.15;
/// A step falls into the range that is told for it four times in five: a person plans a morning by it, not a life.
const RANGE: f64 = 0.8;
/// Neither half nor double: a longer plan than that is no plan.
const BELIEVED: [f64; 2] = [0.5, 2.0];
/// A plan that may be off by more than half is none.
const SPREAD_MOST: f64 = 0.5;

/// A share of a step by which it may be shorter, and one by which it may be longer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub early: f64,
    pub late: f64,
}

const USUAL: Spread = Spread { early: SPREAD, late: SPREAD };

/// What the plan reckons with.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// How long hands need.
    pub times: HandTimes,
    /// The same, with the history each rests on.
    pub hands: Vec<HandTime>,
    /// What cuts take is reckoned times this, where history knows.
    pub pace: Option<Learnt>,
    spreads: [Spread; 3],
    cut: Spread,
}

impl Known {
    /// Without any history: the shop's settings.
    #[must_use]
    pub fn usual(times: HandTimes) -> Self {
        let told = [(Hands::Load, times.load), (Hands::BitChange, times.bit_change), (Hands::TakeOff, times.take_off)];
        let hands = told.map(|(work, minutes)| HandTime { work, minutes, rows: 0 }).to_vec();
        Self { times, hands, pace: None, spreads: [USUAL; 3], cut: USUAL }
    }

    /// All steps with one spread.
    #[cfg(test)]
    #[must_use]
    pub fn spreading(times: HandTimes, spread: Spread) -> Self {
        Self { spreads: [spread; 3], cut: spread, ..Self::usual(times) }
    }

    /// How much shorter or longer a step may well be.
    #[must_use]
    pub const fn spread(&self, doing: &Doing) -> Spread {
        let [load, bit_change, take_off] = self.spreads;
        match doing {
            Doing::Load => load,
            Doing::BitChange(_) => bit_change,
            Doing::Cleanup => take_off,
            Doing::Cut { .. } => self.cut,
        }
    }
}

/// What operations and hands really took: of the whole machine, and of single operations by card revision.
pub struct History {
    machine: TimeFactor,
    own: BTreeMap<(Revision, String), Vec<Cut>>,
    hands: Durations,
}

impl History {
    pub fn of(fold: &Fold) -> Self {
        let mut own: BTreeMap<(Revision, String), Vec<Cut>> = BTreeMap::new();
        let (mut all, mut steps) = (Vec::new(), Vec::new());
        for sheet in fold.sheets() {
            for operation in &sheet.operations {
                let Some(real) = operation.real else { continue };
                let cut = Cut { predicted: operation.predicted, real };
                all.push(cut);
                own.entry((sheet.revision.clone(), operation.name.clone())).or_default().push(cut);
            }
            hands_of(sheet, &mut steps);
        }
        Self { machine: time_factor(&all, range()), own, hands: Durations::of(&steps) }
    }

    /// What a reckoned time is multiplied by: from the operation's own history, else from the machine's.
    pub fn factor(&self, batch: &BatchState, operation: &str) -> f64 {
        let own = self.own.get(&(batch.revision.clone(), operation.to_owned()));
        let own = own.map(|cuts| time_factor(cuts, Level::USUAL)).filter(|factor| factor.rests.on == Ground::History);
        own.unwrap_or(self.machine).factor.clamp(BELIEVED[0], BELIEVED[1])
    }

    /// What the plan reckons with, the shop's settings standing in for what is not known.
    pub fn known(&self, settings: HandTimes) -> Known {
        let mut known = Known::usual(settings);
        let mut spreads = [USUAL; 3];
        for (hand, spread) in known.hands.iter_mut().zip(&mut spreads) {
            // who will do it is not known: whoever did it counts
            let usual = Seconds::of(f64::from(hand.minutes.0) * 60.0);
            let found = self.hands.estimate(step(hand.work), &Person::from(""), usual, range());
            if found.rests.on != Ground::Usual {
                hand.minutes = minutes_up(found.takes);
                hand.rows = u32::try_from(found.rests.rows).unwrap_or(u32::MAX);
                *spread = found.next.map_or(USUAL, |next| shares(next.low, next.high, found.takes.value()));
            }
        }
        for hand in &known.hands {
            match hand.work {
                Hands::Load => known.times.load = hand.minutes,
                Hands::BitChange => known.times.bit_change = hand.minutes,
                Hands::TakeOff => known.times.take_off = hand.minutes,
            }
        }
        let TimeFactor { factor, interval, rests, next } = self.machine;
        known.spreads = spreads;
        known.cut = next.map_or(USUAL, |next| shares(next.low, next.high, factor));
        known.pace = (rests.on == Ground::History).then(|| Learnt {
            value: factor,
            interval: interval.map(|i| [i.low, i.high]),
            rows: u32::try_from(rests.rows).unwrap_or(u32::MAX),
        });
        known
    }
}

fn range() -> Level {
    Level::new(RANGE).unwrap_or(Level::USUAL)
}

/// The ends of a range as shares of its middle.
fn shares(low: f64, high: f64, middle: f64) -> Spread {
    if middle <= 0.0 {
        return USUAL;
    }
    Spread { early: (1.0 - low / middle).clamp(0.0, SPREAD_MOST), late: (high / middle - 1.0).clamp(0.0, SPREAD_MOST) }
}

/// Whole minutes, rounded up; never nothing.
fn minutes_up(took: Seconds) -> Minutes {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and 10,000")]
    let minutes = (took.value() / 60.0).ceil().clamp(1.0, 10_000.0) as u32;
    Minutes(minutes)
}

const fn step(work: Hands) -> &'static str {
    match work {
        Hands::Load => "load",
        Hands::BitChange => "bit-change",
        Hands::TakeOff => "take-off",
    }
}

/// What hands took on a sheet, by the wall clock: from being taken to the signed securing list; from there to the first
/// tooling list; from the end of the last cut to the closed sheet.
fn hands_of(sheet: &SheetState, steps: &mut Vec<StepTime>) {
    let mut add = |work: Hands, by: Option<&Actor>, from: DateTime<Utc>, to: DateTime<Utc>| {
        let who = by.map_or_else(|| Person::from(""), |actor| actor.who.clone());
        let took = Seconds::of(to.signed_duration_since(from).as_seconds_f64());
        steps.push(StepTime { step: step(work).to_owned(), who, took });
    };
    let mut lists = sheet.lists.iter();
    if let (Some(begun), Some(first)) = (sheet.begun, lists.next().filter(|l| l.list == ListKind::Securing)) {
        add(Hands::Load, first.by.as_ref(), begun, first.at);
        if let Some(second) = lists.next().filter(|l| l.list == ListKind::Tooling) {
            add(Hands::BitChange, second.by.as_ref(), first.at, second.at);
        }
    }
    if let (Some(cut), Some(closed)) = (sheet.cut, sheet.closed) {
        let by = sheet.lists.iter().rev().find(|l| l.list == ListKind::Checking).and_then(|l| l.by.as_ref());
        add(Hands::TakeOff, by, cut, closed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(step: &str, minutes: &[f64]) -> Vec<StepTime> {
        let row = |m: &f64| StepTime { step: step.to_owned(), who: "Emrik".into(), took: Seconds::of(m * 60.0) };
        minutes.iter().map(row).collect()
    }

    fn history(steps: &[StepTime], ratios: &[f64]) -> History {
        let cuts: Vec<Cut> =
            ratios.iter().map(|r| Cut { predicted: Seconds::of(600.0), real: Seconds::of(600.0 * r) }).collect();
        History { machine: time_factor(&cuts, range()), own: BTreeMap::new(), hands: Durations::of(steps) }
    }

    #[test]
    fn without_history_the_settings_stand() {
        let known = history(&rows("load", &[3.0, 3.0]), &[1.1, 1.1]).known(HandTimes::default());
        assert_eq!(known, Known::usual(HandTimes::default()), "two rows are no history");
    }

    #[test]
    fn hands_and_cuts_are_reckoned_as_they_were() {
        let loads = [7.0, 8.0, 8.5, 9.0, 8.0, 7.5, 8.0, 8.2, 9.5];
        let known = history(&rows("load", &loads), &[1.0, 1.1, 1.2]).known(HandTimes::default());
        assert_eq!((known.times.load, known.times.take_off), (Minutes(8), HandTimes::default().take_off));
        assert_eq!(known.hands[0], HandTime { work: Hands::Load, minutes: Minutes(8), rows: 9 });
        // the next of nine falls between the least and the most four times in five: 1 - 2/10
        let spread = known.spread(&Doing::Load);
        assert!((spread.early - 1.0 / 8.0).abs() < 1.0e-9 && (spread.late - 1.5 / 8.0).abs() < 1.0e-9, "{spread:?}");
        assert_eq!(known.pace.map(|p| p.rows), Some(3));
        let cut = known.spread(&Doing::Cut { operation: String::new(), unattended: true });
        assert_eq!(cut, USUAL, "three cuts give no range yet");
    }
}
