//! The sheet on the machine: its stage with the facts of that stage, its operations, what was signed and read.
//!
//! May live here: facts of one sheet, the order of its operations. May not: start conditions, transitions.

use crate::floor::happening::{BitAt, Reading};
use crate::floor::state::{Position, Signed, Slot};
use chargehand_types::card::ZZero;
use chargehand_types::stage::{HeldBy, Stage, StopCause};
use serde::{Deserialize, Serialize};

/// The most operations a card may have.
pub const MOST_OPERATIONS: usize = 16;

/// A sheet and everything the floor knows of it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct OnMachine {
    /// Where it is in its life.
    pub at: AtStage,
    /// First of its kind, or a repeat.
    pub article: Article,
    /// Where its Z zero lies.
    pub z_on: ZZero,
    /// Its operations, in the order in which they are to be cut.
    pub operations: Vec<OperationFacts>,
    /// Which are finished.
    pub done: Ops,
    /// The one at hand.
    pub operation: u8,
    /// The securing list, signed for this sheet.
    pub securing: Signed,
    /// The ready list, signed for the next cycle start.
    pub ready: Signed,
    /// Its thickness, once read.
    pub thickness: Option<Reading>,
    /// What the check found.
    pub findings: Findings,
    /// The first article's approval. A state stored before it was asked for counts as approved.
    #[serde(default)]
    pub approval: Approval,
}

/// What `app` tells of a sheet as it is put on the machine.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct SheetFacts {
    /// Where it comes from.
    pub from: Origin,
    /// First of its kind, or a repeat.
    pub article: Article,
    /// Where its Z zero lies.
    pub z_on: ZZero,
    /// Its operations, in the order in which they are to be cut; 1 to [`MOST_OPERATIONS`].
    pub operations: Vec<OperationFacts>,
    /// Which were finished before it was set aside.
    pub done: Ops,
    /// What the check found.
    pub findings: Findings,
    /// The bit in the spindle as a slot of this card; none when unknown or not on it.
    pub bit_in: Option<Slot>,
    /// The first article's approval.
    pub approval: Approval,
}

/// Whether the owner approved the first article of this revision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Approval {
    /// Yes.
    #[default]
    Given,
    /// No: nothing of it runs with nobody beside the machine.
    Awaited,
}

/// Where a sheet comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Origin {
    /// From the queue.
    Queued,
    /// It was set aside before.
    SetAside,
}

impl Origin {
    /// As a stage.
    #[must_use]
    pub const fn stage(self) -> Stage {
        match self {
            Self::Queued => Stage::Queued,
            Self::SetAside => Stage::SetAside,
        }
    }
}

/// First of its kind, or a repeat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Article {
    /// Not yet tried with this revision, bit, lot and way of holding.
    First,
    /// Tried and passed.
    Repeat,
}

/// What the floor knows of an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct OperationFacts {
    /// The bit it needs.
    pub bit: Slot,
    /// Whether it may run with nobody beside the machine.
    pub attendance: Attendance,
    /// Operations that must be finished first.
    pub after: Ops,
}

/// Whether somebody must be beside the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Attendance {
    Attended,
    Unattended,
}

/// What the check found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Findings {
    /// Nothing but notes and advice, or all is signed for this revision.
    Clear,
    /// The owner has yet to sign one.
    Unsigned,
    /// It cannot run.
    Stops,
}

/// A stage that a sheet on the machine can be in, with the facts that belong to it alone.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum AtStage {
    /// Being secured.
    Securing,
    /// Bit and Z zero.
    Tooling,
    /// The last list, and cycle start.
    Ready,
    /// A program is being streamed.
    Cutting(Cutting),
    /// Held.
    Held(Held),
    /// A person decides.
    Stopped(Stopped),
    /// Parts come off.
    TakingOff,
    /// Parts are checked.
    Checking {
        /// Every part has its grade.
        graded: Graded,
    },
}

