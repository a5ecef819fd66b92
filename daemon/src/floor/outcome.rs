//! What follows from a happening: the new state, the deeds in order, and the permit for the one that moves.
//!
//! May live here: the list of deeds. May not: when they are done.

use crate::floor::permit::Permit;
use crate::floor::state::State;
use chargehand_types::call::CallReason;
use chargehand_types::stage::Stage;
use serde::{Deserialize, Serialize};

/// What follows.
#[derive(Debug, PartialEq, Eq, Hash)]
#[must_use = "the new state must be kept and its deeds done"]
pub struct Outcome {
    /// The state after it.
    pub state: State,
    /// What `app` must do, in this order.
    pub deeds: Vec<Deed>,
    /// For the one deed of the list that needs it ([`Deed::needs_permit`]).
    pub permit: Option<Permit>,
}

/// One thing to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Deed {
    /// Feed hold at once.
    Hold,
    /// Hold after the next lift.
    HoldAtLift,
    /// End the stretch: hold, then discard.
    StopLink,
    /// Stream this operation from its first line, or from the line that was decided on. Moves.
    Begin {
        /// Its place on the card, from 0.
        operation: u8,
    },
    /// Go on. Moves.
    ResumeLink,
    /// Raise the bit. Moves.
    RaiseLink,
    /// Find home. Moves.
    HomeLink,
    /// Make the asked hand move. Moves.
    HandMoveLink,
    /// Make the controller take motion again.
    UnlockLink,
    /// Switch a controlled spindle off.
    SpindleOff,
    /// Switch a controlled spindle on again at the program's speed.
    SpindleOn,
    /// Set the work zero as config has it.
    SetWorkZero,
    /// Take the bit's place as Z zero.
    SetZZero,
    /// Count the spindle's run-down from now; a count under way starts anew.
    StartRunDown,
    /// Ask whether somebody is still there.
    AskStillThere,
    /// Call somebody.
    Call(CallReason),
    /// Write down that position is lost.
    PositionLost,
    /// Write down that the operation is finished.
    OperationDone {
        /// Its place on the card, from 0.
        operation: u8,
    },
    /// Write down the new stage.
    StageChanged {
        /// Before.
        from: Stage,
        /// After.
        to: Stage,
    },
    /// The sheet left the floor half done or unfit today.
    SetSheetAside,
    /// The sheet left the floor for good: grade it from its parts and close it.
    CloseSheet,
}

impl Deed {
    /// Whether the permit of the outcome is meant for this deed.
    #[must_use]
    pub const fn needs_permit(self) -> bool {
        matches!(
            self,
            Self::Begin { .. }
                | Self::ResumeLink
                | Self::RaiseLink
                | Self::HomeLink
                | Self::HandMoveLink
                | Self::UnlockLink
        )
    }
}
