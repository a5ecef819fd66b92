//! The life of a sheet, in words that screens, journal and API share.

use serde::{Deserialize, Serialize};

/// Where a sheet is in its life.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Waiting for its turn.
    Queued,
    /// Being pushed to the stop, measured and fastened.
    Securing,
    /// The bit is being fitted and the Z zero touched.
    Tooling,
    /// The last list before cycle start.
    Ready,
    /// The program is being streamed.
    Cutting,
    /// Feed hold, or a prompt of the program.
    Held,
    /// Something happened; a person decides.
    Stopped,
    /// Off the machine half done, or unfit today.
    SetAside,
    /// Parts are being taken off.
    TakingOff,
    /// Parts are being checked one by one.
    Checking,
    /// Ended, with a grade.
    Closed,
}

impl Stage {
    /// Every stage, in the order of a sheet's life.
    pub const ALL: [Self; 11] = [
        Self::Queued,
        Self::Securing,
        Self::Tooling,
        Self::Ready,
        Self::Cutting,
        Self::Held,
        Self::Stopped,
        Self::SetAside,
        Self::TakingOff,
        Self::Checking,
        Self::Closed,
    ];

    /// As JSON and screens write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Queued => "queued",
            Self::Securing => "securing",
            Self::Tooling => "tooling",
            Self::Ready => "ready",
            Self::Cutting => "cutting",
            Self::Held => "held",
            Self::Stopped => "stopped",
            Self::SetAside => "set-aside",
            Self::TakingOff => "taking-off",
            Self::Checking => "checking",
            Self::Closed => "closed",
        }
    }
}

/// How a part, or the sheet as a whole, came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grade {
    /// Fit for use.
    Good,
    /// Fit after more work.
    Rework,
    /// Not fit.
    Scrap,
}

/// Why a part is not good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// The face is torn along a cut.
    TornFace,
    /// Fuzzy edges.
    Fuzzy,
    /// A burnt edge.
    BurntEdge,
    /// A tab left a scar.
    TabScar,
    /// The part came loose while cutting.
    CameLoose,
    /// A slot is too tight.
    SlotTight,
    /// A slot is too loose.
    SlotLoose,
    /// The board delaminated.
    Delaminated,
    /// The size is wrong.
    WrongSize,
    /// Something else; the note says what.
    Other,
}

/// Why a cut is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeldBy {
    /// A person pressed hold: feed hold at once.
    Person,
    /// The wanted lift was reached.
    Lift,
    /// The program asks for a person (M0, M1).
    Prompt,
    /// The program asks for another bit (M6).
    BitChange,
    /// The hold came from the machine's own button or door.
    Machine,
    /// Feed hold at once after "something is wrong".
    Trouble,
    /// At a lift, with the spindle stopped: nobody was there who answered, or the time for running alone is over.
    NobodyThere,
}

/// Why a sheet is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StopCause {
    /// The controller refused a line.
    RefusedLine,
    /// The controller reported a fault.
    Fault,
    /// The link was lost, or the controller fell silent.
    LinkLost,
    /// The controller greeted anew in the middle of work.
    ControllerRestarted,
    /// The daemon was restarted while the sheet was being cut.
    DaemonRestarted,
    /// A person stopped it.
    Person,
    /// The journal could not be written.
    StoreFailed,
}

/// What a person may decide about a stopped sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decision {
    /// Go on at a line of the program.
    ReEnter,
    /// Cut the operation again from its start.
    Restart,
    /// The operation ran to its end before the stop reached it: go on to what comes next.
    Next,
    /// Take the sheet off, to be taken up again or ended.
    SetAside,
    /// End it; good parts still count.
    End,
}

/// What a person may do here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Was shown the machine; works by the lists.
    Helper,
    /// Sets up, signs findings, decides after faults.
    Owner,
}
