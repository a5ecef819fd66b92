//! Why not, and who can: one variant for each start condition, each with its sentence for people.
//!
//! The only wording of the room lives here. May not live here: when a refusal applies.

use serde::{Deserialize, Serialize};

/// Why something may not be done now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, thiserror::Error)]
#[serde(rename_all = "kebab-case")]
pub enum Refusal {
    /// From afar.
    #[error("This can be done at the machine only. From here you can hold at the next lift, stop, or call for help.")]
    FromAfar,
    /// Nobody is signed in.
    #[error("Nobody is signed in at the machine. Sign in first.")]
    NobodyHere,
    /// A helper may not sign findings.
    #[error("Only the owner signs findings. Ask the owner to sign in and sign them.")]
    OwnerSigns,
    /// A list of the day is due before a helper begins.
    #[error(
        "A list of the day is due first: the screen names it. Walk it, or ask the owner, who may begin without it."
    )]
    ListDue,
    /// A helper approves no first article.
    #[error("Only the owner approves a first article. Ask the owner to look at its parts, sign in and approve it.")]
    OwnerApproves,
    /// A helper may not leave a stop of this kind.
    #[error("Only the owner can go on after a fault or a lost position. Ask the owner to sign in and decide.")]
    OwnerDecides,

    /// There is no sheet.
    #[error("There is no sheet on the machine. Take a sheet first.")]
    NoSheet,
    /// There is one already.
    #[error("A sheet is on the machine already. Finish it, set it aside or end it first.")]
    SheetOnMachine,
    /// A sheet without operations.
    #[error("This card has no operation left to cut. Look at the card.")]
    NothingToCut,
    /// More operations than the floor can hold.
    #[error("This card has more than 16 operations. Split it into two cards.")]
    TooManyOperations,
    /// Operations wait for each other.
    #[error("Operations of this card wait for each other. Correct `after` on the card and add it again.")]
    ImpossibleOrder,

    /// Not in this stage.
    #[error("This does not belong to what is being done with the sheet now. Look at the screen again.")]
    OtherStage,
    /// A program is on the way, running or held.
    #[error("A program is under way. Stop it first.")]
    ProgramRuns,
    /// Something moves.
    #[error("The machine is moving, or has not yet said that it stands. Wait until it stands, or stop it.")]
    Moving,
    /// Not held.
    #[error("Nothing is held, so there is nothing to go on with.")]
    NotHeld,
    /// Raised already.
    #[error("The bit was raised and the held motion given up. Stop the sheet, then decide how to go on.")]
    RaisedAlready,
    /// Nothing stopped.
    #[error("The sheet is not stopped. Stop it first, then decide.")]
    NotStopped,
    /// It ran to its end before the stop reached it.
    #[error("The operation ran to its end before the stop reached it, and counts as done. Go on to what comes next.")]
    RanOut,
    /// It was stopped on the way.
    #[error("The operation was stopped on its way and is not done. Cut it again or go on at a line, or end the sheet.")]
    NotRunOut,
    /// First question first.
    #[error("First say whether the red button was pressed, the power off, or the carriage moved or stalled.")]
    RedButtonFirst,

    /// No link.
    #[error("The controller does not answer. Check cable and power; it is tried again by itself.")]
    NoLink,
    /// The journal fails.
    #[error("What happens cannot be written down: the store fails. Free the disk, then start the daemon again.")]
    StoreFails,
    /// Position unknown.
    #[error("The machine does not know its position. Find home first.")]
    PositionUnknown,
    /// Position unknown, and it cannot home.
    #[error("The machine does not know its position. Bring it over the mark and confirm the work zero first.")]
    PositionUnshown,
    /// It cannot find home.
    #[error("This machine cannot find home by itself. Bring it over the mark and confirm the work zero instead.")]
    CannotHome,
    /// Nobody said that the bit is free.
    #[error("First look, and say that the bit is free and the way is clear.")]
    BitNotFree,
    /// The work zero is not confirmed.
    #[error("The work zero was not confirmed since position was lost. Look at the mark and confirm it first.")]
    ZeroUnconfirmed,
    /// The controller is faulted.
    #[error("The controller takes no motion since its fault. Find home, or decide about the sheet, first.")]
    Faulted,

    /// The bit may turn.
    #[error("The bit may still turn. Switch the router off, say so, and wait for the run-down.")]
    BitMayTurn,
    /// The run-down is being counted.
    #[error("The bit may still turn. Wait for the run-down.")]
    RunDownCounts,
    /// Nobody looked.
    #[error("The run-down is over. Look whether the bit stands still, and say so first.")]
    NobodyLooked,
    /// The router is off.
    #[error("The router is switched off. Switch it on, let it come to speed, and say so first.")]
    RouterOff,

    /// Findings that stop.
    #[error("The check found something that cannot run. Correct the card or its program and add it again.")]
    FindingsStop,
    /// Findings to sign.
    #[error("The owner has yet to sign what the check found. Ask the owner to sign in and sign it.")]
    FindingsUnsigned,
    /// Thickness not read.
    #[error("The sheet's thickness was not read yet. Read it at four corners first.")]
    ThicknessUnread,
    /// Thickness outside the window.
    #[error("The sheet's thickness is outside the working window. Set the sheet aside and take the next one.")]
    ThicknessOutside,
    /// Securing list.
    #[error("The securing list is not signed for this sheet. Finish it first.")]
    SecuringUnsigned,
    /// Tooling list.
    #[error("The tooling list is not signed for this bit and Z zero. Finish it first.")]
    ToolingUnsigned,
    /// Ready list.
    #[error("The ready list is not signed for this start. Finish it first.")]
    ReadyUnsigned,
    /// Wrong bit.
    #[error("The bit in the spindle is not the one this needs. Fit the right bit and read it back first.")]
    WrongBit,
    /// Z zero is stale.
    #[error("The Z zero is older than the bit change or the sheet. Touch the Z zero again first.")]
    ZStale,
    /// Parts without grade.
    #[error("Not every part has its grade yet. Grade them all first.")]
    PartsUngraded,

    /// Nothing is asked.
    #[error("Nobody is asked now whether they are still there.")]
    NothingAsked,
    /// The chain is over.
    #[error(
        "The chain ended: something happened since its start, or it has no further operation. Start the next one yourself."
    )]
    ChainOver,
    /// Nobody is there, and the rest may not run alone.
    #[error("Nobody is signed in at the machine, and what comes next may not run alone.")]
    MayNotRunAlone,
}
