//! Tabs, read from the moves: where a cut that goes through is lifted for a stretch and goes on below.
//!
//! May live here: finding tabs and their size. May not: which piece they hold.

use super::job::{Job, Stroke};

/// The tip this little above the underside is still through, mm: a program that ends on the underside cuts through.
pub(super) const TOUCH: f64 = 5.0e-4;
/// Heights no farther apart are one, mm.
const LEVEL: f64 = 0.01;
/// Two tabs whose middles lie this near are one, cut twice, mm.
const SAME: f64 = 1.0;

/// A stretch of a cut left standing.
#[derive(Debug, Clone, PartialEq)]
pub struct Tab {
    /// Bit centre at the middle of it, X and Y, mm.
    pub(crate) at: [f64; 2],
    /// Along the cut at the underside, between the round ends of the cut, mm.
    pub(crate) width: f64,
    /// Along the cut at its top, mm.
    pub(crate) width_top: f64,
    /// Above the underside, mm.
    pub(crate) height: f64,
    /// Upright section along the cut, mm2.
    pub(crate) section: f64,
    /// Whether the bit went up and down in ramps.
    pub(crate) ramped: bool,
    /// The stroke at its middle.
    pub(crate) stroke: u32,
    /// What the bit swept over it: places (X, Y) with the bit's radius.
    pub(super) swept: Vec<[[f64; 2]; 2]>,
    /// mm.
    pub(super) radius: f64,
}

impl Tab {
    /// No higher than what is left of it: a pass over it that was not lifted took its top away.
    pub(super) fn lowered_to(&mut self, height: f64) {
        if height > self.height - LEVEL || self.height <= 0.0 {
            return;
        }
        let share = (height / self.height).max(0.0);
        self.width_top = self.width - (self.width - self.width_top) * share;
        self.height = height.max(0.0);
        self.section = (self.width + self.width_top) / 2.0 * self.height;
    }
}

/// A part of a stroke above the underside.
#[derive(Debug, Clone, Copy)]
struct Part {
    stroke: u32,
    from: f64,
    to: f64,
}

/// Every tab that the moves of a job leave, whether or not a later cut takes it away.
pub(super) fn tabs(job: &Job) -> Vec<Tab> {
    let mut walk = Walk { job, level: job.bottom() + TOUCH, through: false, parts: Vec::new(), found: Vec::new() };
    let mut before: Option<&Stroke> = None;
    for (number, stroke) in job.strokes.iter().enumerate() {
        let goes_on = before.is_some_and(|b| b.operation == stroke.operation && b.cutter == stroke.cutter);
        if stroke.rapid || !goes_on {
            walk.lifted();
        }
        if !stroke.rapid {
            walk.take(u32::try_from(number).unwrap_or(u32::MAX), stroke);
        }
        before = Some(stroke);
    }
    walk.found
}

/// Along the moves, lift by lift.
struct Walk<'a> {
    job: &'a Job,
    /// Below this the tip is through.
    level: f64,
    /// Since the bit came down it has been through.
    through: bool,
    /// What followed since, above the underside.
    parts: Vec<Part>,
    found: Vec<Tab>,
}

impl Walk<'_> {
    /// The bit left the cut: what came before is no tab's beginning.
    fn lifted(&mut self) {
        self.through = false;
        self.parts.clear();
    }

    fn take(&mut self, number: u32, stroke: &Stroke) {
        let mut done = 0.0;
        let mut spans = Vec::new();
        if stroke.way.lowest() < self.level {
            stroke.way.below(self.level, |a, b| spans.push((a, b)));
        }
        for (from, to) in spans {
            self.above(Part { stroke: number, from: done, to: from });
            self.through_again();
            done = to;
        }
        self.above(Part { stroke: number, from: done, to: 1.0 });
    }

    fn above(&mut self, part: Part) {
        if self.through && part.to > part.from {
            self.parts.push(part);
        }
    }

    fn through_again(&mut self) {
        let parts = std::mem::take(&mut self.parts);
        if let Some(tab) = measured(self.job, &parts) {
            if let Some(same) = self.found.iter_mut().find(|t| apart(t.at, tab.at) < SAME) {
                if tab.height < same.height {
                    *same = tab;
                }
            } else {
                self.found.push(tab);
            }
        }
        self.through = true;
    }
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The tab that a lift leaves; none where the bit came out of the sheet or the round ends of the cut meet.
///
/// The bit's lowest edge over a place is the least height of the way within one radius of it, so a level top loses
/// one diameter, and a top shorter than that is lowered along its ramps.
fn measured(job: &Job, parts: &[Part]) -> Option<Tab> {
    let first = job.strokes.get(parts.first()?.stroke as usize)?;
    let radius = job.cutters.get(usize::from(first.cutter))?.radius();
    let (mut length, mut area, mut top) = (0.0_f64, 0.0_f64, f64::NEG_INFINITY);
    let mut pieces: Vec<(u32, [f64; 3], [f64; 3])> = Vec::new();
    for part in parts {
        let way = job.strokes.get(part.stroke as usize)?.way;
        let mut before: Option<[f64; 3]> = None;
        way.chords(part.from, part.to, LEVEL, |t| {
            let here = way.at(t);
            if let Some(b) = before.replace(here) {
                pieces.push((part.stroke, b, here));
            }
        });
    }
    let bottom = job.bottom();
    for (_, a, b) in &pieces {
        let run = (b[0] - a[0]).hypot(b[1] - a[1]);
        length += run;
        area += run * ((a[2] + b[2]) / 2.0 - bottom);
        top = top.max(a[2]).max(b[2]);
    }
    let (height, diameter) = (top - bottom, 2.0 * radius);
    let width = length - diameter;
    if width <= 0.0 || top >= job.face {
        return None;
    }
    let level_run = |(_, a, b): &(u32, [f64; 3], [f64; 3])| {
        let level = a[2].min(b[2]) >= top - LEVEL;
        if level { (b[0] - a[0]).hypot(b[1] - a[1]) } else { 0.0 }
    };
    let flat: f64 = pieces.iter().map(level_run).sum();
    let (height, width_top, section) = if flat >= diameter {
        (height, flat - diameter, area - diameter * height)
    } else {
        let height = height * width / (length - flat).max(width);
        (height, 0.0, width * height / 2.0)
    };
    let (stroke, at) = middle(&pieces, length)?;
    Some(Tab {
        at,
        width,
        width_top,
        height,
        section,
        ramped: length - flat > LEVEL,
        stroke,
        swept: pieces.iter().map(|(_, a, b)| [[a[0], a[1]], [b[0], b[1]]]).collect(),
        radius,
    })
}

/// The place half way along, and the stroke it lies on.
fn middle(pieces: &[(u32, [f64; 3], [f64; 3])], length: f64) -> Option<(u32, [f64; 2])> {
    let mut left = length / 2.0;
    for (stroke, a, b) in pieces {
        let run = (b[0] - a[0]).hypot(b[1] - a[1]);
        if run >= left && run > 0.0 {
            let share = left / run;
            return Some((*stroke, [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]));
        }
        left -= run;
    }
    None
}
