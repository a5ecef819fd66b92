//! The plan of the day: when what runs, and when somebody is needed.

use crate::history::Learnt;
use crate::id::{BatchId, BitName, CardName, SheetId};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// A minute of a plan, counted from the plan's own zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minute(pub u32);

/// A number of whole minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

impl Minute {
    /// So much later.
    #[must_use]
    pub const fn after(self, wait: Minutes) -> Self {
        Self(self.0.saturating_add(wait.0))
    }

    /// How long after an earlier one; nothing when that one is later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Minutes {
        Minutes(self.0.saturating_sub(earlier.0))
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            minutes @ 0..120 => write!(f, "{minutes} min"),
            minutes => write!(f, "{} h {} min", minutes / 60, minutes % 60),
        }
    }
}

/// `GET /v1/plan`: the order of work, and when somebody is needed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DayPlan {
    /// 1.
    pub schema: u32,
    /// Planned at.
    pub at: DateTime<Utc>,
    /// The shop's zone, a name of the zone database.
    pub time_zone: String,
    /// The calendar was looked at up to then.
    pub until: DateTime<Utc>,
    /// Supposed in place of what is: empty for the plan itself.
    pub supposed: Vec<String>,
    /// How good it is known to be.
    pub proof: Proof,
    /// What it is measured by.
    pub measure: Measure,
    /// The same of the order a careful list would have: due date first, same bit together.
    pub by_due_date: Measure,
    /// In the order they are cut.
    pub sheets: Vec<PlannedSheet>,
    /// When somebody is needed.
    pub needed: Vec<Needed>,
    /// When somebody is there and not needed.
    pub free: Vec<Stretch>,
    /// When somebody is there.
    pub presence: Vec<Stretch>,
    /// When nothing may cut.
    pub quiet: Vec<Stretch>,
    /// Sheets that have no place in it.
    pub unplanned: Vec<Unplanned>,
    /// Due times it misses.
    pub missed: Vec<Missed>,
    /// What is otherwise than in the plan before.
    pub changes: Vec<Change>,
    /// How far the products are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sets: Vec<SetsRow>,
    /// Sheets there and wanted, by the shop's stock.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stock: Vec<StockRow>,
    /// What cuts take is reckoned times this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pace: Option<Learnt>,
    /// What the work of hands is reckoned with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hands: Vec<HandTime>,
    /// When a plan came out otherwise, as `changes` says; none while it stands as it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<DateTime<Utc>>,
}

/// How long one kind of work of hands is reckoned with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandTime {
    /// Which.
    pub work: Hands,
    /// For so long.
    pub minutes: Minutes,
    /// Times it was measured that the figure rests on; 0 where it is the shop's setting.
    pub rows: u32,
}

/// Work of hands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hands {
    /// Getting a sheet onto the machine and held down.
    Load,
    /// Fitting a bit and touching the zero again.
    BitChange,
    /// Taking a sheet off, checking its parts, cleaning.
    TakeOff,
}

impl fmt::Display for Hands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Load => "fixing a sheet",
            Self::BitChange => "a bit change",
            Self::TakeOff => "taking off",
        })
    }
}

/// In the event stream as `plan`: the plan was made anew and came out otherwise. Not kept and not replayed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanChanged {
    /// When it was made.
    pub at: DateTime<Utc>,
    /// What is otherwise.
    pub changes: Vec<Change>,
}

/// How far a product is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetsRow {
    /// Its name.
    pub product: String,
    /// Sets that are wanted, where a batch was added for them; else those begun.
    pub wanted: u32,
    /// The first batch of the order, where there is one.
    pub order: Option<BatchId>,
    /// Sets there are good parts for.
    pub complete: u32,
    /// Parts that the wanted sets lack now.
    pub short: BTreeMap<String, u32>,
    /// Sets there will be parts for when every sheet that waits comes out good.
    pub coming: u32,
    /// Sheets to add for what will be lacking even then, by card.
    pub more: BTreeMap<CardName, u32>,
    /// Parts that no card of the shop yields.
    pub nowhere: BTreeMap<String, u32>,
}

/// Sheets of one kind of stock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StockRow {
    /// Its name.
    pub stock: String,
    /// Sheets there: as counted, without those begun since; none before the first count.
    pub there: Option<u32>,
    /// Sheets that wait for it.
    pub wanted: u32,
    /// Sheets to have beside them, as some come out scrap.
    pub spare: u32,
    /// The share of scrap reckoned with, and the sheets it rests on.
    pub scrap: (f64, u32),
    /// Panels to buy.
    pub panels: u32,
    /// What they cost.
    pub cost: f64,
    /// Sheets left over from them.
    pub left: u32,
    /// Why none can be sawn for a card.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub troubles: Vec<String>,
}

/// How good a plan is known to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Proof {
    /// No order is better.
    Best,
    /// The best one found with the whole effort.
    Searched,
    /// The best one found until time was up.
    CutShort,
}

/// What a plan is measured by, the first part first; less is better.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// Sum of weight times minutes late.
    pub weighted_tardiness_min: f64,
    /// End of the last sheet; none when there is no sheet.
    pub finish: Option<DateTime<Utc>>,
    /// Times somebody is called to the machine.
    pub calls: u32,
    /// Bit changes.
    pub bit_changes: u32,
}

