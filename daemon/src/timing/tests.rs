//! Steps through the whole clockwork.

use super::*;
use crate::program::motion::{Arc, Doing, Modal, Move, MoveKind, Pace, Place, Plane, Step};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point, Seconds};

fn limits() -> Limits {
    Limits {
        max_rate: [8000.0, 8000.0, 3000.0].map(|f| Feed::from_unit(f).unwrap()),
        acceleration: [400.0, 400.0, 200.0].map(Acceleration::of),
        corner_deviation: Length::from_mm(0.02).unwrap(),
    }
}

fn point(x: f64, y: f64, z: f64) -> Point {
    let l = |v| Length::from_mm(v).unwrap();
    Point::new(l(x), l(y), l(z))
}

fn step(line: u32, doing: Doing) -> Step {
    Step { place: Place { line, column: 1 }, doing, modal: Modal::default() }
}

fn feed(line: u32, kind: MoveKind, from: Point, to: Point, f: f64) -> Step {
    let pace = Pace::Feed(Feed::from_unit(f).unwrap());
    step(line, Doing::Move(Move { kind, from, to, pace, named: 7, of_cycle: false }))
}

fn rapid(line: u32, from: Point, to: Point) -> Step {
    let (kind, pace) = (MoveKind::Rapid, Pace::Rapid);
    step(line, Doing::Move(Move { kind, from, to, pace, named: 7, of_cycle: false }))
}

fn run(clockwork: Clockwork, steps: &[Step]) -> Vec<Timed> {
    let (mut clockwork, mut out) = (clockwork, Vec::new());
    for s in steps {
        clockwork.push(s, &mut |t| out.push(t));
    }
    clockwork.finish(&mut |t| out.push(t));
    let sum: f64 = out.iter().map(|t| t.seconds.value()).sum();
    assert!((sum - clockwork.total().value()).abs() < 1.0e-9);
    out
}

fn total(steps: &[Step]) -> f64 {
    run(Clockwork::new(&limits()), steps).iter().map(|t| t.seconds.value()).sum()
}

fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= expected.abs() * share, "{found} is not {expected}");
}

/// The path of trade-facts 2.5 (a = 400, delta = 0.02, F3000) but for its diagonal, which the axes allow more there.
fn square_path(exact: bool) -> Vec<Step> {
    let arc = Arc { plane: Plane::Xy, centre: [56.0, 46.0], radius: 4.0, sweep: std::f64::consts::FRAC_PI_2 };
    let mut steps = vec![
        feed(1, MoveKind::Feed, point(0.0, 0.0, 0.0), point(60.0, 0.0, 0.0), 3000.0),
        feed(2, MoveKind::Feed, point(60.0, 0.0, 0.0), point(60.0, 46.0, 0.0), 3000.0),
        feed(3, MoveKind::Arc(arc), point(60.0, 46.0, 0.0), point(56.0, 50.0, 0.0), 3000.0),
        feed(4, MoveKind::Feed, point(56.0, 50.0, 0.0), point(20.0, 50.0, 0.0), 3000.0),
    ];
    for s in &mut steps {
        s.modal.exact = exact;
    }
    steps
}

#[test]
fn moves_come_in_order() {
    let times = run(Clockwork::new(&limits()), &square_path(false));
    assert_eq!(times.iter().map(|t| t.line).collect::<Vec<_>>(), [1, 2, 3, 4]);
}

#[test]
fn worked_example_is_met() {
    // trade-facts 2.5, segments 1 to 3 of 7: the corner's change of direction lies at 45 degrees, where both axes
    // together allow 400 * sqrt(2), so the limit of 2.2 is 4.3947 * 2^(1/4); the example has one acceleration for all
    let mut l = limits();
    l.corner_deviation = Length::from_mm(0.02 / std::f64::consts::SQRT_2).unwrap();
    let times = run(Clockwork::new(&l).running_arcs(Arcs::Curved), &square_path(false));
    near(times[0].seconds.value(), 1.3145, 1.0e-3);
    // the arc's ends lie along the axes, where it may turn no faster than sqrt(a r) = 40 mm/s
    near(times[1].seconds.value(), 0.9745, 2.0e-3);
    assert!(times[2].seconds.value() <= 0.15708 * 1.001 && times[2].seconds.value() > 0.13);
}

