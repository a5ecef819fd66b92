//! Checklists as data: what a person is asked, one step at a time, and what may be answered.

use crate::act::Axis;
use crate::quantity::{Length, Spot};
use serde::{Deserialize, Serialize};

/// Which list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ListKind {
    /// The sheet is secured.
    Securing,
    /// Bit and Z zero.
    Tooling,
    /// Before cycle start.
    Ready,
    /// Parts come off.
    TakingOff,
    /// Parts are checked.
    Checking,
    /// The shop is opened.
    Opening,
    /// The shop is closed.
    Closing,
    /// One person hands the machine over to the next.
    HandOver,
    /// The power was off in the middle of work.
    AfterPowerCut,
}

impl ListKind {
    /// The lists of a sheet, in the order of its life.
    pub const OF_SHEET: [Self; 5] = [Self::Securing, Self::Tooling, Self::Ready, Self::TakingOff, Self::Checking];
    /// The lists of the day. They belong to no sheet.
    pub const OF_DAY: [Self; 4] = [Self::Opening, Self::Closing, Self::HandOver, Self::AfterPowerCut];
    /// Every list.
    pub const ALL: [Self; 9] = [
        Self::Securing,
        Self::Tooling,
        Self::Ready,
        Self::TakingOff,
        Self::Checking,
        Self::Opening,
        Self::Closing,
        Self::HandOver,
        Self::AfterPowerCut,
    ];

    /// As files and JSON write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Securing => "securing",
            Self::Tooling => "tooling",
            Self::Ready => "ready",
            Self::TakingOff => "taking-off",
            Self::Checking => "checking",
            Self::Opening => "opening",
            Self::Closing => "closing",
            Self::HandOver => "hand-over",
            Self::AfterPowerCut => "after-power-cut",
        }
    }

    /// Whether it belongs to the day and to no sheet.
    #[must_use]
    pub const fn is_of_day(self) -> bool {
        matches!(self, Self::Opening | Self::Closing | Self::HandOver | Self::AfterPowerCut)
    }
}

/// The long form of a first sheet, or the short one of a repeat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ListForm {
    /// On a first sheet.
    Full,
    /// On repeats.
    Repeat,
}

/// ANSI Z535 signal words, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum SignalWord {
    /// Will kill or maim if not avoided.
    Danger,
    /// Could kill or maim.
    Warning,
    /// Could hurt.
    Caution,
    /// Damage only.
    Notice,
}

impl SignalWord {
    /// As it is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Danger => "DANGER",
            Self::Warning => "WARNING",
            Self::Caution => "CAUTION",
            Self::Notice => "NOTICE",
        }
    }
}

/// A caution at the step where it matters: hazard, consequence, avoidance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// The signal word.
    pub word: SignalWord,
    /// What is dangerous.
    pub hazard: String,
    /// What it does to a person.
    pub consequence: String,
    /// How to avoid it.
    pub avoid: String,
}

/// What kind of answer a step asks for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "ask", rename_all = "kebab-case")]
pub enum Ask {
    /// Say that it was seen or done.
    Confirm,
    /// Read a value back.
    Value {
        /// Of the value, as files write it ("mm", "dial", "count", …).
        unit: String,
        /// What it should be, where that is known.
        expect: Option<f64>,
        /// Least plausible.
        least: f64,
        /// Most plausible.
        most: f64,
    },
    /// Choose one.
    Choose {
        /// Key and text of each.
        options: Vec<Choice>,
    },
    /// Put fasteners at the shown places.
    Place {
        /// Where.
        places: Vec<Spot>,
        /// What, for people.
        fastener: String,
    },
    /// Wait until the bit stands still: a count, then "look: is it still?".
    RunDown {
        /// Machine seconds in all.
        seconds: f64,
        /// Machine seconds left when this was made.
        left: f64,
    },
    /// Move the machine by hand and set the Z zero where the bit touches.
    TouchZ {
        /// The next part of the way to the proposed place; none where the bit is over it, or no place or way is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        leg: Option<Leg>,
    },
    /// Touch the Z zero once more where it was touched, after the cut: nothing is set, it is compared.
    TouchAgain {
        /// Where it was touched, in work coordinates.
        at: Spot,
    },
    /// Bring the bit over a place, one axis a press, and look whether it stands over it. "off" is answered where it
    /// does not.
    Hover {
        /// The place, in work coordinates.
        at: Spot,
        /// The next part of the way; none where the bit is there, or where it stands is not known.
        leg: Option<Leg>,
        /// Whether the machine takes it to be there.
        there: bool,
    },
    /// Raise the bit clear of the wood: it is taken out next.
    Raise {
        /// The way up; none where it stands high enough, or where it stands is not known.
        leg: Option<Leg>,
        /// Whether it stands high enough.
        clear: bool,
    },
    /// Name the lot that the sheet is of; answered with nothing, it is the one before, or not known.
    Lot {
        /// The lot that was named last for this material.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        before: Option<String>,
        /// The sheet counts as of that lot already, like the one before it in its batch: what is asked is something else,
        /// and another lot may be named with the answer.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        carried: bool,
    },
    /// Grade the parts of the card.
    Parts {
        /// Name of each part, in order.
        names: Vec<String>,
        /// Which are graded already, by index.
        graded: Vec<u32>,
    },
}

