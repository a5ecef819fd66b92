//! Where to put the fasteners: as few as hold the sheet, where the bit does not come, easy to find with a tape measure.
//!
//! Deterministic: the same question gets the same answer. Places are whole steps of 5 mm from the sheet's lower left corner.
//!
//! May live here: the order of the steps. May not: whether one place may be used, sentences.

mod ground;
#[cfg(test)]
mod tests;
mod words;

use super::footing::Footing;
use super::hold::Hold;
use crate::sheetmap::Clearance;
pub use ground::HOLE;
use ground::{Ground, apart};
pub use words::{CORNERS, Trouble, Why};

/// Places of a proposal at most: more is no plan for a person.
const MOST: usize = 60;
/// Cuts are looked at this often along their way, mm.
const SAMPLE: f64 = 20.0;

/// A piece that would come loose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoosePiece {
    /// A place well inside, work mm.
    pub inside: [f64; 2],
}

/// What a proposal is made for.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// The sheet's lower left corner, work mm.
    pub corner: [f64; 2],
    /// Along X and Y, mm.
    pub size: [f64; 2],
    /// What is swept below the fastener's top.
    pub clear: &'a Clearance,
    /// What is swept below the sheet's face.
    pub cuts: &'a Clearance,
    /// The fastener's room.
    pub footing: Footing,
    /// Air wanted, mm.
    pub margin: f64,
    /// Whether it goes into the waste board.
    pub goes_in: bool,
    /// Rectangles of the waste board that nothing may go into: lower left and upper right corner, work mm.
    pub keep_out: &'a [[[f64; 2]; 2]],
    /// Holes already in the waste board, work mm.
    pub used: &'a [[f64; 2]],
    /// The piece a place lies in, by a number; none in the rim. Where pieces are not known at all, nothing but places along
    /// the sheet's edges is proposed.
    pub piece_at: Option<&'a dyn Fn([f64; 2]) -> Option<usize>>,
    /// Pieces to be held.
    pub loose: &'a [LoosePiece],
    /// What one fastener holds, N; none where forces are not reckoned.
    pub each: Option<Hold>,
    /// What is needed, safety included, N.
    pub need: Hold,
    /// No cut may be farther from a fastener, mm.
    pub span: f64,
    /// The sheet is bowed: one more.
    pub bowed: bool,
}

/// One place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Work mm.
    pub at: [f64; 2],
    /// From its middle to the nearest swept edge below its top, mm.
    pub air: f64,
    /// What it is there for.
    pub why: Why,
}

/// The places, and what could not be had.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proposal {
    /// Corners first.
    pub places: Vec<Placed>,
    /// What stands against it, each with what to change.
    pub troubles: Vec<Trouble>,
}

/// Proposes; where old holes are why something could not be had, that is told too.
#[must_use]
pub fn propose(ask: &Ask<'_>) -> Proposal {
    let mut found = once(ask);
    if !found.troubles.is_empty() && !ask.used.is_empty() {
        let fresh = once(&Ask { used: &[], ..*ask });
        // a whole sheet without room is one trouble, however many corners it has
        if fresh.troubles.len() < found.troubles.len() || (found.places.is_empty() && !fresh.places.is_empty()) {
            let under = |hole: &&[f64; 2]| {
                (0..2).all(|axis| {
                    let from = hole[axis] - ask.corner[axis];
                    from >= 0.0 && from <= ask.size[axis]
                })
            };
            found.troubles.push(Trouble::OldHoles { holes: ask.used.iter().filter(under).count() });
        }
    }
    found
}

fn once(ask: &Ask<'_>) -> Proposal {
    let ground = Ground::new(ask);
    let mut plan = Plan { ask, ground, found: Proposal::default() };
    plan.corners();
    plan.pieces();
    plan.spans();
    plan.forces();
    plan.drop_idle();
    if plan.found.places.is_empty() && plan.found.troubles.len() > 1 {
        plan.found.troubles = vec![Trouble::NoRoom];
    }
    plan.found
}

struct Plan<'a> {
    ask: &'a Ask<'a>,
    ground: Ground<'a>,
    found: Proposal,
}

