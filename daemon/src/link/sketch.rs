//! A conversation as one that explores it has to see it: everything that decides how it goes on, with times counted
//! from now, numbers from the next one, and no stop counted. Two of the same sketch go on alike.
//!
//! May live here: which field counts, and how. May not: a change of any.

use super::conversation::{InFlight, Link, Phase, Task};
use super::stretch::{Pause, Stretch};
use chargehand_types::quantity::Tick;
use std::hash::{Hash, Hasher};

/// A tenth of a second: times are told in so many, rounded. No two deadlines are nearer to each other.
const GRAIN_US: u64 = 100_000;
/// A time longer ago than this is past every deadline but that of homing.
const LONG_AGO_US: u64 = 8_000_000;
/// And this is past that too.
const PAST_HOMING_US: u64 = 181_000_000;

/// How long ago, in grains.
const fn ago(now: Tick, then: Tick, most_us: u64) -> u64 {
    let us = now.0.saturating_sub(then.0);
    (if us > most_us { most_us } else { us } + GRAIN_US / 2) / GRAIN_US
}

/// How long until then, in grains.
const fn ahead(now: Tick, then: Tick) -> u64 {
    ago(then, now, LONG_AGO_US)
}

impl Link {
    /// Hashes all that decides how the conversation goes on. Nothing of it may wait to be drained.
    #[allow(clippy::use_debug, reason = "a text that is only hashed")]
    pub fn sketch<H: Hasher>(&self, now: Tick, into: &mut H) {
        // a new field has to be thought of here
        let Self {
            profile: _,
            rate: _,
            phase,
            epoch: _,
            ear,
            outs,
            flight,
            unanswered,
            stretch,
            task,
            task_lines,
            task_taken,
            state,
            report_asked,
            report_got,
            first_asked,
            tells_of,
            last_answer,
            ready_since_answer,
            hold_told,
            move_held,
            figures,
            numbering,
            again,
            asked_at,
            run_out,
            told,
            last_sent,
            tainted,
            touching,
            setting,
            spindle_wanted,
            running,
        } = self;
        debug_assert!(outs.is_empty(), "drain first");
        match phase {
            Phase::Closed { again } => (0, ahead(now, *again)),
            Phase::Settling { until } => (1, ahead(now, *until)),
            Phase::Up => (2, 0),
        }
        .hash(into);
        let next = numbering.next();
        for InFlight { bytes, of, number, again } in flight {
            (bytes, next.wrapping_sub(*number), again, format!("{of:?}")).hash(into);
        }
        let homing = matches!(task, Some(Task::Home { .. }));
        let since = |t: &Tick| ago(now, *t, LONG_AGO_US);
        let got = ago(now, *report_got, if homing { PAST_HOMING_US } else { LONG_AGO_US });
        // with nothing in flight it is counted from the next line sent
        let answer = (!flight.is_empty()).then(|| since(last_answer));
        (report_asked.as_ref().map(since), got, answer).hash(into);
        // looked at only while lines wait for their answers
        let asked_first = first_asked.unwrap_or_default();
        (!flight.is_empty()).then(|| (since(tells_of), tells_of.cmp(last_answer), since(&asked_first))).hash(into);
        asked_at.as_ref().map(since).hash(into);
        again.map(|(due, from)| (ahead(now, due), next.wrapping_sub(from))).hash(into);
        // which came first counts too, where two lie within a grain
        let asked = report_asked.unwrap_or_default();
        (asked.cmp(last_answer), report_got.cmp(last_answer)).hash(into);
        // compared with nothing until it told how much room it has
        if figures.told_once() {
            (asked.cmp(last_sent), last_sent.cmp(last_answer), since(last_answer), since(last_sent)).hash(into);
            format!("{figures:?}").hash(into);
        }
        let flags = [task_taken, ready_since_answer, hold_told, run_out, told, tainted];
        (unanswered, format!("{task_lines:?}"), flags, move_held).hash(into);
        match task {
            Some(Task::Clear { since: t, step, then, moving_blind }) => {
                (since(t), moving_blind, format!("{step:?}{then:?}")).hash(into);
            }
            Some(Task::Home { since: t }) => ago(now, *t, PAST_HOMING_US).hash(into),
            other => format!("{other:?}").hash(into),
        }
        format!("{ear:?}{state:?}{touching:?}{setting:?}{spindle_wanted:?}{running:?}").hash(into);
        numbering.sketch(into);
        stretch.is_some().hash(into);
        if let Some(s) = stretch {
            s.sketch(now, into);
        }
    }
}

impl Stretch {
    #[allow(clippy::use_debug, reason = "a text that is only hashed")]
    fn sketch<H: Hasher>(&self, now: Tick, into: &mut H) {
        match &self.pause {
            Pause::HoldAsked(since) => (99, ago(now, *since, LONG_AGO_US)).hash(into),
            other => format!("{other:?}").hash(into),
        }
        self.resumed.map(|r| (ago(now, r.at, LONG_AGO_US), r.stale)).hash(into);
        for line in self.waiting() {
            (line.source_line, line.part, &line.bytes).hash(into);
        }
        (self.more, self.wanted, self.queued_bytes()).hash(into);
        format!("{:?}{:?}{:?}", self.path, self.base, self.told).hash(into);
    }
}
