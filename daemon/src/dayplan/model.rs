//! What is to be planned, and what a plan is measured by.

use crate::calendar::Windows;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::plan::{Minute, Minutes};

/// What is to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Nothing starts earlier.
    pub now: Minute,
    /// In the spindle now; unknown means the first operation needs a bit change.
    pub bit_on_machine: Option<BitName>,
    /// How long a bit change takes, zero touched again.
    pub bit_change: Minutes,
    /// When what may be done.
    pub hours: Hours,
    /// To be cut. The first `frozen` of them keep their places and the written order of their operations.
    pub sheets: Vec<Sheet>,
    /// How many sheets at the head are not shuffled.
    pub frozen: usize,
}

/// When what may be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hours {
    /// Loading, bit changes, clean-up.
    pub hands: Windows,
    /// Cutting with somebody there.
    pub attended: Windows,
    /// Cutting that needs nobody there; none means always.
    pub alone: Option<Windows>,
}

impl Hours {
    /// Hours of a shop where somebody's presence is all that counts and unattended cutting may run at any time.
    #[must_use]
    pub fn presence_alone(presence: Windows) -> Self {
        Self { hands: presence.clone(), attended: presence, alone: None }
    }
}

/// A sheet to be cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its id.
    pub id: SheetId,
    /// Getting it onto the machine and held down; nothing for one that lies there already.
    pub load: Minutes,
    /// Taking it off, checking its parts, cleaning.
    pub cleanup: Minutes,
    /// When it should be finished; none means whenever.
    pub due: Option<Minute>,
    /// How much a minute late matters.
    pub weight: f64,
    /// What is to be cut; none for one that waits to be taken off.
    pub operations: Vec<Operation>,
}

/// An operation of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Operation {
    /// Unique on the sheet.
    pub name: String,
    /// How long it cuts.
    pub minutes: Minutes,
    /// With which bit.
    pub bit: BitName,
    /// Operations of the sheet that must be finished first. One that is no longer on the sheet is finished.
    pub after: Vec<String>,
    /// May run with nobody there.
    pub unattended: bool,
}

/// What a plan is measured by; less is better, the first part first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Objective {
    /// Sum of weight times minutes late, in thousandths.
    pub tardiness: u64,
    /// End of the last clean-up.
    pub finish: Minute,
    /// Bit changes.
    pub changes: u32,
}

impl Objective {
    /// Sum of weight times minutes late.
    #[must_use]
    pub fn weighted_tardiness(self) -> f64 {
        self.tardiness as f64 / 1000.0
    }
}

/// Why something cannot be planned at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unfit {
    /// More sheets than a plan can hold.
    #[error("{0} sheets are more than a plan can hold ({most})", most = super::kernel::SHEETS_AT_MOST)]
    TooManySheets(usize),
    /// The frozen head is longer than the list.
    #[error("{frozen} sheets at the head are to keep their places, but there are only {sheets}")]
    HeadTooLong {
        /// Asked for.
        frozen: usize,
        /// There.
        sheets: usize,
    },
    /// Operations that wait for one another.
    #[error("sheet {sheet}: its operations wait for one another in a circle ({operation})")]
    Circle {
        /// The sheet.
        sheet: SheetId,
        /// One of them.
        operation: String,
    },
    /// Two operations of one name.
    #[error("sheet {sheet}: two operations are called `{operation}`")]
    SameName {
        /// The sheet.
        sheet: SheetId,
        /// The name.
        operation: String,
    },
    /// A weight that is none.
    #[error("sheet {sheet}: its weight {weight} is not between 0 and {most}", most = super::kernel::WEIGHT_AT_MOST)]
    Weight {
        /// The sheet.
        sheet: SheetId,
        /// As given.
        weight: String,
    },
    /// More operations or bits than a plan can hold.
    #[error("sheet {sheet}: more operations or bits than a plan can hold")]
    TooMuch {
        /// The sheet.
        sheet: SheetId,
    },
    /// A step longer than any window in which it may be done.
    #[error("sheet {sheet}: {step} takes {needs}, and the longest time in which it may be done is {longest}")]
    NoWindow {
        /// The sheet.
        sheet: SheetId,
        /// Load, clean-up, a bit change or the operation.
        step: String,
        /// Its length.
        needs: Minutes,
        /// The longest window.
        longest: Minutes,
    },
}
