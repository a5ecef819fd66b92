//! Why a sheet stands where it stands: what would be worse were it to change places with the next.

use super::kernel::Kernel;
use super::model::{Problem, Unfit};
use super::order::Place;
use chargehand_types::id::SheetId;
use chargehand_types::plan::Minutes;

/// Why a sheet stands before the next one.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// It is on the machine or about to be, and stays where it is.
    Kept,
    /// The other way round more would be late.
    LateOtherwise {
        /// The next sheet.
        before: SheetId,
        /// How many weighted minutes more.
        more: f64,
    },
    /// The other way round the last sheet would be finished later.
    LongerOtherwise {
        /// The next sheet.
        before: SheetId,
        /// By so much.
        by: Minutes,
    },
    /// The other way round there would be more bit changes.
    SameBit {
        /// The next sheet.
        before: SheetId,
    },
    /// Changing places with the next would make no difference.
    Either {
        /// The next sheet.
        before: SheetId,
    },
    /// Nothing comes after it.
    Last,
}

/// The reason of every place of an order.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn reasons(problem: &Problem, order: &[Place]) -> Result<Vec<Reason>, Unfit> {
    let kernel = Kernel::new(problem)?;
    let now = kernel.run(order).objective();
    let reason = |at: usize| {
        if at < problem.frozen {
            return Reason::Kept;
        }
        let Some(next) = order.get(at + 1) else { return Reason::Last };
        let before = problem.sheets[usize::from(next.sheet)].id.clone();
        let mut swapped = order.to_vec();
        swapped.swap(at, at + 1);
        let other = kernel.run(&swapped).objective();
        if other.tardiness > now.tardiness {
            Reason::LateOtherwise { before, more: other.weighted_tardiness() - now.weighted_tardiness() }
        } else if other.finish > now.finish {
            Reason::LongerOtherwise { before, by: other.finish.since(now.finish) }
        } else if other.changes > now.changes {
            Reason::SameBit { before }
        } else {
            Reason::Either { before }
        }
    };
    Ok((0..order.len()).map(reason).collect())
}
