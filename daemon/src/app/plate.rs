//! The Z zero from a touch plate: the wire is tested first, then the bit comes down on the plate.
//!
//! May live here: what must be so before, and what a touch comes to. May not: bytes, and the legs of the touch (`link`).

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source, refused};
use crate::floor::{Asked, By, Happening, Refusal};
use crate::link::wire::{StateWord, TickSource, Touch};
use chargehand_types::act::{Act, Axis};
use chargehand_types::checklist::Ask;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Feed, Length, Tick};

/// Machine milliseconds for which a tested wire counts. Common practice, no source.
const TESTED_FOR_MS: u64 = 300_000;
/// No farther down than this: a plate that lies farther below the bit was forgotten.
const REACH: Length = Length::whole_mm(40);
/// Off the plate before the second touch.
const OFF: Length = Length::whole_mm(2);
/// Up after it.
const UP: Length = Length::whole_mm(5);
/// mm/min of the first touch and the second. Common practice, no source.
const QUICK_MM_MIN: f64 = 150.0;
const SLOW_MM_MIN: f64 = 30.0;

/// What is known of the plate.
#[derive(Debug, Default)]
pub struct Plate {
    wire: Wire,
    touching: Option<Touching>,
}

#[derive(Debug)]
struct Touching {
    by: By,
    source: Source,
    how: Touch,
}

/// What was seen of the plate's wire.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
enum Wire {
    /// Never closed.
    #[default]
    Unseen,
    /// Closed.
    Closed,
    /// It was closed and was opened again then.
    Tested(Tick),
}

impl Plate {
    /// Follows the wire as reports tell it, while nothing moves: only what hands did is a test.
    pub(in crate::app) fn wire(&mut self, closed: bool, word: StateWord, now: Tick) {
        if self.touching.is_some() {
            return;
        }
        self.wire = match (self.wire, closed) {
            (_, true) if word == StateWord::Ready => Wire::Closed,
            (_, true) => Wire::Unseen,
            (Wire::Closed, false) => Wire::Tested(now),
            (before, false) => before,
        };
    }

    /// Whether the wire was tested lately.
    fn tested(&self, now: Tick) -> bool {
        matches!(self.wire, Wire::Tested(at) if now <= at.after_ms(TESTED_FOR_MS))
    }

    /// How the touch that is asked for goes.
    pub(in crate::app) fn how(&self) -> Option<Touch> {
        self.touching.as_ref().map(|t| t.how)
    }

    /// Nothing is known any more.
    pub(in crate::app) fn forget(&mut self) {
        *self = Self::default();
    }
}

impl Foreman {
    /// Lowers the bit onto the plate.
    ///
    /// # Errors
    /// When the zero is not asked for now, the wire was not tested or is closed, or there is no way down.
    pub(super) async fn touch_plate(&mut self, by: By, source: &Source) -> Done {
        if !self.task().is_some_and(|t| matches!(t.step.ask, Ask::TouchZ { .. } | Ask::TouchAgain { .. })) {
            return Err(refused(Refusal::OtherStage));
        }
        if self.task().is_some_and(|t| matches!(t.step.ask, Ask::TouchZ { .. })) {
            self.over_what_is_zero()?;
        }
        let keys = &self.premises.profile.keys;
        if keys.commands.touch.is_empty() || keys.pins.probe.is_empty() {
            let text = "This controller does not tell the plate's wire. Touch the zero with paper.";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        let Some((at, state)) = self.controller.and_then(|c| Some((c.machine?, c))) else {
            return Err(refused(Refusal::NoLink));
        };
        let start = |text: &str| Err(Problem::new(ProblemKind::StartCondition, text));
        if state.pins.probe {
            return start("The plate's wire is closed: take the plate off the bit and lay it under it.");
        }
        if !self.plate.tested(self.clock.now()) {
            return start(
                "Test the wire first: hold the plate against the bit for two seconds and take it off again. \
                 Nothing moves down before the machine has seen the wire close and open.",
            );
        }
        let reach = REACH.min(at.z - self.premises.config.machine.travel.z.least);
        if reach < OFF {
            return start("There is no way down from here: raise the bit first.");
        }
        let feed = |mm_min: f64| Feed::from_unit(mm_min).unwrap_or_default();
        let how = Touch { reach, quick: feed(QUICK_MM_MIN), off: OFF, slow: feed(SLOW_MM_MIN), up: UP };
        self.plate.touching = Some(Touching { by, source: source.clone(), how });
        let moved = self.happen(Happening::Act { by, what: Asked::HandMove }, source.clone(), Vec::new()).await;
        if let Err(problem) = moved {
            self.plate.touching = None;
            return Err(problem);
        }
        Ok(Said::of("It comes down slowly until the bit meets the plate. Keep a hand at the red button."))
    }

    /// While the bit is on its way to the plate only hold and stop are taken, and what moves nothing.
    pub(super) fn while_touching(&self, act: &Act) -> Result<(), Problem> {
        let quiet = matches!(act, Act::SignIn { .. } | Act::SignOut | Act::AnswerCall { .. } | Act::Note { .. });
        if self.plate.touching.is_none() || act.always_open() || quiet {
            return Ok(());
        }
        Err(Problem::new(ProblemKind::NotNow, "The bit is touching the plate. Wait, hold or stop it."))
    }

    /// The plate was met at this machine Z, and the bit stands above it again.
    pub(super) async fn plate_touched(&mut self, machine_z: Length) {
        let Some(touching) = self.plate.touching.take() else { return };
        self.plate.forget();
        self.happens_by_itself(Happening::HandDone).await;
        let Some(at) = self.controller.and_then(|c| c.machine) else { return };
        let above = at.z - machine_z + self.premises.config.machine.plate.thickness;
        if let Err(problem) = self.zero_here(touching.by, Axis::Z, above, &touching.source).await {
            self.say_at_step(format!("The plate was touched, but the zero was not taken: {problem}"));
        }
    }

    /// A touch came to nothing; `then` says what to do first.
    pub(super) fn not_touched(&mut self, why: &str, then: &str) {
        if self.plate.touching.is_some() {
            self.plate.forget();
            let why = why.trim_end_matches('.');
            self.say_at_step(format!("The plate was not touched: {why}. {then} Then test the wire anew."));
        }
    }

    fn say_at_step(&mut self, text: String) {
        tracing::warn!("{text}");
        if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) {
            (list.note, list.back) = (Some(text), false);
        }
        self.version.0 += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_wire_that_hands_closed_and_opened_is_tested() {
        let (mut plate, at) = (Plate::default(), Tick(1_000_000));
        plate.wire(false, StateWord::Ready, at);
        assert!(!plate.tested(at), "never closed");
        plate.wire(true, StateWord::Ready, at);
        assert!(!plate.tested(at), "still closed");
        plate.wire(false, StateWord::Ready, at);
        assert!(plate.tested(at) && plate.tested(at.after_ms(TESTED_FOR_MS)));
        assert!(!plate.tested(at.after_ms(TESTED_FOR_MS + 1)), "too long ago");
        plate.wire(true, StateWord::Cutting, at);
        plate.wire(false, StateWord::Ready, at);
        assert!(!plate.tested(at), "it closed while the machine moved");
    }
}
