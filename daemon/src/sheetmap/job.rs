//! What is swept over which sheet: every move of a card in the order it is cut.
//!
//! May live here: the list of moves and the sheet's box. May not: anything computed from them.

use super::cutter::Cutter;
use crate::program::motion::{Move, MoveKind, Place};
use crate::program::way::Way;
use chargehand_types::card::{Bit, Sheet};
use chargehand_types::quantity::Length;

/// All moves of a card over one sheet.
#[derive(Debug, Clone)]
pub struct Job {
    /// Work X and Y of the sheet's lower left corner.
    pub(crate) corner: [f64; 2],
    /// Along X and Y.
    pub(crate) size: [f64; 2],
    /// Work Z of the sheet's upper face.
    pub(crate) face: f64,
    /// Of the sheet.
    pub(crate) thickness: f64,
    /// Bits that come to use.
    pub(crate) cutters: Vec<Cutter>,
    /// What goes down with every bit: half across, and how high above the tip, mm.
    pub(crate) bodies: Vec<[f64; 2]>,
    /// In the order they are cut.
    pub(crate) strokes: Vec<Stroke>,
}

/// One move of one bit.
#[derive(Debug, Clone, Copy)]
pub struct Stroke {
    /// Its curve.
    pub(crate) way: Way,
    /// 0-based, in the order of cutting.
    pub(crate) operation: u16,
    /// Which of the job's cutters.
    pub(crate) cutter: u16,
    /// Where it is written.
    pub(crate) place: Place,
    /// A rapid: it is not meant to cut.
    pub(crate) rapid: bool,
}

impl Job {
    /// A sheet with nothing cut yet, at a thickness.
    #[must_use]
    pub fn new(sheet: &Sheet, thickness: Length) -> Self {
        Self {
            corner: [sheet.corner.x.mm(), sheet.corner.y.mm()],
            size: sheet.size.map(Length::mm),
            face: sheet.face_z(thickness).mm(),
            thickness: thickness.mm(),
            cutters: Vec::new(),
            bodies: Vec::new(),
            strokes: Vec::new(),
        }
    }

    /// The sheet lies so much lower, as seen from work zero.
    pub fn lower(&mut self, by: Length) {
        self.face -= by.mm();
    }

    /// One bit more; its number in this job.
    pub fn fit(&mut self, bit: &Bit) -> u16 {
        self.fit_shape(Cutter::of(bit))
    }

    /// One shape more; its number in this job.
    pub fn fit_shape(&mut self, cutter: Cutter) -> u16 {
        self.cutters.push(cutter);
        u16::try_from(self.cutters.len() - 1).unwrap_or(u16::MAX)
    }

    /// How many moves there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.strokes.len()
    }

    /// Whether nothing moves.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.strokes.is_empty()
    }

    /// Takes back every move from this one on: a program that turned out not to be readable.
    pub fn take_back(&mut self, from: usize) {
        self.strokes.truncate(from);
    }

    /// A round body that goes down with every bit, so high above its tip.
    pub fn carry(&mut self, diameter: Length, above_tip: Length) {
        self.bodies.push([diameter.mm() / 2.0, above_tip.mm()]);
    }

    /// One move more, of an operation (0-based in the order of cutting), with a bit that [`Job::fit`] gave.
    pub fn push(&mut self, operation: u16, cutter: u16, place: Place, mv: &Move) {
        let rapid = matches!(mv.kind, MoveKind::Rapid);
        self.strokes.push(Stroke { way: Way::of(mv), operation, cutter, place, rapid });
    }

    /// Work Z of the sheet's underside.
    pub(crate) fn bottom(&self) -> f64 {
        self.face - self.thickness
    }
}
