//! Lifts: the bit rises along its path and comes down again to the depth it left; what it passes over stays as a tab.
//!
//! May live here: seeing one. May not: whether what it leaves is strong enough.

use crate::program::way::Way;

/// A rise lower than this (mm) is no lift: common practice, no source; tabs are a millimetre high and more.
const LEAST_RISE: f64 = 0.3;
/// Down again to within this (mm) of the depth it left.
pub(in crate::findings) const SAME_FLOOR: f64 = 0.06;
/// Within this (mm) of the top the lift is at its top.
const AT_TOP: f64 = 0.02;

/// One lift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::findings) struct Lift {
    /// Work Z it rises from.
    pub(in crate::findings) floor: f64,
    /// Work Z it rises to.
    pub(in crate::findings) top: f64,
    /// Way at the top, mm: the tab is narrower than that by the bit's diameter.
    pub(in crate::findings) way_at_top: f64,
}

impl Lift {
    /// How high a tab it leaves, mm above the cut's floor.
    pub(in crate::findings) fn height(&self) -> f64 {
        self.top - self.floor
    }
}

/// The lift under way in one run, if any.
#[derive(Debug, Default)]
pub(super) struct Lifting {
    /// The lowest height this run was at.
    floor: Option<f64>,
    up: Option<Lift>,
}

impl Lifting {
    /// Takes a feed move in; gives the lift that it ends.
    pub(super) fn fed(&mut self, way: &Way, flat: f64, end: f64) -> Option<Lift> {
        let begin = end - way.rise();
        let floor = *self.floor.get_or_insert(begin);
        if let Some(up) = &mut self.up {
            let high = begin.max(end);
            if high > up.top + AT_TOP {
                (up.top, up.way_at_top) = (high, 0.0);
            }
            if (begin - up.top).abs() <= AT_TOP && (end - up.top).abs() <= AT_TOP {
                up.way_at_top += flat;
            }
            if end <= floor + SAME_FLOOR {
                let done = self.up.take();
                self.floor = Some(floor.min(end));
                return done.filter(|lift| lift.height() >= LEAST_RISE);
            }
        } else if begin <= floor + SAME_FLOOR && end >= floor + LEAST_RISE {
            self.up = Some(Lift { floor, top: end, way_at_top: 0.0 });
        } else if begin <= floor + SAME_FLOOR && end > floor + AT_TOP {
            // a gentle rise in several moves begins below the least rise
            self.up = Some(Lift { floor, top: end, way_at_top: 0.0 });
        } else {
            self.floor = Some(floor.min(end));
        }
        None
    }
}
