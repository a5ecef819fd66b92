//! The way of every bit over the sheet, written down while the programs are read.
//!
//! May live here: which bit makes which move. May not: judging any of it.

use super::case::Case;
use super::cutting::Fitted;
use super::sweep::blank;
use crate::program::motion::{Move, Place};
use crate::sheetmap::{Cutter, Job};
use chargehand_types::card::Bit;
use chargehand_types::quantity::Length;

/// All moves of a card in the order of cutting.
#[derive(Debug)]
pub(super) struct Trace<'a> {
    pub(super) job: Job,
    /// The bits of the job, by number.
    pub(super) bits: Vec<Fitted<'a>>,
    /// Operations begun.
    begun: u16,
    /// Where the last one's moves begin.
    from: usize,
}

/// The deepest pass a bit is meant to take: so many diameters, and never more than it has edge.
pub(super) fn deepest_pass(case: &Case<'_>, bit: &Bit) -> Length {
    let by_diameter = bit.diameter.mm() * case.bench.limits_set.pass_depth_x_diameter;
    Length::from_mm(by_diameter).unwrap_or(bit.reach()).min(bit.reach())
}

impl<'a> Trace<'a> {
    pub(super) fn new(case: &Case<'_>) -> Self {
        Self { job: blank(case), bits: Vec::new(), begun: 0, from: 0 }
    }

    /// The next operation begins.
    pub(super) fn begin(&mut self) {
        self.begun = self.begun.saturating_add(1);
        self.from = self.job.len();
    }

    /// Forgets the operation under way: nobody knows where its bit goes.
    pub(super) fn take_back(&mut self) {
        self.job.take_back(self.from);
    }

    pub(super) fn push(&mut self, fitted: Fitted<'a>, place: Place, mv: &Move, case: &Case<'_>) {
        let known = self.bits.iter().position(|b| b.key == fitted.key);
        let cutter = known.and_then(|at| u16::try_from(at).ok()).unwrap_or_else(|| {
            self.bits.push(fitted);
            self.job.fit_shape(Cutter::of(fitted.bit).taking(deepest_pass(case, fitted.bit)))
        });
        self.job.push(self.begun.saturating_sub(1), cutter, place, mv);
    }

    /// The bit of a stroke.
    pub(super) fn bit(&self, cutter: u16) -> Option<Fitted<'a>> {
        self.bits.get(usize::from(cutter)).copied()
    }
}
