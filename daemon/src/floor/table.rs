//! The one transition table: what a happening makes of a state. Acts of people are in `acts`, what the machine and
//! the timers tell in `machine`.

use super::happening::{Deed, Happening, Outcome};
use super::permit::{Epoch, Permit};
use super::refusal::Refusal;
use super::state::State;
use super::{acts, machine};
use chargehand_types::stage::Stage;

/// One step. The state given stays as it is; a refusal changes nothing.
///
/// # Errors
/// When a start condition, the stage or the asker's role says no.
pub fn step(state: &State, happening: &Happening, epoch: Epoch) -> Result<Outcome, Refusal> {
    let mut next = Draft { state: state.clone(), deeds: Vec::new(), permit: None, epoch };
    match happening {
        Happening::Asked { by, what } => acts::asked(&mut next, *by, what)?,
        told => machine::told(&mut next, told),
    }
    next.note_stage(state);
    Ok(Outcome { state: next.state, deeds: next.deeds, permit: next.permit })
}

/// An outcome in the making.
pub(in crate::floor) struct Draft {
    pub state: State,
    pub deeds: Vec<Deed>,
    pub permit: Option<Permit>,
    pub epoch: Epoch,
}

impl Draft {
    /// Adds a deed.
    pub fn must(&mut self, deed: Deed) {
        self.deeds.push(deed);
    }

    /// Adds the one deed that moves, with its permit.
    pub fn moves(&mut self, deed: Deed, permit: Permit) {
        self.deeds.push(deed);
        self.permit = Some(permit);
    }

    /// Puts the change of stage first, so that it is written down before it is acted on.
    fn note_stage(&mut self, before: &State) {
        let from = before.stage().unwrap_or(Stage::Queued);
        let gone = self.deeds.iter().find_map(|d| match d {
            Deed::SheetOff => Some(Stage::SetAside),
            Deed::CloseSheet => Some(Stage::Closed),
            _ => None,
        });
        let to = gone.or_else(|| self.state.stage()).unwrap_or(from);
        if from != to {
            self.deeds.insert(0, Deed::Stage { from, to });
        }
    }
}
