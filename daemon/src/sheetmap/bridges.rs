//! Tabs as high as the sheet: where a cut through is left off, the bit lifted out, and the cut taken up again a little
//! farther on in the same line.
//!
//! May live here: finding those. May not: tabs that the bit goes over inside the sheet (see `tabs`).

use super::grid::NEVER;
use super::job::{Job, Stroke};
use super::sweep::Swept;
use super::tabs::{TOUCH, Tab};

/// A wider one is no tab but the sheet, mm (tabs are a few to 25 mm wide: common practice, no source).
const WIDEST: f64 = 25.0;
/// The way over it leaves the cut by no more than this, degrees: a corner is crossed at 45.
const ASIDE: f64 = 50.0;
/// Chords of arcs run no farther off than this, mm.
const CHORD: f64 = 0.02;
/// Two tabs whose middles lie this near are one, mm.
const SAME: f64 = 1.0;
/// Ends looked at: many more are drilled holes or a sieve, and every pair of them is a question.
const ENDS: usize = 20_000;

/// One end of a cut through the sheet: where, and which way the wood lies.
#[derive(Debug, Clone, Copy)]
struct End {
    at: [f64; 2],
    /// Unit vector along the cut, away from it.
    ahead: [f64; 2],
    operation: u16,
    cutter: u16,
    stroke: u32,
}

/// A cut through, from where the tip went below the underside to where it came up again.
#[derive(Debug, Clone, Default)]
struct Cut {
    points: Vec<[f64; 2]>,
    first: u32,
    last: u32,
    operation: u16,
    cutter: u16,
}

/// Bridges that stand at the end, beside the tabs known already.
pub(super) fn bridges(job: &Job, swept: &Swept, known: &[Tab]) -> Vec<Tab> {
    let ends = ends(job, swept);
    let mut order: Vec<usize> = (0..ends.len()).collect();
    let x = |at: &usize| ends.get(*at).map_or(0.0, |e| e.at[0]);
    order.sort_by(|a, b| x(a).total_cmp(&x(b)));
    let mut found: Vec<Tab> = Vec::new();
    for (place, one) in order.iter().enumerate() {
        let Some(one) = ends.get(*one) else { continue };
        let diameter = 2.0 * radius(job, one.cutter);
        let near = order.iter().skip(place + 1).filter_map(|at| ends.get(*at));
        for other in near.take_while(|other| other.at[0] - one.at[0] <= WIDEST + diameter) {
            let Some(tab) = between(job, swept, one, other) else { continue };
            let told = |t: &Tab| apart(t.at, tab.at) < SAME;
            if !known.iter().any(told) && !found.iter().any(told) {
                found.push(tab);
            }
        }
    }
    found.sort_by_key(|tab| tab.stroke);
    found
}

