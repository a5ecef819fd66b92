//! The floor's state: the machine, who stands at it, and the one sheet on it. Finite and comparable: no times,
//! texts, ids or counters without an end.

use chargehand_types::stage::{HeldBy, Role, Stage, StopCause};
use serde::{Deserialize, Serialize};

/// Operations a card may have.
pub const OPERATIONS_AT_MOST: usize = 16;

/// Everything the floor knows.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct State {
    /// How the spindle is switched.
    pub switching: Switching,
    /// Whether the machine can find its home.
    pub homing: Homing,
    /// Whether the controller answers.
    pub link: Link,
    /// Whether the position is known since it was last lost.
    pub position: Position,
    /// Whether a person looked at the work zero since then.
    pub zero: Zero,
    /// Whether a person said, since then, that the bit is free and the way clear.
    pub way: Way,
    /// The spindle.
    pub spindle: Spindle,
    /// The bit in it, as a person read it back: its slot on the card at hand.
    pub bit: Option<u8>,
    /// What moves.
    pub moving: Moving,
    /// Who is signed in at the machine.
    pub presence: Presence,
    /// The sheet on the machine.
    pub sheet: Option<OnMachine>,
}

/// How the spindle is switched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Switching {
    /// By hand.
    Manual,
    /// By the controller.
    Controlled,
}

/// Whether the machine has switches to find its home by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Homing {
    /// It has.
    BySwitches,
    /// It has none: position is known after stop, mark and touch, on a person's word.
    ByMark,
}

/// Whether the controller answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Link {
    /// No.
    Down,
    /// Yes.
    Up,
}

/// Whether the machine knows where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// No.
    Unknown,
    /// Yes.
    Known,
}

/// Whether the work zero was looked at since position was last lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Zero {
    /// No.
    Unconfirmed,
    /// Yes.
    Confirmed,
}

/// Whether the way home is clear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Nobody said so.
    Unknown,
    /// A person said so.
    Clear,
}

/// The spindle, as far as can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Spindle {
    /// It may turn: nobody knows better.
    MayTurn,
    /// Switched off; its run-down is being counted.
    RunningDown,
    /// The count is over; nobody looked yet.
    RunDownOver,
    /// A person looked: it is still.
    Still,
}

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Moving {
    /// Nothing.
    Nothing,
    /// Finding home.
    Home,
    /// A hand move, or a zero being set.
    Hand,
    /// A program.
    Program,
    /// A program, and a hold was asked for.
    ProgramHolding,
    /// The bit is being raised after a hold.
    Raise,
}

/// Who is signed in at the machine: the highest role counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Presence {
    /// Nobody.
    Nobody,
    /// A helper.
    Helper,
    /// The owner.
    Owner,
}

/// Who asks, and from where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum By {
    /// A person signed in at the machine.
    AtMachine(Role),
    /// At the machine, not signed in.
    Unsigned,
    /// From anywhere else.
    Afar,
}

/// The sheet on the machine.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct OnMachine {
    /// Where it is in its life.
    pub stage: Stage,
    /// Its operations, at most [`OPERATIONS_AT_MOST`].
    pub operations: Vec<OperationFact>,
    /// The one at hand.
    pub at: u8,
    /// Whether the card's Z zero is the top of this sheet.
    pub zero_on: ZeroOn,
    /// Whether the Z zero is newer than the bit change and, for the top, newer than the sheet.
    pub z_zero: Freshness,
    /// Which lists are signed for what is at hand.
    pub signed: Signed,
    /// The thickness read against the working window.
    pub thickness: Thickness,
    /// The findings of this revision.
    pub findings: Findings,
    /// Nothing has happened since cycle start: the chain may go on by itself.
    pub chain: Chain,
    /// A program waits in its middle for another bit.
    pub middle: Middle,
    /// Why it is held.
    pub held: Option<Held>,
    /// Why it stopped.
    pub stopped: Option<Stopped>,
}

