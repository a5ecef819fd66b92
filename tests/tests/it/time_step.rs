//! Times by a second method: the machine followed in steps of 25 microseconds, looking ahead at every one of them.
//!
//! Written apart from the product's clock: chords instead of arcs, no passes over joints, no trapezoids. What is
//! shared is the reader and the formula for a corner (a circle that misses it by the deviation).

use chargehand_daemon::program::motion::{Doing, Move, MoveKind, Pace, Plane, Start};
use chargehand_daemon::program::steps;
use chargehand_daemon::timing::{Clockwork, Limits};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point};

type V = [f64; 3];

/// Seconds of one step.
const STEP: f64 = 25.0e-6;
/// How far a chord runs off its arc, in mm, as controllers cut them.
const OFF: f64 = 0.002;
/// Corner deviation in mm.
const DEVIATION: f64 = 0.02;
const RATE: V = [8000.0 / 60.0, 8000.0 / 60.0, 50.0];
const ACCELERATION: V = [400.0, 400.0, 200.0];
/// The two may differ by this share.
const SHARE: f64 = 0.005;

#[derive(Debug, Clone, Copy)]
struct Chord {
    length: f64,
    unit: V,
    fastest: f64,
    acceleration: f64,
    /// Speed its beginning may be passed with.
    entry: f64,
}

fn least(limits: V, unit: V) -> f64 {
    limits
        .iter()
        .zip(unit)
        .map(|(l, u)| if u == 0.0 { f64::INFINITY } else { l / u.abs() })
        .fold(f64::INFINITY, f64::min)
}

fn corner(u: V, w: V) -> f64 {
    let dot: f64 = u.iter().zip(w).map(|(a, b)| a * b).sum();
    let s = ((1.0 + dot) / 2.0).clamp(0.0, 1.0).sqrt();
    let change = [w[0] - u[0], w[1] - u[1], w[2] - u[2]];
    let size = change.iter().map(|c| c * c).sum::<f64>().sqrt();
    if 1.0 - s < 1.0e-15 || size == 0.0 {
        return f64::INFINITY;
    }
    (least(ACCELERATION, change.map(|c| c / size)) * DEVIATION * s / (1.0 - s)).sqrt()
}

fn mm(p: Point) -> V {
    [p.x.mm(), p.y.mm(), p.z.mm()]
}

/// Corner points of a move, its start left out.
fn points(mv: &Move) -> Vec<V> {
    let MoveKind::Arc(arc) = mv.kind else { return vec![mm(mv.to)] };
    let [a, b, c] = match arc.plane {
        Plane::Xy => [0, 1, 2],
        Plane::Zx => [2, 0, 1],
        Plane::Yz => [1, 2, 0],
    };
    let (from, to) = (mm(mv.from), mm(mv.to));
    let start = (from[b] - arc.centre[1]).atan2(from[a] - arc.centre[0]);
    let count = (arc.sweep.abs() / (2.0 * (1.0 - OFF / arc.radius).acos())).ceil();
    let mut all = Vec::new();
    let mut k = 1.0;
    while k < count {
        let angle = start + arc.sweep * k / count;
        let mut p = [0.0; 3];
        p[a] = arc.centre[0] + arc.radius * angle.cos();
        p[b] = arc.centre[1] + arc.radius * angle.sin();
        p[c] = from[c] + (to[c] - from[c]) * k / count;
        all.push(p);
        k += 1.0;
    }
    all.push(to);
    all
}

/// Runs of chords between stops, and the seconds dwelt.
fn runs(program: &[u8]) -> (Vec<Vec<Chord>>, f64) {
    let start = Start {
        at: Point::new(Length::ZERO, Length::ZERO, Length::whole_mm(60)),
        work_zero: Point::new(Length::whole_mm(10), Length::whole_mm(10), Length::whole_mm(-60)),
        arc_tolerance: Length(13_000),
    };
    let (mut runs, mut dwelt) = (vec![Vec::new()], 0.0);
    for step in steps(program, start) {
        match step.doing {
            Doing::Move(mv) => add(runs.last_mut().unwrap(), &mv),
            Doing::Dwell { seconds } => {
                dwelt += seconds;
                runs.push(Vec::new());
            }
            Doing::Coolant | Doing::Message(_) => {}
            _ => runs.push(Vec::new()),
        }
    }
    (runs, dwelt)
}

