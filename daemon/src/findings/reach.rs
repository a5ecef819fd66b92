//! How far something reaches along each axis, as a running sum.
//!
//! May live here: growing bounds. May not: what they are compared with.

use crate::program::way::Box3;
use chargehand_types::check::Extents;
use chargehand_types::quantity::Length;

/// Least and most on each axis so far; nothing yet on an axis that was not met.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Reach([Option<[f64; 2]>; 3]);

impl Reach {
    /// Takes in one axis of a motion.
    pub(super) fn take(&mut self, axis: usize, [least, most]: [f64; 2]) {
        if let Some(slot) = self.0.get_mut(axis) {
            *slot = Some(slot.map_or([least, most], |[a, b]| [a.min(least), b.max(most)]));
        }
    }

    /// Takes in all three axes.
    pub(super) fn take_all(&mut self, bounds: &Box3) {
        for (axis, range) in bounds.iter().enumerate() {
            self.take(axis, *range);
        }
    }

    /// Takes in another reach.
    pub(super) fn join(&mut self, other: &Self) {
        for (axis, range) in other.0.iter().enumerate() {
            if let Some(range) = range {
                self.take(axis, *range);
            }
        }
    }

    /// Least and most along an axis.
    pub(super) fn along(&self, axis: usize) -> Option<[f64; 2]> {
        self.0.get(axis).copied().flatten()
    }

    pub(super) fn extents(&self) -> Extents {
        let of = |axis| {
            let [least, most] = self.along(axis)?;
            Some([Length::from_mm(least).ok()?, Length::from_mm(most).ok()?])
        };
        Extents { x: of(0), y: of(1), z: of(2) }
    }
}
