//! The lists of the day, as the events tell them: what was answered of each, who finished it last.
//!
//! May live here: plain facts. May not: whether a list is due, or where one goes on; that is `app`.

use chargehand_types::checklist::ListKind;
use chargehand_types::event::{Actor, Event, What};
use chargehand_types::id::Person;
use chargehand_types::stage::Stage;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Every list of the day.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct DayState {
    /// By list; one that was never begun is not there.
    pub lists: BTreeMap<ListKind, DayList>,
    /// The daemon went down in the middle of a cut, and nobody has walked the list for it since.
    pub went_down: bool,
    /// The shop was closed by its list, and not opened since. By the order of events: a clock may be set back.
    pub closed: bool,
    /// Who took the machine over, and nobody signed a list of the sheet since. By the order of events as well.
    pub taken_over: Option<Person>,
}

/// One list of the day.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct DayList {
    /// Steps answered since it was begun, in order, by id; empty once it is finished.
    pub answered: Vec<String>,
    /// Who answered last, and when.
    pub last: Option<(Option<Actor>, DateTime<Utc>)>,
    /// Whoever finished it last, and when.
    pub signed: Option<(Option<Actor>, DateTime<Utc>)>,
}

impl DayState {
    /// A list as it stands.
    #[must_use]
    pub fn list(&self, kind: ListKind) -> Option<&DayList> {
        self.lists.get(&kind)
    }

    /// When a list was last finished.
    #[must_use]
    pub fn signed(&self, kind: ListKind) -> Option<DateTime<Utc>> {
        Some(self.list(kind)?.signed.as_ref()?.1)
    }

    /// Folds in what concerns the day. `on` is the stage of the sheet on the machine before the event.
    pub(super) fn apply(&mut self, event: &Event, on: Option<Stage>) {
        let by = || Some((event.actor.clone(), event.at));
        match &event.what {
            What::DaemonStarted { .. } if matches!(on, Some(Stage::Cutting | Stage::Held)) => self.went_down = true,
            What::DayBegun { list } => {
                let list = self.lists.entry(*list).or_default();
                list.answered.clear();
                list.last = by();
            }
            What::StepAnswered { list, step, taken: true, .. } if list.is_of_day() => {
                let list = self.lists.entry(*list).or_default();
                if !list.answered.contains(step) {
                    list.answered.push(step.clone());
                }
                list.last = by();
            }
            What::DaySigned { list } => {
                let state = self.lists.entry(*list).or_default();
                state.answered.clear();
                state.last = None;
                state.signed = by();
                match list {
                    ListKind::AfterPowerCut => self.went_down = false,
                    ListKind::Closing => self.closed = true,
                    ListKind::Opening => self.closed = false,
                    ListKind::HandOver => self.taken_over = event.actor.as_ref().map(|by| by.who.clone()),
                    ListKind::Securing
                    | ListKind::Tooling
                    | ListKind::Ready
                    | ListKind::TakingOff
                    | ListKind::Checking => {}
                }
            }
            What::SheetSigned { .. } => self.taken_over = None,
            _ => {}
        }
    }
}