fn add(run: &mut Vec<Chord>, mv: &Move) {
    let asked = match mv.pace {
        Pace::Feed(feed) => feed.unit() / 60.0,
        _ => f64::INFINITY,
    };
    let mut from = mm(mv.from);
    for to in points(mv) {
        let way = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
        let length = way.iter().map(|c| c * c).sum::<f64>().sqrt();
        if length > 0.0 {
            let unit = way.map(|c| c / length);
            let fastest = least(RATE, unit).min(asked);
            let entry = run.last().map_or(0.0, |last| corner(last.unit, unit).min(last.fastest));
            run.push(Chord {
                length,
                unit,
                fastest,
                acceleration: least(ACCELERATION, unit),
                entry: entry.min(fastest),
            });
        }
        from = to;
    }
}

/// The most speed from which everything ahead can still be met.
fn braked(run: &[Chord], at: usize, left: f64, speed: f64) -> f64 {
    let mut gained = 2.0 * run[at].acceleration * left;
    let mut most = f64::INFINITY;
    for next in &run[at + 1..] {
        most = most.min(next.entry * next.entry + gained);
        gained += 2.0 * next.acceleration * next.length;
        if gained > speed * speed {
            return most.sqrt();
        }
    }
    most.min(gained).sqrt()
}

fn follow(run: &[Chord]) -> f64 {
    let (mut at, mut left, mut speed, mut seconds) = (0, run.first().map_or(0.0, |c| c.length), 0.0_f64, 0.0);
    while at < run.len() {
        let faster = (speed + run[at].acceleration * STEP).min(run[at].fastest);
        let ahead = (left - faster * STEP).max(0.0);
        // never quite still: the last hundredth of a micrometre is crept
        speed = faster.min(braked(run, at, ahead, faster)).max(run[at].acceleration * STEP / 2.0);
        let mut way = speed * STEP;
        seconds += STEP;
        while way >= left {
            way -= left;
            at += 1;
            let Some(next) = run.get(at) else { return seconds };
            left = next.length;
        }
        left -= way;
    }
    seconds
}

fn clock(program: &[u8]) -> f64 {
    let limits = Limits {
        max_rate: [8000.0, 8000.0, 3000.0].map(|f| Feed::from_unit(f).unwrap()),
        acceleration: ACCELERATION.map(Acceleration::of),
        corner_deviation: Length::from_mm(DEVIATION).unwrap(),
    };
    let start = Start {
        at: Point::new(Length::ZERO, Length::ZERO, Length::whole_mm(60)),
        work_zero: Point::new(Length::whole_mm(10), Length::whole_mm(10), Length::whole_mm(-60)),
        arc_tolerance: Length(13_000),
    };
    let mut clock = Clockwork::new(&limits);
    for step in steps(program, start) {
        clock.push(&step, &mut |_| {});
    }
    clock.finish(&mut |_| {});
    clock.total().value()
}

fn compare(name: &str, program: &[u8]) {
    let (runs, dwelt) = runs(program);
    let followed: f64 = runs.iter().map(|run| follow(run)).sum::<f64>() + dwelt;
    let clock = clock(program);
    println!("{name:32} clock {clock:9.3} s, followed {followed:9.3} s, {:+.4} %", (clock / followed - 1.0) * 100.0);
    assert!((clock / followed - 1.0).abs() < SHARE, "{name}: {clock} s against {followed} s");
}

#[test]
fn clock_agrees_with_small_steps() {
    compare("straights and corners", include_bytes!("../../cases/frame-units/frame-units-all-in-one.nc"));
    compare(
        "rounded corners, tabs",
        include_bytes!("../../cases/trellis-slats-reach/trellis-slats-reach-parked-wide.nc"),
    );
    compare("holes by cycles", include_bytes!("../../cases/folding-shelf/folding-shelf-holes.nc"));
    compare("upright arcs", include_bytes!("../../cases/label-stakes/label-stakes-scoops.nc"));
    compare("circles in curls", b"G21 G90 G17 S1 M3\nG0 X50 Y50 Z5\nG1 Z-1 F600\nG2 X50 Y50 I6 Z-3 F5000\nG2 X50 Y50 I1\nG3 X50 Y50 I0.3\nG4 P0.5\nG1 X50.4\nX50.8 Y50.1\nX51.2 Y50.3\nG0 Z5\nM2\n");
}