/// A part of a way: one axis, so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Leg {
    /// Along which axis.
    pub axis: Axis,
    /// How far, signed.
    pub by: Length,
}

/// A zero is touched once more within this of where it was touched, sideways: farther off the sheet may be of another
/// thickness there. Common practice, no source.
pub const SAME_PLACE: Length = Length::whole_mm(5);

/// What is answered to a [`Ask::Hover`] where the bit does not stand over the place.
pub const OFF_THE_MARK: &str = "off";

/// One option of a [`Ask::Choose`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    /// What is answered.
    pub key: String,
    /// What the person reads.
    pub text: String,
    /// What to do about it, where the list does not go on with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub then: Option<String>,
}

/// A step as the terminal shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Its name in the list file.
    pub id: String,
    /// The one action, as a sentence.
    pub text: String,
    /// More, behind `?`.
    pub help: Option<String>,
    /// At this step.
    pub caution: Option<Caution>,
    /// What is asked.
    #[serde(flatten)]
    pub ask: Ask,
    /// A step that cannot be taken out of a list or skipped.
    pub killer: bool,
    /// A place on the sheet that the step speaks of, in work coordinates, for the map.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spot: Option<Spot>,
}

/// What a person answered to a step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum StepAnswer {
    /// Seen or done.
    Done,
    /// The value read.
    Value {
        /// In the step's unit.
        value: f64,
    },
    /// The option chosen.
    Choice {
        /// Its key.
        key: String,
    },
    /// Where the fasteners were put.
    Placed {
        /// As made.
        places: Vec<Spot>,
    },
    /// As it is marked.
    Named {
        /// In the letters that stand there.
        text: String,
    },
    /// Looked, and the bit stands still.
    Still,
    /// The thickness of a fit, a slot width and the like, in mm.
    Measured {
        /// One a reading.
        values: Vec<Length>,
    },
}

/// A list under way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Task {
    /// Which list.
    pub list: ListKind,
    /// Which form.
    pub form: ListForm,
    /// The title of the list, for people.
    pub title: String,
    /// The step asked now.
    pub step: Step,
    /// Its place, from 1.
    pub number: u32,
    /// Steps in all.
    pub of: u32,
    /// What was wrong with the last answer, and what to do about it; or what is to be known at this step.
    pub note: Option<String>,
    /// The note tells of no answer.
    #[serde(default)]
    pub to_know: bool,
    /// At the first step of a repeat: what is not as it was on the last sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<String>,
}

/// How a list of the day stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DayListNow {
    /// Which.
    pub list: ListKind,
    /// Its title, for people.
    pub title: String,
    /// Why it is due now, and who may work without it, as sentences; none when it is not due.
    pub due: Option<String>,
    /// Who finished it last.
    pub by: Option<crate::id::Person>,
    /// When.
    pub at: Option<chrono::DateTime<chrono::Utc>>,
    /// Steps answered of a list that was begun and put down, out of all its steps.
    pub left_off: Option<[u32; 2]>,
}