/// What the floor knows of an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct OperationFact {
    /// The slot of its bit on this card.
    pub bit: u8,
    /// Operations that must be done first, a bit each.
    pub after: u16,
    /// Done.
    pub done: bool,
}

/// Where the card's Z zero lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZeroOn {
    /// The top of the sheet: every sheet needs it anew.
    Sheet,
    /// The waste board.
    Bed,
}

/// Whether the Z zero counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Freshness {
    /// Older than the bit change or the sheet.
    Stale,
    /// Newer than both.
    Fresh,
}

/// Which lists are signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Signed {
    /// For this sheet.
    pub securing: bool,
    /// For this bit and zero.
    pub tooling: bool,
    /// For this cycle start.
    pub ready: bool,
}

/// The thickness against the working window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Thickness {
    /// Not read.
    Unread,
    /// No finding changes.
    Inside,
    /// A finding changes.
    Outside,
}

/// The findings of the revision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Findings {
    /// None that stops; every one that asks for it is signed.
    Clear,
    /// The owner has to sign.
    Unsigned,
    /// Cannot run.
    Stops,
}

/// Whether the chain of this cycle start is whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Chain {
    /// Something happened, or nothing runs.
    Ended,
    /// Nothing happened since cycle start.
    Whole,
}

/// Whether a program waits in its middle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Middle {
    /// Between programs, or running.
    No,
    /// For the bit of this slot, or one that the card does not name.
    WaitsForBit,
}

/// A hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Held {
    /// Why.
    pub by: HeldBy,
}

impl Held {
    /// Whether the bit may stand in the cut: a lift or a prompt after one leaves it out, everything else may not.
    #[must_use]
    pub const fn bit_in_cut(self) -> bool {
        match self.by {
            HeldBy::Person | HeldBy::Machine | HeldBy::Trouble => true,
            HeldBy::Lift | HeldBy::Prompt | HeldBy::BitChange => false,
        }
    }
}

/// A stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Stopped {
    /// Why.
    pub cause: StopCause,
    /// Was the red button pressed, the power off, the carriage moved or stalled? None until answered.
    pub red_button: Option<bool>,
}

impl State {
    /// How a daemon begins: it knows nothing of the machine.
    #[must_use]
    pub const fn new(switching: Switching, homing: Homing) -> Self {
        Self {
            switching,
            homing,
            link: Link::Down,
            position: Position::Unknown,
            zero: Zero::Unconfirmed,
            way: Way::Unknown,
            spindle: Spindle::MayTurn,
            bit: None,
            moving: Moving::Nothing,
            presence: Presence::Nobody,
            sheet: None,
        }
    }

    /// The sheet's stage, if one is on the machine.
    #[must_use]
    pub fn stage(&self) -> Option<Stage> {
        self.sheet.as_ref().map(|s| s.stage)
    }

    /// Position is lost: with it the confirmed zero, the clear way and the Z zero.
    pub(in crate::floor) fn lose_position(&mut self) {
        self.position = Position::Unknown;
        self.zero = Zero::Unconfirmed;
        self.way = Way::Unknown;
        if let Some(sheet) = &mut self.sheet {
            sheet.z_zero = Freshness::Stale;
            sheet.signed.tooling = false;
            sheet.signed.ready = false;
        }
    }
}

impl OnMachine {
    /// The operation at hand.
    #[must_use]
    pub fn operation(&self) -> Option<&OperationFact> {
        self.operations.get(usize::from(self.at))
    }

    /// The first operation not done whose forerunners are.
    #[must_use]
    pub fn next_operation(&self) -> Option<u8> {
        let done = self
            .operations
            .iter()
            .take(OPERATIONS_AT_MOST)
            .enumerate()
            .fold(0_u16, |mask, (i, o)| if o.done { mask | (1 << i) } else { mask });
        self.operations
            .iter()
            .take(OPERATIONS_AT_MOST)
            .position(|o| !o.done && o.after & !done == 0)
            .and_then(|i| u8::try_from(i).ok())
    }
}