/// A sheet of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedSheet {
    /// Its id.
    pub sheet: SheetId,
    /// Its card.
    pub card: CardName,
    /// When it is due.
    pub due: Option<DateTime<Utc>>,
    /// Its first step begins.
    pub start: DateTime<Utc>,
    /// Its last step ends.
    pub finish: DateTime<Utc>,
    /// Minutes after it is due; nothing when it is in time.
    pub late: Minutes,
    /// Why it stands where it stands.
    pub why: Why,
    /// Its steps.
    pub steps: Vec<PlannedStep>,
}

/// A step of a planned sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedStep {
    /// What is done.
    #[serde(flatten)]
    pub work: Work,
    /// It begins.
    pub from: DateTime<Utc>,
    /// It ends.
    pub to: DateTime<Utc>,
    /// Somebody must be there for it.
    pub person: bool,
}

/// What is done in a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "work", rename_all = "kebab-case")]
pub enum Work {
    /// The sheet is laid on, pushed to the stop and held down.
    Load,
    /// Another bit is fitted and the zero touched again.
    BitChange {
        /// The bit.
        bit: BitName,
    },
    /// An operation is cut.
    Cut {
        /// Its name.
        operation: String,
    },
    /// The parts are taken off and checked, the table is cleaned.
    TakeOff,
}

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stretch {
    /// It begins.
    pub from: DateTime<Utc>,
    /// It ends.
    pub to: DateTime<Utc>,
}

/// A time somebody is needed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Needed {
    /// As planned.
    pub from: DateTime<Utc>,
    /// The earliest and the latest it may well be, as cuts take less or more than reckoned.
    pub between: Stretch,
    /// As planned.
    pub to: DateTime<Utc>,
    /// For how long.
    pub minutes: Minutes,
    /// What for, one a step.
    pub tasks: Vec<Task>,
}

/// Something somebody is needed for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Task {
    /// On which sheet.
    pub sheet: SheetId,
    /// What.
    #[serde(flatten)]
    pub work: Work,
}

impl fmt::Display for Task {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sheet = &self.sheet;
        match &self.work {
            Work::Load => write!(f, "fix sheet {sheet}"),
            Work::BitChange { bit } => write!(f, "bit change to {bit} on sheet {sheet}"),
            Work::Cut { operation } => write!(f, "stay beside `{operation}` on sheet {sheet}"),
            Work::TakeOff => write!(f, "take sheet {sheet} off and check its parts"),
        }
    }
}

/// Why a sheet stands where it stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "why", rename_all = "kebab-case")]
pub enum Why {
    /// It is on the machine.
    OnMachine,
    /// It is about to start, and that is not shuffled.
    AboutToStart,
    /// After the next sheet more would be late.
    LateOtherwise {
        /// The next sheet.
        before: SheetId,
        /// So many weighted minutes more.
        weighted_min: f64,
    },
    /// After the next sheet the last one would be finished later.
    LongerOtherwise {
        /// The next sheet.
        before: SheetId,
        /// By so much.
        minutes: Minutes,
    },
    /// After the next sheet there would be one bit change more.
    SameBit {
        /// The next sheet.
        before: SheetId,
    },
    /// After the next sheet it would be as good.
    Either {
        /// The next sheet.
        before: SheetId,
    },
    /// Nothing comes after it.
    Last,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OnMachine => write!(f, "it is on the machine"),
            Self::AboutToStart => write!(f, "it is about to start, and that is not shuffled"),
            Self::LateOtherwise { before, weighted_min } => {
                write!(f, "after {before} it would cost {weighted_min:.0} min more lateness (times weight)")
            }
            Self::LongerOtherwise { before, minutes } => {
                write!(f, "after {before} the last sheet would be finished {minutes} later")
            }
            Self::SameBit { before } => write!(f, "after {before} there would be one bit change more"),
            Self::Either { before } => write!(f, "it could as well come after {before}"),
            Self::Last => write!(f, "everything else comes first"),
        }
    }
}

/// A sheet without a place in the plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Unplanned {
    /// The sheet.
    pub sheet: SheetId,
    /// Why, as a sentence.
    pub reason: String,
}

/// A due time that is missed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Missed {
    /// The sheet.
    pub sheet: SheetId,
    /// By so much.
    pub late: Minutes,
    /// What would make it; empty when nothing small was found.
    pub would_help: Vec<Help>,
}

/// What would make a due time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "help", rename_all = "kebab-case")]
pub enum Help {
    /// Somebody stays longer.
    Longer {
        /// After that end of a presence.
        after: DateTime<Utc>,
        /// So much.
        minutes: Minutes,
    },
    /// These sheets are left for later.
    Without {
        /// Which.
        sheets: Vec<SheetId>,
    },
}

/// What is otherwise than in the plan before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "change", rename_all = "kebab-case")]
pub enum Change {
    /// A sheet that was not in it.
    New {
        /// Which.
        sheet: SheetId,
    },
    /// A sheet that is no longer in it.
    Gone {
        /// Which.
        sheet: SheetId,
    },
    /// A sheet finished later than it was planned.
    Later {
        /// Which.
        sheet: SheetId,
        /// By so much.
        minutes: Minutes,
    },
    /// A sheet finished sooner than it was planned.
    Sooner {
        /// Which.
        sheet: SheetId,
        /// By so much.
        minutes: Minutes,
    },
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::New { sheet } => write!(f, "{sheet} is new"),
            Self::Gone { sheet } => write!(f, "{sheet} is no longer in it"),
            Self::Later { sheet, minutes } => write!(f, "{sheet} is finished {minutes} later"),
            Self::Sooner { sheet, minutes } => write!(f, "{sheet} is finished {minutes} sooner"),
        }
    }
}
