//! Upkeep as the events tell it: how far the machine has run, and where it stood when each thing was done last.
//!
//! May live here: plain facts. May not: when something is due; that is `app`.

use chargehand_types::event::{Actor, Event, What};
use chargehand_types::quantity::{Metres, Seconds};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How far the machine has run, and what was done at which point of it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct UpkeepState {
    /// When the first event happened.
    pub since: Option<DateTime<Utc>>,
    /// In motion or dwell, in all.
    pub ran: Seconds,
    /// Cut, in all.
    pub cut: Metres,
    /// What was done last, by name.
    pub done: BTreeMap<String, DoneAt>,
}

/// Where the machine stood when something was done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DoneAt {
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: Option<Actor>,
    /// In motion or dwell until then.
    pub ran: Seconds,
    /// Cut until then.
    pub cut: Metres,
}

impl UpkeepState {
    /// Folds in what concerns upkeep.
    pub(super) fn apply(&mut self, event: &Event) {
        self.since.get_or_insert(event.at);
        match &event.what {
            What::OperationFinished { real, cut, .. } => {
                self.ran += *real;
                self.cut += *cut;
            }
            What::UpkeepDone { name } => {
                let done = DoneAt { at: event.at, by: event.actor.clone(), ran: self.ran, cut: self.cut };
                self.done.insert(name.clone(), done);
            }
            _ => {}
        }
    }

    /// Seconds in motion, metres cut and days since something was done; since the first event where nobody did yet.
    #[must_use]
    pub fn since(&self, name: &str, now: DateTime<Utc>) -> (Seconds, Metres, f64) {
        let done = self.done.get(name);
        let (ran, cut) = done.map_or((Seconds::ZERO, Metres::ZERO), |done| (done.ran, done.cut));
        let from = done.map(|done| done.at).or(self.since);
        let days = from.map_or(0.0, |from| (now - from).as_seconds_f64() / 86_400.0);
        (self.ran - ran, self.cut - cut, days.max(0.0))
    }
}