impl AtStage {
    /// Its name.
    #[must_use]
    pub const fn stage(&self) -> Stage {
        match self {
            Self::Securing => Stage::Securing,
            Self::Tooling => Stage::Tooling,
            Self::Ready => Stage::Ready,
            Self::Cutting(_) => Stage::Cutting,
            Self::Held(_) => Stage::Held,
            Self::Stopped(_) => Stage::Stopped,
            Self::TakingOff => Stage::TakingOff,
            Self::Checking { .. } => Stage::Checking,
        }
    }
}

/// A program is being streamed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Cutting {
    /// Every operation of the chain this cycle start named. Empty once anything happened: it goes on to none then.
    pub chain: Ops,
    /// How it came to run.
    pub since: Since,
    /// The question whether somebody is still there. A state stored before there was one asks nothing.
    #[serde(default)]
    pub watch: Watch,
}

/// How far the question has come whether somebody is still there. It is asked only while nobody is signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Watch {
    /// Nothing is asked.
    #[default]
    Rests,
    /// It is asked.
    Asked,
    /// Nobody answered in time, and somebody is called.
    Called,
    /// Nobody came: it holds at the next lift, and the spindle is stopped there.
    GivenUp,
}

/// How a program came to run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Since {
    /// From its first line.
    Start,
    /// After this hold.
    Resume(HeldBy),
}

/// A hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Held {
    /// Why.
    pub by: HeldBy,
    /// Where the bit stands.
    pub bit: BitAt,
    /// Whether it was raised; the stretch is over then.
    pub raise: Raise,
    /// The bit change that is due.
    pub change: Change,
}

/// Whether the bit was raised after a hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Raise {
    /// It stands where it was held.
    Not,
    /// It is up; only re-entry or a restart can go on.
    Done,
}

/// A bit change in the middle of a program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Change {
    /// None is due.
    None,
    /// This bit is wanted.
    To(Slot),
    /// A bit that the card does not know; the person reads it off the program.
    ToUnlisted,
}

/// What is known of a stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Stopped {
    /// Why.
    pub cause: StopCause,
    /// The answer to the first question.
    pub red_button: Option<RedButton>,
    /// Whether position was known all the time since.
    pub position: Position,
    /// Where the bit stands.
    pub bit: BitAt,
}

/// The answer to the first question after a stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum RedButton {
    /// Button, power, carriage: something of it.
    Pressed,
    /// Nothing of it.
    Untouched,
}

/// Whether every part has its grade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Graded {
    All,
    NotAll,
}

/// A set of operations by their place on the card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Ops(pub u16);

impl Ops {
    /// None of them.
    pub const NONE: Self = Self(0);

    /// The first `count` of them; all sixteen when there are more.
    #[must_use]
    pub const fn first(count: usize) -> Self {
        if count >= MOST_OPERATIONS { Self(u16::MAX) } else { Self((1 << count) - 1) }
    }

    /// Those at these places; places past the sixteenth are left out.
    #[must_use]
    pub fn of(places: impl IntoIterator<Item = u8>) -> Self {
        places.into_iter().fold(Self::NONE, Self::with)
    }

    /// With this one too.
    #[must_use]
    pub const fn with(self, place: u8) -> Self {
        match 1u16.checked_shl(place as u32) {
            Some(bit) => Self(self.0 | bit),
            None => self,
        }
    }

    /// Without this one.
    #[must_use]
    pub const fn without(self, place: u8) -> Self {
        match 1u16.checked_shl(place as u32) {
            Some(bit) => Self(self.0 & !bit),
            None => self,
        }
    }

    /// Whether this one is among them.
    #[must_use]
    pub const fn contains(self, place: u8) -> bool {
        match 1u16.checked_shl(place as u32) {
            Some(bit) => self.0 & bit != 0,
            None => false,
        }
    }

    /// Whether every one of them is among `other`.
    #[must_use]
    pub const fn within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Their places, rising.
    pub fn places(self) -> impl Iterator<Item = u8> {
        (0u8..16).filter(move |p| self.contains(*p))
    }
}
