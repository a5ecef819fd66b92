//! Blocks that are written as several lines: cycles, homes, and a shift brought back.
//!
//! May live here: lines made from steps. May not: blocks that keep their own words.

use super::writer::{Before, Writer};
use super::{Passage, Then};
use crate::program::BlockRead;
use crate::program::block::{Broken, Word};
use crate::program::code::{G, Group, M};
use crate::program::frame::Axis;
use crate::program::motion::{Doing, Modal, Move, MoveKind, Step, Turning};
use crate::program::number::Decimal;
use chargehand_types::quantity::Point;

/// What coordinates on a line count from.
#[derive(Debug, Clone, Copy)]
enum From {
    /// The programmed zero, at this place of the work frame.
    Zero(Point),
    /// Where the move starts (G91).
    Start,
    /// The machine's zero (G53), at this place of the work frame.
    Machine(Point),
}

impl Writer {
    /// The words of a block that set something; what moves is written after them.
    fn settings(&mut self, read: &BlockRead<'_>) -> Result<(), Broken> {
        let mut draft = self.draft();
        for word in read.block.words() {
            let code = if word.letter == b'G' { G::from_number(word.value) } else { None };
            let moves = code.is_some_and(|c| c.group() == Group::Motion || matches!(c, G::G4 | G::G28 | G::G30));
            if !moves && !ends(word) && !b"XYZIJKRQPL".contains(&word.letter) {
                self.write_word(&mut draft, word, read)?;
            }
        }
        self.finish(draft, Passage::Still, Then::Goes)
    }

    /// The M2 or M30 of a block whose motion was written before it.
    pub(super) fn end(&mut self, read: &BlockRead<'_>) -> Result<(), Broken> {
        let mut draft = self.draft();
        for word in read.block.words().iter().filter(|word| ends(word)) {
            self.write_word(&mut draft, word, read)?;
        }
        self.finish(draft, Passage::Still, Then::Goes)
    }

    /// A cycle, as what it unfolds to.
    pub(super) fn cycle(&mut self, read: &BlockRead<'_>, steps: &[Step]) -> Result<(), Broken> {
        self.settings(read)?;
        let mut unfolding = false;
        for step in steps {
            let modal = Modal { shift: read.modal.shift, ..step.modal };
            match &step.doing {
                Doing::Move(made) => {
                    unfolding = true;
                    let from = if modal.incremental { From::Start } else { From::Zero(read.base) };
                    self.straight(made, modal, from)?;
                }
                Doing::Dwell { seconds } => {
                    let mut draft = self.draft();
                    draft.g(G::G4, &self.standing);
                    draft.word(b'P', Decimal::from_f64(*seconds).unwrap_or_default(), None);
                    self.finish(draft, Passage::Dwells(*seconds), Then::Goes)?;
                }
                // the block's own spindle words were written with its settings
                Doing::Spindle if unfolding => {
                    let mut draft = self.draft();
                    draft.m(match modal.turning {
                        Turning::Off => M::M5,
                        Turning::Clockwise => M::M3,
                        Turning::CounterClockwise => M::M4,
                    });
                    self.finish(draft, Passage::Still, Then::Goes)?;
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// G28 and G30, as the rapids the check took them for.
    pub(super) fn home(&mut self, read: &BlockRead<'_>, steps: &[Step]) -> Result<(), Broken> {
        self.settings(read)?;
        let moves = || steps.iter().filter_map(as_move);
        let last = moves().count();
        let machine = Point::default() - read.frame.to_machine(Point::default());
        for (n, made) in moves().enumerate() {
            let programmed = if read.modal.incremental { From::Start } else { From::Zero(read.base) };
            let goes_home = n + 1 == last && made.to == read.at && self.known.g(G::G53);
            self.straight(made, read.modal, if goes_home { From::Machine(machine) } else { programmed })?;
        }
        self.standing.forget_axes();
        Ok(())
    }

    /// G92.3: the shift it brings back, as the G92 that makes it.
    pub(super) fn shift_again(&mut self, read: &BlockRead<'_>, before: Before) -> Result<(), Broken> {
        let mut draft = self.draft();
        draft.g(G::G92, &self.standing);
        // written before the block's own work system is picked, so from the origin in force so far
        let origin = before.base + before.modal.shift;
        let reads = before.at - (origin - read.modal.shift);
        for axis in Axis::ALL {
            draft.word(axis.letter(), Decimal::of_length(axis.of(&reads), before.modal.inch), None);
        }
        self.standing.forget_axes();
        self.finish(draft, Passage::Still, Then::Goes)
    }

    /// One straight move of an unfolded block.
    fn straight(&mut self, made: &Move, modal: Modal, from: From) -> Result<(), Broken> {
        let mut draft = self.draft();
        let code = if made.kind == MoveKind::Rapid { G::G0 } else { G::G1 };
        let zero = match from {
            From::Zero(zero) => zero,
            From::Start => made.from,
            From::Machine(zero) => {
                draft.g(G::G53, &self.standing);
                zero
            }
        };
        draft.g(code, &self.standing);
        for axis in Axis::ALL {
            let moves = axis.of(&made.from) != axis.of(&made.to);
            if moves || matches!(from, From::Machine(_)) {
                let value = axis.of(&made.to) - axis.of(&zero);
                draft.word(axis.letter(), Decimal::of_length(value, modal.inch), None);
                draft.names(axis, moves);
            }
        }
        let step = Step { place: crate::program::motion::Place::default(), doing: Doing::Move(*made), modal };
        let step = std::slice::from_ref(&step);
        let then = self.lifts(step);
        self.finish(draft, Passage::of(step), then)
    }
}

/// M2 or M30: nothing after it is read.
fn ends(word: &Word) -> bool {
    word.letter == b'M' && matches!(M::from_number(word.value), Some(M::M2 | M::M30))
}

fn as_move(step: &Step) -> Option<&Move> {
    match &step.doing {
        Doing::Move(made) => Some(made),
        _ => None,
    }
}
