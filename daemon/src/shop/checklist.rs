//! Checklists as a shop writes them: ordered steps with what each asks, and the steps no shop can take out.
//!
//! May live here: the lists as data, filling in what is known of a sheet, judging an answer. May not: the wording of
//! steps, which is in `config/checklists`, and where a sheet is in its life.

mod facts;
mod freeing;
mod judge;
mod killers;
mod raw;
mod read;
mod spot;
mod words;

pub use facts::{Facts, HandOn};
pub use freeing::{cuts, places};
pub use read::read;
pub use spot::{ON_THE_BOARD, from_edges, spot};
pub use words::fill;

use chargehand_types::checklist::{Caution, Choice, ListForm, ListKind};
use chargehand_types::quantity::Seconds;
use std::collections::BTreeMap;

/// The lists of a shop: those of a sheet and those of the day.
#[derive(Debug, Clone, PartialEq)]
pub struct Checklists(BTreeMap<ListKind, Checklist>);

impl Checklists {
    /// From a list of each kind; none when one is missing.
    #[must_use]
    pub fn of(lists: impl IntoIterator<Item = (ListKind, Checklist)>) -> Option<Self> {
        let lists: BTreeMap<ListKind, Checklist> = lists.into_iter().collect();
        ListKind::ALL.iter().all(|kind| lists.contains_key(kind)).then_some(Self(lists))
    }

    /// The title of a list, for people.
    #[must_use]
    pub fn title(&self, kind: ListKind) -> &str {
        self.0.get(&kind).map_or("", |list| list.title.as_str())
    }

    /// The steps of a list that are asked with these facts, in order.
    #[must_use]
    pub fn steps(&self, kind: ListKind, form: ListForm, facts: &Facts) -> Vec<&Step> {
        let steps = self.0.get(&kind).map_or(&[][..], |list| list.form(form));
        steps.iter().filter(|step| step.only.is_none_or(|only| facts.hold(only))).collect()
    }
}

/// One list.
#[derive(Debug, Clone, PartialEq)]
pub struct Checklist {
    /// For people.
    pub title: String,
    /// On a first sheet.
    pub full: Vec<Step>,
    /// On repeats; a list of the day has none.
    pub repeat: Vec<Step>,
}

impl Checklist {
    /// The steps of a form, whatever their condition.
    #[must_use]
    pub fn form(&self, form: ListForm) -> &[Step] {
        match form {
            ListForm::Full => &self.full,
            ListForm::Repeat => &self.repeat,
        }
    }
}

/// One step of a list, before anything is known of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Unique in its form.
    pub id: String,
    /// The one action, with places to fill in (`{thickness}`).
    pub text: String,
    /// More, behind `?`.
    pub help: Option<String>,
    /// At this step.
    pub caution: Option<Caution>,
    /// What is asked.
    pub asks: Asks,
    /// Asked only then.
    pub only: Option<Only>,
    /// Cannot be taken out or skipped.
    pub killer: bool,
    /// What doing it takes, before a gap counts as an interruption.
    pub takes: Seconds,
}

/// What a step asks.
#[derive(Debug, Clone, PartialEq)]
pub enum Asks {
    /// Say that it was seen or done.
    Confirm,
    /// Read a value back.
    Value(Reading),
    /// Choose one.
    Choose {
        /// What there is to choose.
        options: Vec<Choice>,
        /// Keys that let the list go on; all when empty.
        right: Vec<String>,
    },
    /// Put fasteners at the shown places.
    Place,
    /// Wait until the bit stands still.
    RunDown,
    /// Set the Z zero.
    TouchZ,
    /// Touch it once more after the cut.
    TouchAgain,
    /// Bring the bit over a place and look.
    Hover(Over),
    /// Raise the bit clear of the wood. No list's file has it: it is asked where a bit that comes out stands low.
    Raise,
    /// Name the lot, with the one named before. No list's file has it: it is asked of the first sheet of a batch, and may be
    /// named where a later one is laid.
    Lot {
        /// The lot of before.
        before: Option<String>,
        /// The sheet counts as of it already.
        carried: bool,
    },
    /// Grade the parts.
    Parts,
}

/// A place that the bit is brought over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Over {
    /// The mark on the waste board.
    Mark,
    /// The sheet's left front corner.
    Corner,
    /// Where a stopped cut goes on.
    Entry,
}

/// A value to be read back.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Of the value.
    pub unit: String,
    /// Least plausible, whatever is expected.
    pub least: f64,
    /// Most plausible, whatever is expected.
    pub most: f64,
    /// What it should be.
    pub expect: Option<Expect>,
    /// How far it may be from that; unsaid, `least` and `most` alone hold.
    pub within: Option<f64>,
}

/// Where the expected value comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Expect {
    /// The card's thickness.
    Thickness,
    /// The diameter of the operation's bit.
    BitDiameter,
    /// The number of the physical bit.
    BitNumber,
    /// The dial mark for the program's speed.
    Dial,
    /// How many fasteners were placed.
    Fasteners,
    /// The number of the sheet on the machine in its batch.
    SheetNumber,
    /// How many calls are open.
    Calls,
    /// Always this.
    Number(f64),
}

impl Expect {
    /// Whether the person is to find the value without being shown it: it is what proves that they looked.
    #[must_use]
    pub const fn is_kept_back(self) -> bool {
        matches!(self, Self::SheetNumber | Self::Calls)
    }
}

/// When a step is asked; always when it says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Only {
    /// The router is switched by hand.
    ManualSpindle,
    /// The controller switches the spindle.
    ControlledSpindle,
    /// The operation wants another bit than the one in the collet.
    BitChange,
    /// The sheet has not been cut yet.
    FirstOperation,
    /// The cut left tabs.
    Tabs,
    /// The cut left a skin.
    Skin,
    /// A sheet lies on the machine.
    SheetOn,
    /// Physical bits of the operation's kind have numbers.
    NumberedBit,
    /// Upkeep is due.
    UpkeepDue,
    /// The shop's config names no upkeep.
    UpkeepOnPaper,
    /// Something was cut since the Z zero was touched, and the zero still counts.
    Touched,
    /// A cut that was stopped goes on in its middle.
    GoingOn,
}

#[cfg(test)]
mod tests;
