//! What can happen, and what must then be done. Both sides are closed lists.

use super::permit::Permit;
use super::state::{By, Findings, Freshness, Presence, Thickness, ZeroOn};
use chargehand_types::act::Axis;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Stage, StopCause};

/// What can happen.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Happening {
    /// A person asks for something.
    Asked {
        /// Who, from where.
        by: By,
        /// What.
        what: Asked,
    },
    /// Somebody signed in or out, or was locked out.
    PresenceIs(Presence),
    /// The controller answers.
    LinkUp,
    /// It does not.
    LinkDown,
    /// It greeted anew.
    ControllerRestarted,
    /// Home was found.
    Homed,
    /// The axes are held; asked for by us or not.
    HeldConfirmed,
    /// Everything ran out after a lift a hold waited for.
    HeldAtLift,
    /// The program asks for a person.
    AtPrompt,
    /// The program asks for another bit.
    AtBitChange,
    /// The program's last motion ended.
    Finished,
    /// The bit was raised.
    Raised,
    /// A hand move ended, or a zero was taken.
    HandDone,
    /// A line was refused.
    Refused,
    /// The controller reported a fault.
    Fault {
        /// Whether position is lost by it.
        position: PositionAfter,
    },
    /// A stop was carried out.
    LinkStopped {
        /// Whether position is lost by it.
        position: PositionAfter,
    },
    /// A command was not carried out; nothing moved.
    NotDone,
    /// The spindle's run-down has been counted.
    RunDownDue,
    /// More than 30 s passed between two operations of a chain.
    ChainGapDue,
    /// The daemon came up and folded an earlier state.
    DaemonRestarted,
    /// The journal can no longer be written.
    StoreFailed,
}

/// Whether position survives something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PositionAfter {
    /// It does.
    Kept,
    /// It does not.
    Lost,
}

/// What a person asks for.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Asked {
    /// Put a sheet on the machine.
    TakeSheet(SheetFacts),
    /// The thickness was read.
    Thickness(Thickness),
    /// A list was signed, its last step answered.
    ListSigned(ListKind),
    /// The spindle was switched off.
    SpindleSwitchedOff,
    /// Somebody looked: it is still.
    SpindleStill,
    /// A bit was fitted and read back.
    BitFitted(u8),
    /// The Z zero was touched.
    ZZeroed,
    /// Every finding that asks for it is signed now.
    FindingsSigned,
    /// Cycle start.
    CycleStart,
    /// Feed hold.
    Hold,
    /// Hold at the next lift.
    HoldAtLift,
    /// Go on.
    Resume,
    /// Bit up.
    Raise,
    /// End the motion for good.
    Stop,
    /// Something is wrong.
    Trouble,
    /// The first question after a stop.
    RedButton(Pressed),
    /// The bit is free, the way is clear.
    BitFree,
    /// Find home.
    Home,
    /// The work zero was looked at.
    ConfirmZero,
    /// Move an axis by hand.
    HandMove(Axis),
    /// Take a place as zero of an axis.
    ZeroHere(Axis),
    /// Decide about a stopped sheet.
    Decide(Decision),
    /// Every part is graded.
    PartsGraded,
}

/// The answer to the first question after a stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pressed {
    /// Yes, or the power was off, or the carriage moved or stalled.
    Yes,
    /// None of it.
    No,
}

/// What the floor must know of a sheet to take it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SheetFacts {
    /// Slot of the bit and forerunners of each operation, in order.
    pub operations: Vec<(u8, u16)>,
    /// Which are done already (a sheet taken up again).
    pub done: u16,
    /// Where the Z zero lies.
    pub zero_on: ZeroOn,
    /// Whether a Z zero already touched on the waste board still counts.
    pub z_zero: Freshness,
    /// The findings.
    pub findings: Findings,
    /// The slot, on this card, of the bit that is in the spindle.
    pub bit: Option<u8>,
}

/// What must be done after a step; those that move are listed beside a permit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Deed {
    /// The sheet's stage changed: write it down.
    Stage {
        /// Before.
        from: Stage,
        /// After.
        to: Stage,
    },
    /// Position is lost: write it down.
    PositionLost,
    /// The sheet stopped: write down why.
    SheetStopped(StopCause),
    /// Tell the link: feed hold.
    Hold,
    /// Tell the link: hold at the next lift.
    HoldAtLift,
    /// Tell the link: end the stretch.
    StopLink,
    /// With a permit: stream this operation from its start.
    Begin {
        /// From 0.
        operation: u8,
    },
    /// With a permit: go on.
    Resume,
    /// With a permit: bit up.
    Raise,
    /// With a permit: make the controller take motion, then find home.
    Home,
    /// With a permit: the hand move.
    HandMove,
    /// The zero of an axis.
    ZeroHere,
    /// Set the work zero that config has.
    SetWorkZero,
    /// Switch a controlled spindle off.
    SpindleOff,
    /// Count the run-down.
    CountRunDown,
    /// An operation is finished: write its times down.
    OperationFinished {
        /// From 0.
        operation: u8,
    },
    /// The sheet leaves the machine half done.
    SheetOff,
    /// The sheet is done: grade and close it.
    CloseSheet,
    /// Call somebody.
    Call(CallReason),
}

/// What a step comes to.
#[must_use]
#[derive(Debug, PartialEq, Eq)]
pub struct Outcome {
    /// The state after it.
    pub state: super::state::State,
    /// What must be done, in order.
    pub deeds: Vec<Deed>,
    /// The right to the one motion among the deeds.
    pub permit: Option<Permit>,
}
