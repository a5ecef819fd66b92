//! Tests of the room as a whole.

mod cases;
mod errors;
mod rules;
mod samples;
mod splitting;

use super::motion::{Doing, Move, MoveKind, Start, Step};
use super::{Facts, Fault, steps};
use chargehand_types::quantity::{Length, Point};

/// A point in millimetres.
fn mm(x: f64, y: f64, z: f64) -> Point {
    Point::new(Length::from_mm(x).unwrap(), Length::from_mm(y).unwrap(), Length::from_mm(z).unwrap())
}

fn start_at(at: Point) -> Start {
    Start { at, work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

struct Reading {
    steps: Vec<Step>,
    faults: Vec<Fault>,
    facts: Facts,
    at: Point,
}

fn read_from(text: &str, start: Start) -> Reading {
    let mut reading = steps(text.as_bytes(), start);
    let steps = reading.by_ref().collect();
    Reading { steps, faults: reading.faults().to_vec(), facts: reading.facts().clone(), at: reading.at() }
}

impl Reading {
    fn moves(&self) -> Vec<Move> {
        let of = |step: &Step| {
            if let Doing::Move(m) = step.doing { Some(m) } else { None }
        };
        self.steps.iter().filter_map(of).collect()
    }
}

fn length(m: &Move) -> f64 {
    match m.kind {
        MoveKind::Arc(arc) => {
            let depth = arc.plane.axes()[2];
            let dz = (depth.of(&m.to) - depth.of(&m.from)).mm();
            (arc.radius * arc.sweep.abs()).hypot(dz)
        }
        _ => m.from.distance(m.to),
    }
}

/// The box of a motion, arcs exact: ends and every quadrant point inside the sweep.
fn extents(m: &Move) -> ([f64; 3], [f64; 3]) {
    let list = |p: Point| [p.x.mm(), p.y.mm(), p.z.mm()];
    let (a, b) = (list(m.from), list(m.to));
    let mut least: [f64; 3] = std::array::from_fn(|n| a[n].min(b[n]));
    let mut most: [f64; 3] = std::array::from_fn(|n| a[n].max(b[n]));
    if let MoveKind::Arc(arc) = m.kind {
        let [u, v, _] = arc.plane.axes();
        let (iu, iv) = (u as usize, v as usize);
        let first = (a[iv] - arc.centre[1]).atan2(a[iu] - arc.centre[0]);
        for quarter in -8..=8 {
            let angle = f64::from(quarter) * std::f64::consts::FRAC_PI_2;
            let along = (angle - first) / arc.sweep;
            if (0.0..=1.0).contains(&along) {
                for (axis, value) in
                    [(iu, arc.centre[0] + arc.radius * angle.cos()), (iv, arc.centre[1] + arc.radius * angle.sin())]
                {
                    least[axis] = least[axis].min(value);
                    most[axis] = most[axis].max(value);
                }
            }
        }
    }
    (least, most)
}
