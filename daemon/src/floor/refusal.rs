//! Why not, and who can: every refusal as a sentence. The wording of this room is all here.

use chargehand_types::stage::Stage;
use serde::{Deserialize, Serialize};

/// Why something is not allowed now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Refusal {
    /// Not from the machine.
    #[error("The machine is moved only from the terminal that stands at it.")]
    NotAtMachine,
    /// Nobody signed in.
    #[error("Sign in at the machine first.")]
    NobodySignedIn,
    /// The owner's.
    #[error("Only the owner may do this. Call the owner.")]
    OwnersOnly,
    /// No link.
    #[error("The controller does not answer. See to its power and its cable.")]
    NoLink,
    /// Position.
    #[error("The machine does not know where it stands. Find home first.")]
    PositionUnknown,
    /// Zero.
    #[error("Nobody has looked at the work zero since the position was lost. Look at it over the mark and confirm it.")]
    ZeroUnconfirmed,
    /// Way.
    #[error("Say first that the bit is free of the wood and the way is clear.")]
    BitNotFree,
    /// No switches.
    #[error("This machine has no switches to find its home by. Set it to the stop and the mark by hand.")]
    CannotHome,
    /// Moving.
    #[error("Something moves. Hold it, or wait until it has ended.")]
    Moving,
    /// Nothing moves.
    #[error("Nothing runs that could be held up.")]
    NothingRuns,
    /// Spindle.
    #[error("The bit may still turn. Switch the router off and wait for its run-down.")]
    BitMayTurn,
    /// Run-down.
    #[error("The run-down is not over yet. Wait for the count.")]
    RunDownNotOver,
    /// Another sheet.
    #[error("A sheet is on the machine. Finish it, set it aside or end it first.")]
    SheetOnMachine,
    /// No sheet.
    #[error("No sheet is on the machine.")]
    NoSheet,
    /// Stops findings.
    #[error("The check found something that cannot run. Mend the card or its programs.")]
    CannotRun,
    /// Unsigned findings.
    #[error("Findings of this card wait for the owner's signature.")]
    FindingsUnsigned,
    /// Securing.
    #[error("The securing list of this sheet is not signed.")]
    NotSecured,
    /// Tooling.
    #[error("The tooling list of this operation is not signed.")]
    NotTooled,
    /// Ready.
    #[error("The ready list is not signed.")]
    NotReady,
    /// Z zero.
    #[error("The Z zero is older than the bit or the sheet. Touch it anew.")]
    ZZeroStale,
    /// Bit.
    #[error("That is not the bit this operation needs.")]
    OtherBit,
    /// Thickness unread.
    #[error("The sheet's thickness has not been read.")]
    ThicknessUnread,
    /// Thickness outside.
    #[error(
        "At this thickness a finding changes: the sheet is set aside and another one taken, or the owner has the program drawn anew."
    )]
    ThicknessOutside,
    /// Red button.
    #[error("Answer first: was the red button pressed, the power off, or the carriage moved or stalled?")]
    RedButtonUnanswered,
    /// Re-entry.
    #[error("Going on at a line is not part of this version. Restart the operation, set the sheet aside or end it.")]
    ReEntryNotBuilt,
    /// Parts.
    #[error("Every part has to be graded first.")]
    PartsUngraded,
    /// Too many operations.
    #[error("The card has more operations than the floor can follow.")]
    TooManyOperations,
    /// No operation.
    #[error("The card has no operation that could be cut next.")]
    NothingToCut,
    /// Stage.
    #[error("Not while the sheet is {}.", .0.word())]
    WrongStage(Stage),
}