fn radius(job: &Job, cutter: u16) -> f64 {
    job.cutters.get(usize::from(cutter)).map_or(0.0, super::cutter::Cutter::radius)
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The bridge from one end to the other, where there is one: short, in line, and of whole wood all along.
fn between(job: &Job, swept: &Swept, one: &End, other: &End) -> Option<Tab> {
    if (one.operation, one.cutter) != (other.operation, other.cutter) {
        return None;
    }
    let radius = radius(job, one.cutter);
    let long = apart(one.at, other.at);
    let width = long - 2.0 * radius;
    if width <= 0.0 || width > WIDEST {
        return None;
    }
    let way = [(other.at[0] - one.at[0]) / long, (other.at[1] - one.at[1]) / long];
    let along = |end: &End, sign: f64| sign * (way[0] * end.ahead[0] + way[1] * end.ahead[1]);
    let least = ASIDE.to_radians().cos();
    if along(one, 1.0) < least || along(other, -1.0) < least {
        return None;
    }
    let cell = swept.grid.cell;
    let steps = ((width - 2.0 * cell) / cell).floor().max(0.0) as u32;
    let whole = (0..=steps).all(|step| {
        let from_one = radius + cell + f64::from(step) * cell;
        is_wood(swept, [one.at[0] + way[0] * from_one, one.at[1] + way[1] * from_one])
    });
    whole.then(|| Tab {
        at: [(one.at[0] + other.at[0]) / 2.0, (one.at[1] + other.at[1]) / 2.0],
        width,
        width_top: width,
        height: job.thickness,
        section: width * job.thickness,
        ramped: false,
        stroke: one.stroke.max(other.stroke),
        swept: vec![[one.at, other.at]],
        radius,
    })
}

/// On the sheet, and never cut through.
fn is_wood(swept: &Swept, at: [f64; 2]) -> bool {
    swept.grid.cell_of(at[0], at[1]).is_some_and(|(column, row)| swept.first(column, row) == NEVER)
}

/// Both ends of every cut longer than the bit is wide, as far as they lie before wood and not in a cut that closes.
fn ends(job: &Job, swept: &Swept) -> Vec<End> {
    let mut all = Vec::new();
    for cut in cuts(job) {
        let radius = radius(job, cut.cutter);
        let length: f64 = cut.points.windows(2).map(|p| if let [a, b] = p { apart(*a, *b) } else { 0.0 }).sum();
        if length < 2.0 * radius || all.len() >= ENDS {
            continue;
        }
        let back: Vec<[f64; 2]> = cut.points.iter().rev().copied().collect();
        for (points, stroke) in [(&cut.points, cut.last), (&back, cut.first)] {
            let Some((at, ahead)) = leaves(points, radius) else { continue };
            let before = radius + 1.5 * swept.grid.cell;
            if !meets_itself(points, radius) && is_wood(swept, [at[0] + ahead[0] * before, at[1] + ahead[1] * before]) {
                all.push(End { at, ahead, operation: cut.operation, cutter: cut.cutter, stroke });
            }
        }
    }
    all
}

/// Whether a line of points ends in its own cut from before.
fn meets_itself(points: &[[f64; 2]], radius: f64) -> bool {
    let Some(at) = points.last() else { return false };
    let mut way = 0.0;
    points.windows(2).rev().any(|pair| {
        let [a, b] = pair else { return false };
        let near = way > 4.0 * radius && to_segment(*at, *a, *b) < radius;
        way += apart(*a, *b);
        near || (way > 4.0 * radius && apart(*at, *a) < radius)
    })
}

/// From a place to the nearest of a segment.
fn to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let long = dx * dx + dy * dy;
    let share = if long > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / long).clamp(0.0, 1.0) } else { 0.0 };
    apart(p, [a[0] + share * dx, a[1] + share * dy])
}

/// Where a line of points ends and which way it was going over its last half diameter.
fn leaves(points: &[[f64; 2]], radius: f64) -> Option<([f64; 2], [f64; 2])> {
    let at = *points.last()?;
    let from = points.iter().rev().find(|p| apart(**p, at) >= radius)?;
    let long = apart(*from, at);
    Some((at, [(at[0] - from[0]) / long, (at[1] - from[1]) / long]))
}

/// Every cut through, in the order they are made.
fn cuts(job: &Job) -> Vec<Cut> {
    let level = job.bottom() + TOUCH;
    let mut all: Vec<Cut> = Vec::new();
    let mut open = false;
    for (number, stroke) in (0_u32..).zip(&job.strokes) {
        let before = all.last().map(|cut| (cut.operation, cut.cutter));
        open &= !stroke.rapid && before == Some((stroke.operation, stroke.cutter));
        if stroke.rapid || stroke.way.lowest() >= level {
            open = false;
            continue;
        }
        let mut spans = Vec::new();
        stroke.way.below(level, |from, to| spans.push((from, to)));
        for (from, to) in spans {
            if !open || from > 0.0 {
                all.push(Cut { first: number, operation: stroke.operation, cutter: stroke.cutter, ..Cut::default() });
            }
            if let Some(cut) = all.last_mut() {
                cut.take(number, stroke, from, to);
            }
            open = to >= 1.0;
        }
    }
    all
}

impl Cut {
    fn take(&mut self, number: u32, stroke: &Stroke, from: f64, to: f64) {
        self.last = number;
        stroke.way.chords(from, to, CHORD, |t| {
            let [x, y, _] = stroke.way.at(t);
            if self.points.last() != Some(&[x, y]) {
                self.points.push([x, y]);
            }
        });
    }
}
