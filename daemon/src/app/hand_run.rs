//! Moves by hand that go on while a key is held down: begun like any other, and kept on by each repeat of the key, from the
//! terminal that began it alone.
//!
//! May live here: whose repeats count, how far and how fast. May not: when it ends; the link's clock says so.

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source};
use crate::floor::state::Motion;
use crate::floor::{Asked, By, Happening};
use crate::link::wire::{Command, Run};
use chargehand_types::act::{Act, Axis};
use chargehand_types::id::TerminalId;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Feed, Length};

/// Down it goes no faster than this, in mm/min: there is wood below. Common practice, no source.
const DOWN_MM_MIN: f64 = 300.0;
/// So far from the end of its travel it stops.
const MARGIN: Length = Length::whole_mm(1);

/// What is being run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::app) struct HandRun {
    terminal: Option<TerminalId>,
    axis: Axis,
    up: bool,
    /// How, until it is begun.
    pub how: Option<Run>,
}

impl Foreman {
    /// Whether an act only keeps on what its terminal has begun: it was seen before the machine began to move.
    pub(super) fn keeps_on(&self, by: By, act: &Act, terminal: &TerminalId) -> bool {
        let (Act::HandRun { axis, up }, By::AtMachine(_)) = (act, by) else { return false };
        let runs = self.floor.machine.motion == Motion::Hand;
        let same = |run: &HandRun| run.terminal.as_ref() == Some(terminal) && (run.axis, run.up) == (*axis, *up);
        runs && self.run.as_ref().is_some_and(same)
    }

    /// Begins to run, or runs on.
    pub(super) async fn hand_run(&mut self, by: By, axis: Axis, up: bool, source: &Source) -> Done {
        let asked = Act::HandRun { axis, up };
        if source.terminal.as_ref().is_some_and(|terminal| self.keeps_on(by, &asked, terminal)) {
            self.line.command(Command::KeepRunning);
            return Ok(Said::of("It moves for as long as the key is held down."));
        }
        let most = self.way_left(axis, up)?;
        let keys = &self.premises.profile.keys;
        let down = axis == Axis::Z && !up;
        let feed =
            if down { keys.hand_feed.min(Feed::from_unit(DOWN_MM_MIN).unwrap_or_default()) } else { keys.hand_feed };
        let how = Some(Run { axis, up, most, feed });
        self.run = Some(HandRun { terminal: source.terminal.clone(), axis, up, how });
        let moved = self.happen(Happening::Act { by, what: Asked::HandMove }, source.clone(), Vec::new()).await;
        if let Err(problem) = moved {
            self.run = None;
            return Err(problem);
        }
        Ok(Said::of("It moves for as long as the key is held down."))
    }

    /// The way to the end of the machine's travel.
    fn way_left(&self, axis: Axis, up: bool) -> Result<Length, Problem> {
        let Some(at) = self.controller.and_then(|c| c.machine) else {
            return Err(super::foreman::refused(crate::floor::Refusal::NoLink));
        };
        let travel = self.premises.config.machine.travel;
        let (here, reach) = match axis {
            Axis::X => (at.x, travel.x),
            Axis::Y => (at.y, travel.y),
            Axis::Z => (at.z, travel.z),
        };
        let left = if up { reach.most - here } else { here - reach.least } - MARGIN;
        if left > Length::ZERO {
            return Ok(left);
        }
        let text = format!("The machine's travel on {} ends here.", axis.letter());
        Err(Problem::new(ProblemKind::StartCondition, text))
    }
}