#[test]
fn exact_stop_stops_everywhere() {
    // rest to rest, trade-facts 2.1: d/v + v/a where d >= v^2/a
    let times = run(Clockwork::new(&limits()).running_arcs(Arcs::Curved), &square_path(true));
    near(times[0].seconds.value(), 60.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
    near(times[1].seconds.value(), 46.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
    near(times[3].seconds.value(), 36.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
}

#[test]
fn rapids_keep_each_axis_within() {
    // Z at 3000 mm/min and 200 mm/s2 from rest to rest
    let up = rapid(1, point(0.0, 0.0, 0.0), point(0.0, 0.0, 60.0));
    near(total(&[up]), 60.0 / 50.0 + 50.0 / 200.0, 1.0e-9);
    // along (3, 4): Y is the slower, 8000/60/0.8 mm/s and 400/0.8 mm/s2
    let (v, a) = (8000.0 / 60.0 / 0.8, 500.0);
    near(total(&[rapid(1, point(0.0, 0.0, 0.0), point(300.0, 400.0, 0.0))]), 500.0 / v + v / a, 1.0e-9);
}

#[test]
fn dwell_and_spindle_stop_motion() {
    let (a, b, c) = (point(0.0, 0.0, 0.0), point(100.0, 0.0, 0.0), point(200.0, 0.0, 0.0));
    let through = [feed(1, MoveKind::Feed, a, b, 3000.0), feed(3, MoveKind::Feed, b, c, 3000.0)];
    near(total(&through), 200.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
    let [first, second] = through;
    let half = 100.0 / 50.0 + 50.0 / 400.0;
    for (doing, more) in [
        (Doing::Dwell { seconds: 2.5 }, 2.5),
        (Doing::Spindle, 0.0),
        (Doing::Prompt { optional: false, text: None }, 0.0),
        (Doing::BitChange { tool: Some(1) }, 0.0),
    ] {
        near(total(&[first.clone(), step(2, doing), second.clone()]), 2.0 * half + more, 1.0e-9);
    }
    let told = [first, step(2, Doing::Message("cutting".into())), second];
    near(total(&told), 200.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
}

#[test]
fn inverse_time_bounds_the_move() {
    // 400 mm within 20 s is 20 mm/s; NISTIR 6556 3.5.19
    let mut s = feed(1, MoveKind::Feed, point(0.0, 0.0, 0.0), point(400.0, 0.0, 0.0), 1.0);
    if let Doing::Move(mv) = &mut s.doing {
        mv.pace = Pace::Within(20.0);
    }
    near(total(&[s]), 20.0 + 20.0 / 400.0, 1.0e-9);
}

#[test]
fn empty_moves_turn_no_corner() {
    let (a, b, c) = (point(0.0, 0.0, 0.0), point(100.0, 0.0, 0.0), point(200.0, 0.0, 0.0));
    let steps = [
        feed(1, MoveKind::Feed, a, b, 3000.0),
        feed(2, MoveKind::Feed, b, b, 3000.0),
        feed(3, MoveKind::Feed, b, c, 3000.0),
    ];
    let times = run(Clockwork::new(&limits()), &steps);
    assert_eq!(times.len(), 3);
    assert_eq!(times[1].seconds, Seconds::ZERO);
    near(times.iter().map(|t| t.seconds.value()).sum(), 200.0 / 50.0 + 50.0 / 400.0, 1.0e-9);
}

/// The same arc as single chords 0.002 mm off, as a controller would cut it.
fn in_chords(sweep: f64, radius: f64, rise: f64, f: f64) -> Vec<Step> {
    let widest = 2.0 * (1.0 - 0.002 / radius).acos();
    let count = (sweep.abs() / widest).ceil();
    let at = |k: f64| {
        let t = sweep * k / count;
        point(radius * t.cos(), radius * t.sin(), rise * k / count)
    };
    let (mut steps, mut k) = (Vec::new(), 0.0);
    while k < count {
        steps.push(feed(1, MoveKind::Feed, at(k), at(k + 1.0), f));
        k += 1.0;
    }
    steps
}

#[test]
fn arcs_agree_with_chords() {
    for (sweep, radius, rise, f) in [
        (6.2, 20.0, 0.0, 6480.0),
        (-3.1, 4.0, 0.0, 6480.0),
        (1.5, 1.2, 0.0, 4000.0),
        (6.2, 0.3, 0.0, 3000.0),
        (12.5, 3.0, -6.0, 5000.0),
        (1.0, 300.0, 0.0, 7000.0),
    ] {
        let arc = Arc { plane: Plane::Xy, centre: [0.0, 0.0], radius, sweep };
        let end = point(radius * sweep.cos(), radius * sweep.sin(), rise);
        let whole = feed(1, MoveKind::Arc(arc), point(radius, 0.0, 0.0), end, f);
        near(total(&[whole]), total(&in_chords(sweep, radius, rise, f)), 5.0e-3);
    }
}

#[test]
fn planes_differ_only_by_axes() {
    let mut l = limits();
    (l.max_rate[2], l.acceleration[2]) = (l.max_rate[0], l.acceleration[0]);
    let seconds = |plane, from, to| {
        let arc = Arc { plane, centre: [0.0, 0.0], radius: 10.0, sweep: std::f64::consts::PI };
        let steps = [feed(1, MoveKind::Arc(arc), from, to, 6000.0)];
        run(Clockwork::new(&l), &steps)[0].seconds.value()
    };
    let flat = seconds(Plane::Xy, point(10.0, 0.0, 0.0), point(-10.0, 0.0, 0.0));
    near(seconds(Plane::Zx, point(0.0, 0.0, 10.0), point(0.0, 0.0, -10.0)), flat, 1.0e-9);
    near(seconds(Plane::Yz, point(0.0, 10.0, 0.0), point(0.0, -10.0, 0.0)), flat, 1.0e-9);
}

#[test]
fn override_scales_feeds_only() {
    let cut = feed(1, MoveKind::Feed, point(0.0, 0.0, 0.0), point(100.0, 0.0, 0.0), 3000.0);
    let quick = rapid(1, point(0.0, 0.0, 0.0), point(100.0, 0.0, 0.0));
    let at = |percent, step: &Step| {
        let clockwork = Clockwork::new(&limits()).feeding_at(percent);
        run(clockwork, std::slice::from_ref(step))[0].seconds.value()
    };
    near(at(50, &cut), 100.0 / 25.0 + 25.0 / 400.0, 1.0e-9);
    near(at(50, &quick), at(100, &quick), 1.0e-12);
    let mut locked = cut.clone();
    locked.modal.overrides_off = true;
    near(at(50, &locked), at(100, &cut), 1.0e-12);
}

/// A way through random places, and the same way back.
fn there_and_back(places: &[(f64, f64, f64)], f: f64) -> (Vec<Step>, Vec<Step>) {
    let at: Vec<Point> = places.iter().map(|(x, y, z)| point(*x, *y, *z)).collect();
    let leg = |pair: &[Point]| feed(1, MoveKind::Feed, pair[0], pair[1], f);
    let there = at.windows(2).map(leg).collect();
    let back: Vec<Point> = at.into_iter().rev().collect();
    (there, back.windows(2).map(leg).collect())
}

proptest::proptest! {
    #[test]
    fn way_back_takes_as_long(
        places in proptest::collection::vec((0.0..40.0_f64, 0.0..40.0_f64, -5.0..5.0_f64), 2..80),
        f in 200.0..7000.0_f64,
    ) {
        let (there, back) = there_and_back(&places, f);
        near(total(&there), total(&back), 1.0e-6);
    }

    #[test]
    fn time_lies_between_its_bounds(
        places in proptest::collection::vec((0.0..40.0_f64, 0.0..40.0_f64, -5.0..5.0_f64), 2..80),
        f in 200.0..7000.0_f64,
    ) {
        let (mut steps, _) = there_and_back(&places, f);
        let smooth = total(&steps);
        let length: f64 = steps.iter().filter_map(|s| match &s.doing {
            Doing::Move(mv) => Some(mv.from.distance(mv.to)),
            _ => None,
        }).sum();
        for s in &mut steps {
            s.modal.exact = true;
        }
        proptest::prop_assert!(smooth <= total(&steps) * (1.0 + 1.0e-9));
        proptest::prop_assert!(smooth >= length / (f / 60.0) * (1.0 - 1.0e-9));
    }
}
