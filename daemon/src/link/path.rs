//! Where on the path the bit is: found from the reported place, between the last line known done and the last one
//! acknowledged, forward only.

use super::wire::Reached;
use chargehand_types::quantity::Point;
use std::collections::VecDeque;

/// A reported place may lie this far from the straight between two line ends and still be on it, in mm. Arcs are
/// told by their ends only, so a line whose place cannot be matched leaves the answer where it was.
const ON_PATH_MM: f64 = 0.05;

/// A line that was sent and may not be done.
#[derive(Debug, Clone, Copy)]
struct Under {
    line: u32,
    end: Point,
}

/// Lines acknowledged but not known done, and how far it all has come.
#[derive(Debug, Default)]
pub(in crate::link) struct Path {
    waiting: VecDeque<Under>,
    from: Option<Point>,
    reached: Reached,
}

impl Path {
    /// Starts at a place, if that is known.
    pub fn begin(at: Option<Point>) -> Self {
        Self { waiting: VecDeque::new(), from: at, reached: Reached::default() }
    }

    /// How far.
    pub const fn reached(&self) -> Reached {
        self.reached
    }

    /// A line was written.
    pub const fn sent(&mut self, line: u32) {
        self.reached.sent = Some(line);
    }

    /// A line was acknowledged. The planner holds at most `planner` motions: what was acknowledged before them is
    /// done.
    pub fn acknowledged(&mut self, line: u32, end: Point, planner: usize) {
        self.reached.acknowledged = Some(line);
        self.waiting.push_back(Under { line, end });
        while self.waiting.len() > planner.max(1) + 1 {
            self.done_one();
        }
        if self.reached.cutting.is_none() {
            self.reached.cutting = Some(line);
        }
    }

    fn done_one(&mut self) {
        if let Some(done) = self.waiting.pop_front() {
            self.from = Some(done.end);
            self.reached.done = Some(done.line);
            self.reached.lines_done += 1;
            self.reached.cutting = Some(self.waiting.front().map_or(done.line, |u| u.line));
        }
    }

    /// Everything acknowledged has run out.
    pub fn ran_out(&mut self) {
        while !self.waiting.is_empty() {
            self.done_one();
        }
    }

    /// The bit was reported here.
    pub fn seen_at(&mut self, at: Point) {
        let mut from = self.from;
        let mut nearest = None;
        for (i, under) in self.waiting.iter().enumerate() {
            if let Some(start) = from {
                let away = away(at, start, under.end);
                if away <= ON_PATH_MM && nearest.is_none_or(|(best, _)| away < best - 1.0e-6) {
                    nearest = Some((away, i));
                }
            }
            from = Some(under.end);
        }
        if let Some((_, i)) = nearest {
            for _ in 0..i {
                self.done_one();
            }
            self.reached.cutting = self.waiting.front().map(|u| u.line).or(self.reached.cutting);
        }
    }
}

/// The distance of a point from a straight piece, in mm.
fn away(p: Point, a: Point, b: Point) -> f64 {
    let v = |p: Point| [p.x.mm(), p.y.mm(), p.z.mm()];
    let (p, a, b) = (v(p), v(a), v(b));
    let ab: Vec<f64> = b.iter().zip(a).map(|(b, a)| b - a).collect();
    let ap: Vec<f64> = p.iter().zip(a).map(|(p, a)| p - a).collect();
    let square: f64 = ab.iter().map(|c| c * c).sum();
    let share =
        if square > 0.0 { (ab.iter().zip(&ap).map(|(x, y)| x * y).sum::<f64>() / square).clamp(0.0, 1.0) } else { 0.0 };
    ab.iter().zip(&ap).map(|(x, y)| (y - x * share).powi(2)).sum::<f64>().sqrt()
}
