//! What a whole program told about itself, for the findings that rest on more than one move.
//!
//! May live here: counts and places. May not: faults, moves, what a finding makes of it.

use super::motion::Place;
use chargehand_types::quantity::Length;

/// What was seen while reading; final once the reader is finished.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// Lines of the file.
    pub lines: u32,
    /// Lines with at least one word.
    pub blocks: u32,
    /// The program opens with a lone `%`.
    pub opened: bool,
    /// A second lone `%` closed it.
    pub closed: bool,
    /// The M2 or M30 that ended it.
    pub ended: Option<Place>,
    /// The first G20.
    pub first_inch: Option<Place>,
    /// The first G21.
    pub first_mm: Option<Place>,
    /// The first change of units after a motion.
    pub units_changed: Option<Place>,
    /// Arcs looser than the standard allows, yet within what is accepted here.
    pub loose_arcs: Option<LooseArcs>,
    /// The first `;` comment: an extension of the language.
    pub semicolon: Option<Place>,
    /// The first line that begins with `/`; such lines are read and run.
    pub deletable: Option<Place>,
    /// The first motion in a work system other than G54 whose origin this program did not set: it is taken to be
    /// the machine's own zero.
    pub system_unset: Option<Place>,
    /// The first G28 or G30: the stored home is taken to be the machine's own zero.
    pub home_assumed: Option<Place>,
}

/// Arcs whose radii differ by more than 0.002 mm (0.0002 in under G20; NISTIR 6556 3.5.3).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LooseArcs {
    /// The first.
    pub first: Place,
    /// The last.
    pub last: Place,
    /// The worst.
    pub worst: Place,
    /// By how much the worst one's radii differ.
    pub apart: Length,
    /// What the standard allows it.
    pub allowed: Length,
    /// How many.
    pub count: u32,
}

impl Facts {
    /// Whether the end is as the language asks (NISTIR 6556 3.1): the two `%`, or without an opening one, M2 or M30.
    /// An M2 or M30 is asked for between two `%` as well, since controllers do not read the `%`.
    #[must_use]
    pub fn ends_well(&self) -> bool {
        self.ended.is_some() && (self.closed || !self.opened)
    }

    pub(super) fn loose_arc(&mut self, place: Place, apart: Length, allowed: Length) {
        let arcs = self.loose_arcs.get_or_insert(LooseArcs {
            first: place,
            last: place,
            worst: place,
            apart,
            allowed,
            count: 0,
        });
        arcs.count += 1;
        arcs.last = place;
        if apart > arcs.apart {
            (arcs.worst, arcs.apart, arcs.allowed) = (place, apart, allowed);
        }
    }
}
