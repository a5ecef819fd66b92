//! Where on the path the bit is: found from the reported place, between the last line known done and the last one
//! acknowledged, forward only.
//!
//! Told as done is only what certainly is: of several lines that pass the reported place the first is taken, and a
//! line counts as passed once two reports in a row say so, since a report may be damaged on the way.

use super::wire::Reached;
use crate::sending::Passage;
use chargehand_types::quantity::Point;
use std::collections::VecDeque;

/// A reported place may lie this far from the curve of a line and still be on it, in mm: corners are rounded by the
/// controller, and reports by their last digit.
const ON_PATH_MM: f64 = 0.05;

/// A line that was acknowledged and may not be done.
#[derive(Debug, Clone, Copy)]
struct Under {
    line: u32,
    passage: Passage,
}

/// Lines acknowledged but not known done, and how far it all has come.
#[derive(Debug, Clone, Default)]
pub(in crate::link) struct Path {
    waiting: VecDeque<Under>,
    /// Lines taken off the front so far.
    passed: u64,
    /// How many lines would have passed by the report before.
    seen: u64,
    reached: Reached,
}

impl Path {
    /// How far.
    pub const fn reached(&self) -> Reached {
        self.reached
    }

    /// A line was written.
    pub const fn sent(&mut self, line: u32) {
        self.reached.sent = Some(line);
    }

    /// A line was acknowledged. The planner holds at most `planner` motions, and one more is under way: what was
    /// acknowledged before them is done, but for one line, since one answer may have come twice.
    pub fn acknowledged(&mut self, line: u32, passage: Passage, planner: usize) {
        self.reached.acknowledged = Some(line);
        self.waiting.push_back(Under { line, passage });
        while self.waiting.len() > planner.max(1) + 2 {
            self.pass_one(None);
        }
        if self.reached.cutting.is_none() {
            self.reached.cutting = Some(line);
        }
    }

    fn pass_one(&mut self, to_come: Option<u32>) {
        if let Some(passed) = self.waiting.pop_front() {
            self.passed += 1;
            let next = self.waiting.front().map(|u| u.line);
            // a line that was written as several is done with the last of them
            if next.or(to_come) != Some(passed.line) {
                self.reached.done = Some(passed.line);
                self.reached.lines_done += 1;
            }
            self.reached.cutting = next.or(Some(passed.line));
        }
    }

    /// Everything acknowledged has run out; this source line is the next to be written.
    pub fn ran_out(&mut self, to_come: Option<u32>) {
        while !self.waiting.is_empty() {
            self.pass_one(to_come);
        }
    }

    /// The bit was reported here.
    pub fn seen_at(&mut self, at: Point) {
        let Some(passed) = self.passed_at(at) else { return };
        let sure = passed.min(self.seen);
        self.seen = passed;
        while self.passed < sure {
            self.pass_one(None);
        }
        self.reached.cutting = self.waiting.front().map(|u| u.line).or(self.reached.cutting);
    }

    /// How many lines have passed when the bit is here; none when no line is known to come by.
    fn passed_at(&self, at: Point) -> Option<u64> {
        let place = [at.x.mm(), at.y.mm(), at.z.mm()];
        for (under, passed) in self.waiting.iter().zip(self.passed..) {
            match under.passage {
                Passage::Still | Passage::Dwells(_) => {}
                Passage::One(way) if way.away(place) <= ON_PATH_MM => return Some(passed),
                Passage::One(_) => {}
                // where these go is not known, so nothing behind them can be told from them
                Passage::Several => return None,
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::motion::Start;
    use crate::sending::lines;
    use crate::shop::understands::Understands;
    use chargehand_types::quantity::Length;

    const PLANNER: usize = 16;

    fn path(text: &str) -> Path {
        let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
        let mut path = Path::default();
        for line in lines(text.as_bytes(), start, Understands::default(), Length::ZERO) {
            path.sent(line.source_line);
            path.acknowledged(line.source_line, line.passage, PLANNER);
        }
        path
    }

    fn seen(path: &mut Path, x: f64, y: f64) -> Reached {
        let at = Point::new(Length::from_mm(x).unwrap(), Length::from_mm(y).unwrap(), Length::ZERO);
        path.seen_at(at);
        path.reached()
    }

    #[test]
    fn two_reports_in_a_row_are_believed() {
        let mut p = path("G21G90F600\nG1X10\nX20\nX30\nX40\nM2\n");
        assert_eq!(seen(&mut p, 25.0, 0.0).done, None);
        assert_eq!(seen(&mut p, 26.0, 0.0).done, Some(3));
        // one digit damaged on the way
        assert_eq!(seen(&mut p, 36.0, 0.0).done, Some(3));
        assert_eq!(seen(&mut p, 27.0, 0.0).done, Some(3));
        assert_eq!(seen(&mut p, 28.0, 0.0).cutting, Some(4));
    }

    #[test]
    fn of_lines_that_pass_a_place_the_first_is_taken() {
        let mut p = path("G21G90F600\nG1X40\nX0\nX40\nX0\nM2\n");
        seen(&mut p, 20.0, 0.0);
        for _ in 0..5 {
            assert_eq!(seen(&mut p, 20.0, 0.0004).done, Some(1));
        }
    }

    #[test]
    fn an_arc_is_known_by_its_curve() {
        // a half circle of radius 10 about 10, 0, then straight through the place of its middle
        let mut p = path("G21G90F600\nG0X0Y0\nG2X20Y0I10J0\nG1X10Y10\nX10Y20\nM2\n");
        for _ in 0..3 {
            seen(&mut p, 10.0, 10.0);
        }
        assert_eq!(p.reached().cutting, Some(3));
        for _ in 0..3 {
            seen(&mut p, 15.0, 5.0);
        }
        assert_eq!(p.reached().cutting, Some(4));
    }

    #[test]
    fn an_answer_that_came_twice_tells_nothing_done() {
        // one waits in it and one is under way: that may be all it has taken, if one of three answers came twice
        let mut p = Path::default();
        for line in 1..=3 {
            p.acknowledged(line, Passage::Several, 1);
        }
        assert_eq!(p.reached().done, None);
        p.acknowledged(4, Passage::Several, 1);
        assert_eq!(p.reached().done, Some(1));
    }

    #[test]
    fn what_the_planner_cannot_hold_is_done() {
        let text: String = (1..=30).map(|x| format!("X{x}\n")).collect();
        let p = path(&format!("G21G90F600\nG1X0.5\n{text}"));
        // 33 lines are written (the modes first); 17 may wait
        assert!(p.reached().done >= Some(13), "{:?}", p.reached());
        assert!(p.reached().done <= Some(15), "{:?}", p.reached());
    }
}
