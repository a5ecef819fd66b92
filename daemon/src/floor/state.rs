//! The whole state of the floor: the machine, who is there, and the sheet on it.
//!
//! Finite on purpose (no times, texts, ids, open counters), so that it can be explored to its last corner. May live
//! here: facts and the words for them. May not: rules.

use crate::floor::sheet::{AtStage, OnMachine};
use chargehand_types::card::ZZero;
use chargehand_types::now;
use chargehand_types::stage::{HeldBy, Role, Stage};
use serde::{Deserialize, Serialize};

/// Everything the floor knows.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct State {
    /// The machine.
    pub machine: Machine,
    /// Who is signed in at it.
    pub presence: Presence,
    /// The sheet on it.
    pub sheet: Option<OnMachine>,
    /// The lists of the day. A state stored before there were any knows of none that is due.
    #[serde(default)]
    pub lists: DayLists,
}

/// Whether a list of the day is due before work begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum DayLists {
    /// None is.
    #[default]
    Done,
    /// One is: a helper begins nothing before it is done.
    Due,
}

/// The machine, as far as it is known.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Machine {
    /// What config says of it.
    pub setup: Setup,
    /// Whether the controller answers.
    pub link: Link,
    /// Whether the position is known.
    pub position: Position,
    /// Whether the work zero was confirmed since position was last lost.
    pub zero: WorkZero,
    /// Whether a person said that the bit is free and the way is clear, and nothing moved since.
    pub way: Way,
    /// The spindle.
    pub spindle: Spindle,
    /// The bit in it, as a slot of the card on the machine; none when unknown or not on this card.
    pub bit: Option<Slot>,
    /// What the Z zero was touched on since the last bit change; none when it does not count.
    pub z_zero: Option<ZZero>,
    /// Whether the tooling list was signed for the bit and the Z zero as they are.
    pub tooling: Signed,
    /// What moves.
    pub motion: Motion,
    /// Whether the machine may be left alone now.
    pub away: Away,
    /// Whether the journal can be written.
    pub store: Store,
}

/// What config says of the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Setup {
    /// How its spindle is switched.
    pub spindle: SpindleKind,
    /// Whether it finds home by itself.
    pub homing: Homing,
}

/// How the spindle is switched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum SpindleKind {
    /// By hand.
    Manual,
    /// By the controller.
    Controlled,
}

/// Whether the machine finds home by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Homing {
    /// It has switches.
    Able,
    /// A person shows it its place by confirming the work zero.
    Unable,
}

/// A small number for a bit of the card; `app` maps keys to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Slot(pub u8);

/// Whether the controller answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Link {
    Up,
    Down,
}

/// Whether the position is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Position {
    Known,
    Unknown,
}

/// Whether the work zero was confirmed since position was last lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum WorkZero {
    Confirmed,
    Unconfirmed,
}

/// Whether a person said that the bit is free and the way is clear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Way {
    /// Yes, and nothing moved since.
    SaidClear,
    /// Not since something last moved.
    NotSaid,
}

/// Whether a list was signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Signed {
    /// Yes, for things as they are.
    Yes,
    /// No, or something it covered changed since.
    No,
}

/// The spindle, in the order in which it comes to rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Spindle {
    /// It turns, or may.
    MayTurn,
    /// Switched off; the run-down is being counted.
    RunningDown,
    /// Switched off and counted out; nobody has looked yet.
    Off,
    /// A person looked: it stands still.
    Still,
}

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Motion {
    /// Nothing.
    Still,
    /// It looks for its switches.
    Homing,
    /// A hand move, or a zero the controller has not taken yet.
    Hand,
    /// A program.
    Program,
    /// Asked to hold at once, not yet confirmed.
    HoldAsked(HoldFor),
    /// A program runs on to its next lift.
    LiftAsked,
    /// Held.
    Held,
    /// The bit is being raised after a hold.
    Raising,
    /// Told to stop for good, not yet confirmed.
    Stopping,
    /// The controller refuses motion until somebody sees to it.
    Faulted,
    /// Nobody knows: no link, or it came up just now.
    Unknown,
}

/// Why a hold was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum HoldFor {
    /// A person pressed hold.
    Person,
    /// Something is wrong.
    Trouble,
}

impl HoldFor {
    /// As a held sheet says it.
    #[must_use]
    pub const fn held_by(self) -> HeldBy {
        match self {
            Self::Person => HeldBy::Person,
            Self::Trouble => HeldBy::Trouble,
        }
    }
}

/// Whether the machine may be left alone now: every condition for it holds (config, calendar, extraction, tried and
/// passed). Off until the owner turns it on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Away {
    Off,
    Allowed,
}

/// Whether the journal can be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Store {
    Fine,
    Failed,
}

/// Who is signed in at the machine: the highest role there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Presence {
    Nobody,
    Helper,
    Owner,
}

impl Presence {
    /// The highest role there, if anybody is.
    #[must_use]
    pub const fn role(self) -> Option<Role> {
        match self {
            Self::Nobody => None,
            Self::Helper => Some(Role::Helper),
            Self::Owner => Some(Role::Owner),
        }
    }

    /// Out of the roles signed in.
    #[must_use]
    pub fn of(roles: impl IntoIterator<Item = Role>) -> Self {
        roles.into_iter().fold(Self::Nobody, |most, role| {
            most.max(match role {
                Role::Helper => Self::Helper,
                Role::Owner => Self::Owner,
            })
        })
    }
}

impl State {
    /// A machine nobody knows anything of yet, with no sheet on it: no link, no position, a spindle that may turn.
    #[must_use]
    pub const fn new(setup: Setup) -> Self {
        Self {
            machine: Machine {
                setup,
                link: Link::Down,
                position: Position::Unknown,
                zero: WorkZero::Unconfirmed,
                way: Way::NotSaid,
                spindle: Spindle::MayTurn,
                bit: None,
                z_zero: None,
                tooling: Signed::No,
                motion: Motion::Unknown,
                away: Away::Off,
                store: Store::Fine,
            },
            presence: Presence::Nobody,
            sheet: None,
            lists: DayLists::Done,
        }
    }

    /// Where the sheet on the machine is in its life.
    #[must_use]
    pub fn stage(&self) -> Option<Stage> {
        self.sheet.as_ref().map(|s| s.at.stage())
    }

    /// Where the sheet on the machine is, with its facts.
    #[must_use]
    pub fn at(&self) -> Option<&AtStage> {
        self.sheet.as_ref().map(|s| &s.at)
    }
}

impl Motion {
    /// Whether a program is on its way through the controller.
    #[must_use]
    pub const fn is_program(self) -> bool {
        matches!(self, Self::Program | Self::LiftAsked)
    }

    /// Whether something moves, or was told to and has not said that it is done.
    #[must_use]
    pub const fn is_under_way(self) -> bool {
        match self {
            Self::Homing
            | Self::Hand
            | Self::Program
            | Self::HoldAsked(_)
            | Self::LiftAsked
            | Self::Raising
            | Self::Stopping => true,
            Self::Still | Self::Held | Self::Faulted | Self::Unknown => false,
        }
    }

    /// As a screen shows it.
    #[must_use]
    pub const fn shown(self) -> now::Motion {
        match self {
            Self::Still => now::Motion::Still,
            Self::Homing => now::Motion::Homing,
            Self::Hand | Self::Program | Self::LiftAsked | Self::Raising => now::Motion::Moving,
            Self::HoldAsked(_) | Self::Stopping => now::Motion::HoldAsked,
            Self::Held => now::Motion::Held,
            Self::Faulted => now::Motion::Faulted,
            Self::Unknown => now::Motion::Unknown,
        }
    }
}