impl Plan<'_> {
    fn add(&mut self, at: [f64; 2], why: Why) {
        let air = self.ask.clear.air(at);
        self.found.places.push(Placed { at, air, why });
    }

    fn taken(&self, at: [f64; 2]) -> bool {
        self.found.places.iter().any(|p| apart(p.at, at) < self.ground.least_apart())
    }

    /// One in each corner region, or as near to it along an edge as there is room.
    fn corners(&mut self) {
        for corner in 0..4 {
            let near = self.ground.in_corner(corner).find(|at| !self.taken(*at));
            if let Some(at) = near {
                self.add(at, Why::Corner { corner });
                continue;
            }
            let along = self.ground.near_corner(corner).find(|at| !self.taken(*at));
            match along {
                Some(at) => self.add(at, Why::MovedFromCorner { corner }),
                None => self.found.troubles.push(Trouble::Corner { corner }),
            }
        }
    }

    /// One in each piece that would come loose.
    fn pieces(&mut self) {
        for piece in self.ask.loose {
            let place = self.ground.in_piece(piece.inside).find(|at| !self.taken(*at));
            match place {
                Some(at) => self.add(at, Why::Piece),
                None => self.found.troubles.push(Trouble::Piece { at: piece.inside }),
            }
        }
    }

    /// No cut farther from a fastener than the span: the place that reaches most of what is too far goes in first.
    fn spans(&mut self) {
        let mut far = self.ground.cuts(SAMPLE);
        far.retain(|cut| self.nearest(*cut) > self.ask.span);
        while !far.is_empty() && self.found.places.len() < MOST {
            let mut worst = (far[0], self.nearest(far[0]));
            for cut in &far {
                let away = self.nearest(*cut);
                if away > worst.1 + 1.0e-9 {
                    worst = (*cut, away);
                }
            }
            let (cut, span) = (worst.0, self.ask.span);
            let reaches = |at: [f64; 2]| far.iter().filter(|c| apart(at, **c) <= span).count();
            let by_edge = self.ground.edges().filter(|at| apart(*at, cut) <= span && !self.taken(*at));
            let best = most(by_edge, reaches).or_else(|| {
                let inside = self.ground.interior().filter(|at| apart(*at, cut) <= span && !self.taken(*at));
                most(inside, reaches)
            });
            match best {
                Some(at) => {
                    self.add(at, Why::Span { cut });
                    far.retain(|c| apart(at, *c) > span);
                }
                None => {
                    self.found.troubles.push(Trouble::FarCut { cut, span });
                    // what lies around it is the same trouble
                    far.retain(|c| apart(*c, cut) > span);
                }
            }
        }
    }

    /// More along the edges, where the gaps are widest, until they hold; and one more under a bowed sheet.
    fn forces(&mut self) {
        let mut extra = usize::from(self.ask.bowed);
        while extra > 0 || !self.enough(self.found.places.len()) {
            let why = if self.enough(self.found.places.len()) { Why::Bow } else { Why::Force };
            let free = self.ground.edges().chain(self.ground.interior()).filter(|at| !self.taken(*at));
            let widest = free.fold(None, |best: Option<([f64; 2], f64)>, at| {
                let gap = self.nearest(at);
                if best.is_none_or(|(_, widest)| gap > widest + 1.0e-9) { Some((at, gap)) } else { best }
            });
            match widest.filter(|_| self.found.places.len() < MOST) {
                Some((at, _)) => self.add(at, why),
                None => {
                    if let Some(each) = self.ask.each {
                        let holds = each.times(self.found.places.len() as f64);
                        if !holds.enough(self.ask.need) {
                            let (holds, needs) = holds.weaker(self.ask.need);
                            self.found.troubles.push(Trouble::Weak { holds, needs });
                        }
                    }
                    return;
                }
            }
            extra = extra.saturating_sub(usize::from(why == Why::Bow));
        }
    }

    /// Takes out again what the later ones made needless.
    fn drop_idle(&mut self) {
        let cuts = self.ground.cuts(SAMPLE);
        let reached = |places: &[Placed], cut: [f64; 2]| places.iter().any(|p| apart(p.at, cut) <= self.ask.span);
        let (mut at, bow) = (0, usize::from(self.ask.bowed));
        while let Some(place) = self.found.places.get(at).copied() {
            let mut without = self.found.places.clone();
            without.remove(at);
            let idle = matches!(place.why, Why::Span { .. } | Why::Force)
                && self.enough(without.len().saturating_sub(bow))
                && cuts.iter().all(|cut| reached(&without, *cut) || !reached(&self.found.places, *cut));
            if idle {
                self.found.places = without;
            } else {
                at += 1;
            }
        }
    }

    fn enough(&self, count: usize) -> bool {
        self.ask.each.is_none_or(|each| each.times(count as f64).enough(self.ask.need))
    }

    fn nearest(&self, at: [f64; 2]) -> f64 {
        self.found.places.iter().map(|p| apart(p.at, at)).fold(f64::INFINITY, f64::min)
    }
}

/// The first of those that score about the highest.
fn most(places: impl Iterator<Item = [f64; 2]>, score: impl Fn([f64; 2]) -> usize) -> Option<[f64; 2]> {
    let scored: Vec<([f64; 2], usize)> = places.map(|at| (at, score(at))).collect();
    let highest = scored.iter().map(|(_, score)| *score).max()?;
    // a rounder place, which comes earlier, is worth a tenth
    scored.iter().find(|(_, score)| *score * 10 >= highest * 9).map(|(at, _)| *at)
}
