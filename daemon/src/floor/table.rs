//! The transition table.

use crate::floor::happening::Happening;
use crate::floor::outcome::Outcome;
use crate::floor::permit::Epoch;
use crate::floor::refusal::Refusal;
use crate::floor::state::State;

/// What follows from a happening in a state.
///
/// # Errors
/// When a start condition does not hold. Only acts are ever refused; the state is unchanged then.
pub fn step(state: &State, _happening: &Happening, _epoch: Epoch) -> Result<Outcome, Refusal> {
    Ok(Outcome {
        state: state.clone(),
        deeds: Vec::new(),
        permit: None,
    })
}
