//! Everything that can happen on the floor: what people ask, what the machine says, what became due.
//!
//! May live here: the alphabet of the transition table. May not: what follows from it.

use crate::floor::sheet::{Findings, SheetFacts};
use crate::floor::state::{Away, DayLists, Presence, Setup, Slot};
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role};
use serde::{Deserialize, Serialize};

/// One thing that happened.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Happening {
    /// A person asked for something, or said something.
    Act {
        /// Who, from where.
        by: By,
        /// What.
        what: Asked,
    },

    /// The controller answers.
    LinkUp {
        /// Whether its own words say that position may be kept. It never makes a position known.
        position_kept: bool,
    },
    /// It no longer does.
    LinkDown,
    /// It reports that it stands ready and takes lines, while nothing of ours is under way. To be told after a
    /// [`Happening::LinkUp`]: until then nobody knows whether the machine still runs out what it holds.
    StandsStill,
    /// Home was found.
    Homed,
    /// The axes are held.
    HeldConfirmed {
        /// By us, or by the machine's own button or door.
        asked: bool,
        /// Where the bit stands.
        bit: BitAt,
    },
    /// A hold was asked for and nothing confirmed it in time.
    HoldUnconfirmed,
    /// Everything sent has run out after a lift that a hold was waiting for.
    HeldAtLift,
    /// Everything sent has run out before a prompt of the program.
    AtPrompt {
        /// Where the bit stands.
        bit: BitAt,
    },
    /// Everything sent has run out before a bit change in the middle of a program.
    AtBitChange {
        /// The bit the program wants; none when its number is not one of the card's bits.
        wants: Option<Slot>,
        /// Where the bit stands.
        bit: BitAt,
    },
    /// The program is finished and the machine stands still.
    Finished,
    /// The bit was raised after a hold; the stretch is over.
    Raised,
    /// A line was refused; nothing more is sent.
    Refused,
    /// The controller reported a fault; nothing more is sent.
    Fault {
        /// Whether position is lost by it.
        position_lost: bool,
    },
    /// The controller greeted anew in the middle of work.
    Restarted,
    /// A stop was carried out.
    Stopped {
        /// Whether the controller keeps its position through it.
        position_kept: bool,
    },
    /// A hand move is done, or a setting was taken (work zero, Z zero), and the machine stands still. To be told after
    /// each of them: until then something is under way.
    HandDone,
    /// A deed was not carried out: nothing was sent for it.
    NotDone(Tried),

    /// The spindle's run-down is over, counted from the last [`super::Deed::StartRunDown`].
    RunDownDue,
    /// More than the allowed time passed between the end of an operation and the first motion of the next one of
    /// the chain.
    ChainGapDue,

    /// The next time of the question whether somebody is still there is over: to be asked, to be answered, to be
    /// seen to.
    StillThereDue,

    /// A closing touch was off: nobody knows how the bit sits in its collet.
    BitDoubted,

    /// Somebody came to the machine or left it.
    PresenceChanged(Presence),
    /// Whether the machine may be left alone now was worked out anew.
    AwayChanged(Away),
    /// Whether a list of the day is due was worked out anew.
    ListsChanged(DayLists),
    /// The owner approved the first article of the revision on the machine.
    ArticleApproved,
    /// The sheet was checked anew, say with its real thickness.
    FindingsChanged(Findings),
    /// The daemon came up again with this machine.
    DaemonRestarted(Setup),
    /// The journal could not be written.
    StoreFailed,
}

/// Where an act comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum By {
    /// Somebody signed in at the machine, over a connection declared at the machine.
    AtMachine(Role),
    /// The machine's own terminal, with nobody signed in.
    AtMachineNobody,
    /// Anywhere else.
    Afar,
}

/// What is asked or said.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Asked {
    /// Put this sheet on the machine.
    TakeSheet(SheetFacts),
    /// The last step of this list was answered.
    ListSigned(ListKind),
    /// The sheet's thickness was read.
    Thickness(Reading),
    /// The router was switched on by hand (a step of the ready list, or before going on after a hold).
    SpindleSwitchedOn,
    /// The router was switched off by hand, or shall be switched off.
    SpindleSwitchedOff,
    /// Looked, and the bit stands still.
    SpindleStill,
    /// This bit was fitted anew and read back. Not for a bit that only was looked at: a fitted bit needs a new zero.
    BitFitted(Slot),
    /// The place where the bit stands is the Z zero.
    ZZeroed,
    /// The owner signed the last finding that needed it.
    FindingsSigned,
    /// Start the chain the ready list was signed for.
    CycleStart,
    /// Feed hold at once (from afar: at the next lift).
    Hold,
    /// Hold at the next lift out of the material.
    HoldAtLift,
    /// Go on after a hold, a prompt or a bit change.
    Resume,
    /// Bit up after a hold, spindle off, place kept.
    Raise,
    /// End the motion for good.
    Stop,
    /// Something is wrong.
    Trouble,
    /// Was the red button pressed, the power off, the carriage moved or stalled?
    RedButton {
        /// Yes.
        pressed: bool,
    },
    /// The bit is free and the way is clear.
    BitFree,
    /// Find home.
    Home,
    /// Set the work zero over the mark, and say that it was looked at.
    ConfirmZero,
    /// The bit was brought over a known place and does not stand over it: position is not what it was taken for.
    OffTheMark,
    /// Move one axis by hand.
    HandMove,
    /// Decide about the sheet.
    Decide(Decision),
    /// Somebody is still there.
    StillThere,
    /// The last part was graded.
    PartsGraded,
}

/// A thickness against the working window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Reading {
    /// No finding changes.
    Inside,
    /// One does.
    Outside,
}

/// Where the bit stands when the machine holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum BitAt {
    /// Certainly out of the material.
    Clear,
    /// In the cut, or nobody can tell.
    MaybeInCut,
}

/// The deed that was not carried out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs, reason = "each is the deed of the same name")]
pub enum Tried {
    Hold,
    HoldAtLift,
    StopLink,
    Begin,
    ResumeLink,
    RaiseLink,
    HomeLink,
    HandMoveLink,
    UnlockLink,
    SetWorkZero,
    SetZZero,
    Spindle,
}
