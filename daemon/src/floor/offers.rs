//! What may be done now, asked of the same table that decides it.
//!
//! May live here: which acts a person is shown in which stage, in which order. May not: rules of its own.

use crate::floor::happening::By;
use crate::floor::refusal::Refusal;
use crate::floor::state::{Spindle, State};
use chargehand_types::checklist::ListKind;
use chargehand_types::now::OfferedAct;

/// What a person can do now, or could if it were allowed, in the order in which it is needed.
#[must_use]
pub fn offers(_state: &State, _by: By) -> Vec<(OfferedAct, Option<Refusal>)> {
    Vec::new()
}

/// Whether a list must ask for the run-down (switched off, counted, looked) before it can be signed.
#[must_use]
pub const fn asks_run_down(state: &State, list: ListKind) -> bool {
    match list {
        ListKind::Securing | ListKind::TakingOff | ListKind::Tooling => {
            !matches!(state.machine.spindle, Spindle::Still)
        }
        ListKind::Ready | ListKind::Checking => false,
    }
}
