//! What an operation comes to: moves, metres, extents.
//!
//! May live here: sums over moves. May not: judging any of them.

use super::reach::Reach;
use crate::program::motion::{Move, MoveKind};
use crate::program::way::Way;
use std::collections::BTreeMap;

/// The sums of one operation so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    pub(super) moves: u64,
    /// Feed motion below the face, in mm.
    pub(super) cut: f64,
    /// Of it, by the key of the bit that was in.
    pub(super) by_bit: BTreeMap<String, f64>,
    /// Rapid motion, in mm.
    pub(super) rapid: f64,
    /// All motion.
    pub(super) all: Reach,
    /// Feed motion.
    pub(super) feed: Reach,
    /// Feed motion below the face.
    pub(super) below: Reach,
    named: u8,
}

impl Tally {
    /// Counts a move; gives back how much of it, in mm, is a cut below the face.
    pub(super) fn count(&mut self, mv: &Move, way: &Way, face: f64) -> f64 {
        self.moves += 1;
        self.extend(mv, way);
        match mv.kind {
            MoveKind::Rapid => {
                self.rapid += way.length();
                0.0
            }
            MoveKind::Probe => 0.0,
            MoveKind::Feed | MoveKind::Arc(_) => {
                self.feed.take_all(&way.bounds());
                let (mut share, below) = (0.0, &mut self.below);
                way.below(face, |t0, t1| {
                    share += t1 - t0;
                    below.take_all(&way.bounds_of(t0, t1));
                });
                let cut = if share > 0.0 { share * way.length() } else { 0.0 };
                self.cut += cut;
                cut
            }
        }
    }

    /// Books a cut to the bit that made it.
    pub(super) fn wear(&mut self, bit: &str, cut: f64) {
        if let Some(sum) = self.by_bit.get_mut(bit) {
            *sum += cut;
        } else {
            self.by_bit.insert(bit.to_owned(), cut);
        }
    }

    /// An axis counts from the move that first names it; of that move only where it leads.
    fn extend(&mut self, mv: &Move, way: &Way) {
        let bounds = way.bounds();
        let end = way.end();
        for (axis, (range, to)) in bounds.iter().zip(end).enumerate() {
            let bit = 1_u8 << axis;
            if self.named & bit != 0 {
                self.all.take(axis, *range);
            } else if mv.named & bit != 0 {
                self.all.take(axis, [to, to]);
            }
        }
        self.named |= mv.named;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::motion::Pace;
    use chargehand_types::quantity::{Length, Point};

    fn point(x: f64, y: f64, z: f64) -> Point {
        let l = |v| Length::from_mm(v).unwrap();
        Point::new(l(x), l(y), l(z))
    }

    fn count(tally: &mut Tally, kind: MoveKind, from: Point, to: Point, named: u8) -> f64 {
        let mv = Move { kind, from, to, pace: Pace::Rapid, named, of_cycle: false };
        tally.count(&mv, &Way::of(&mv), 0.0)
    }

    #[test]
    fn axes_count_once_named() {
        let mut t = Tally::default();
        let start = point(0.0, 0.0, 60.0);
        count(&mut t, MoveKind::Rapid, start, point(50.0, 20.0, 60.0), 0b011);
        assert_eq!(t.all.along(0), Some([50.0, 50.0]));
        assert_eq!(t.all.along(2), None);
        count(&mut t, MoveKind::Rapid, point(50.0, 20.0, 60.0), point(50.0, 20.0, 5.0), 0b111);
        assert_eq!(t.all.along(2), Some([5.0, 5.0]));
        count(&mut t, MoveKind::Rapid, point(50.0, 20.0, 5.0), point(0.0, 20.0, 5.0), 0b111);
        assert_eq!(t.all.along(0), Some([0.0, 50.0]));
        assert!((t.rapid - (2900.0_f64.sqrt() + 55.0 + 50.0)).abs() < 1.0e-9);
    }

    #[test]
    fn only_what_is_below_is_cut() {
        let mut t = Tally::default();
        let cut = count(&mut t, MoveKind::Feed, point(0.0, 0.0, 1.0), point(8.0, 0.0, -5.0), 7);
        assert!((cut - 10.0 * 5.0 / 6.0).abs() < 1.0e-9);
        assert_eq!(count(&mut t, MoveKind::Rapid, point(8.0, 0.0, -5.0), point(8.0, 0.0, 1.0), 7), 0.0);
        assert_eq!(t.below.along(2), Some([-5.0, 0.0]));
        assert_eq!(t.moves, 2);
    }
}
