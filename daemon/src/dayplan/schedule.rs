//! An order as steps with their times.

use super::kernel::{Kernel, Part, State};
use super::model::{Objective, Problem};
use super::order::Place;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::plan::Minute;

/// What is done in a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doing {
    /// Getting the sheet onto the machine and held down.
    Load,
    /// Fitting another bit, zero touched again.
    BitChange(BitName),
    /// Cutting, by the operation's name.
    Cut {
        /// The operation.
        operation: String,
        /// Nobody is needed.
        unattended: bool,
    },
    /// Taking it off, checking its parts, cleaning.
    Cleanup,
}

impl Doing {
    /// A person must be there.
    #[must_use]
    pub const fn needs_person(&self) -> bool {
        !matches!(self, Self::Cut { unattended: true, .. })
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What is done.
    pub doing: Doing,
    /// It begins.
    pub start: Minute,
    /// It ends.
    pub end: Minute,
}

/// One sheet's steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// The sheet.
    pub sheet: SheetId,
    /// Its number in the problem.
    pub number: usize,
    /// In the order they are done.
    pub steps: Vec<Step>,
    /// The end of its clean-up.
    pub finish: Minute,
    /// All of it lies inside the calendar; otherwise its times mean "later than the calendar reaches".
    pub placed: bool,
}

/// All sheets' steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// In the order they are cut.
    pub blocks: Vec<Block>,
    /// What it is measured by.
    pub objective: Objective,
}

/// Every step of an order as early as it can be.
#[must_use]
pub fn schedule(problem: &Problem, kernel: &Kernel, order: &[Place]) -> Schedule {
    let mut state = kernel.start;
    let mut blocks = Vec::with_capacity(order.len());
    for place in order {
        blocks.push(block(problem, kernel, state, *place));
        state = kernel.after(state, *place);
    }
    Schedule { blocks, objective: state.objective() }
}

fn block(problem: &Problem, kernel: &Kernel, before: State, place: Place) -> Block {
    let number = usize::from(place.sheet);
    let sheet = &problem.sheets[number];
    let mut at = before.at;
    let mut steps = Vec::new();
    for span in Kernel::spans(kernel.route(place), before.bit) {
        let start = kernel.fit(at, span);
        at = start + span.minutes;
        let doing = match span.what {
            Part::Load => Doing::Load,
            Part::Change(operation) => Doing::BitChange(sheet.operations[usize::from(operation)].bit.clone()),
            Part::Cut(operation) => {
                let operation = &sheet.operations[usize::from(operation)];
                Doing::Cut { operation: operation.name.clone(), unattended: operation.unattended }
            }
            Part::Cleanup => Doing::Cleanup,
        };
        steps.push(Step { doing, start: Minute(start), end: Minute(at) });
    }
    let placed = steps.iter().all(|s| s.end.0 <= kernel.horizon || !s.doing.needs_person());
    Block { sheet: sheet.id.clone(), number, steps, finish: Minute(at), placed }
}
