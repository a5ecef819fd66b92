//! Distances worked by hand, and the lists against looking at every stretch.

use super::super::cutter::tests::bit;
use super::*;
use crate::program::motion::{Arc, Move, MoveKind, Pace, Place, Plane};
use chargehand_types::card::{BitKind, Sheet, ZZero};
use chargehand_types::quantity::{Length, Point, Spot};
use proptest::prelude::*;
use std::f64::consts::PI;

fn mm(v: f64) -> Length {
    Length::from_mm(v).unwrap()
}

fn point([x, y, z]: [f64; 3]) -> Point {
    Point::new(mm(x), mm(y), mm(z))
}

/// A sheet of 200 x 100 x 12, zero at its face.
fn job() -> Job {
    let sheet = Sheet {
        material: "plywood".to_owned(),
        size: [mm(200.0), mm(100.0)],
        thickness: mm(12.0),
        z_zero: ZZero::Top,
        corner: Spot::default(),
        max_bed_bite: mm(0.5),
        z_shift_max: Length::ZERO,
        face: None,
        grain: None,
    };
    Job::new(&sheet, mm(12.0))
}

fn push(job: &mut Job, kind: MoveKind, from: [f64; 3], to: [f64; 3]) {
    let cutter = job.fit(&bit(BitKind::UpCut, 6.0));
    let line = job.strokes.len() as u32 + 1;
    let mv = Move { kind, from: point(from), to: point(to), pace: Pace::Rapid, named: 7, of_cycle: false };
    job.push(0, cutter, Place { line, column: 1 }, &mv);
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1.0e-6, "{a} is not {b}");
}

#[test]
fn nothing_swept_is_endlessly_far() {
    let clear = Clearance::new(&job(), 0.0);
    assert_eq!(clear.nearest([10.0, 10.0]), None);
    assert_eq!(clear.air([10.0, 10.0]), f64::INFINITY);
}

#[test]
fn only_what_is_below_the_level_counts() {
    let mut job = job();
    push(&mut job, MoveKind::Feed, [20.0, 50.0, 5.0], [120.0, 50.0, -5.0]);
    let flush = Clearance::new(&job, 0.0);
    // below the face from X70 on
    close(flush.air([50.0, 50.0]), 17.0);
    close(flush.air([100.0, 60.0]), 7.0);
    assert_eq!(flush.air([100.0, 52.0]), 0.0);
    let under_a_clamp = Clearance::new(&job, 15.0);
    close(under_a_clamp.air([50.0, 60.0]), 7.0);
    assert!((flush.level(), under_a_clamp.level()) == (0.0, 15.0));
}

#[test]
fn rapids_sweep_too() {
    let mut job = job();
    push(&mut job, MoveKind::Rapid, [20.0, 50.0, 4.0], [120.0, 50.0, 4.0]);
    assert_eq!(Clearance::new(&job, 0.0).nearest([70.0, 60.0]), None);
    close(Clearance::new(&job, 15.0).air([70.0, 60.0]), 7.0);
}

#[test]
fn what_goes_down_with_the_bit_sweeps_too() {
    let mut job = job();
    job.carry(mm(30.0), mm(20.0));
    push(&mut job, MoveKind::Feed, [20.0, 50.0, -4.0], [70.0, 50.0, -4.0]);
    push(&mut job, MoveKind::Feed, [70.0, 50.0, -8.0], [120.0, 50.0, -8.0]);
    // its underside is 16 above the face, then 12: a clamp of 15 is passed over first and then met
    let clear = Clearance::new(&job, 15.0);
    close(clear.air([40.0, 80.0]), 27.0);
    close(clear.air([100.0, 80.0]), 15.0);
    close(clear.air([20.0, 60.0]), 7.0);
    // a flush head is met by neither
    close(Clearance::new(&job, 0.0).air([100.0, 80.0]), 27.0);
}

#[test]
fn arcs_are_arcs() {
    let mut job = job();
    let arc = Arc { plane: Plane::Xy, centre: [100.0, 50.0], radius: 30.0, sweep: PI };
    push(&mut job, MoveKind::Arc(arc), [130.0, 50.0, -3.0], [70.0, 50.0, -3.0]);
    let clear = Clearance::new(&job, 0.0);
    close(clear.air([100.0, 50.0]), 27.0);
    close(clear.air([100.0, 90.0]), 7.0);
    // on the open side the ends are the nearest
    close(clear.air([130.0, 10.0]), 37.0);
    assert_eq!(clear.air([100.0, 80.0]), 0.0);
}

#[test]
fn upright_arcs_are_cut_off_at_the_level() {
    let mut job = job();
    let arc = Arc { plane: Plane::Zx, centre: [0.0, 100.0], radius: 20.0, sweep: PI };
    push(&mut job, MoveKind::Arc(arc), [120.0, 50.0, 0.0], [80.0, 50.0, 0.0]);
    close(Clearance::new(&job, 0.0).air([60.0, 50.0]), 17.0);
    // 10 below the face the arc is 20 cos 30 to either side
    let deep = Clearance::new(&job, -10.0);
    close(deep.air([60.0, 50.0]), 40.0 - 20.0 * (PI / 6.0).cos() - 3.0);
}

#[test]
fn the_first_of_equals_is_told() {
    let mut job = job();
    for z in [-2.0, -4.0, -6.0] {
        push(&mut job, MoveKind::Feed, [20.0, 50.0, z], [120.0, 50.0, z]);
    }
    let clear = Clearance::new(&job, 0.0);
    assert_eq!(clear.nearest([70.0, 70.0]).unwrap().stroke, 0);
    let mut near = Vec::new();
    clear.near([70.0, 57.0], 4.1, |n| near.push(n.stroke));
    near.sort_unstable();
    assert_eq!(near, [0, 1, 2]);
    clear.near([70.0, 57.0], 3.9, |n| panic!("{n:?}"));
}

fn rectangle_air(clear: &Clearance, low: [f64; 2], high: [f64; 2], within: f64) -> Option<f64> {
    let mut least: Option<f64> = None;
    clear.near_rectangle(low, high, within, |n| least = Some(least.map_or(n.air, |l: f64| l.min(n.air))));
    least
}

#[test]
fn rectangles_are_kept_off_by_their_edges() {
    let mut job = job();
    push(&mut job, MoveKind::Feed, [20.0, 50.0, -5.0], [120.0, 50.0, -5.0]);
    let clear = Clearance::for_few(&job, 0.0);
    let parallel = rectangle_air(&clear, [30.0, 60.0], [66.0, 96.0], 20.0).unwrap();
    assert!((parallel - 7.0).abs() < 0.006, "{parallel}");
    // the corner (130, 60) is the nearest to the end at (120, 50)
    let corner = rectangle_air(&clear, [130.0, 60.0], [140.0, 90.0], 20.0).unwrap();
    assert!((corner - (200.0_f64.sqrt() - 3.0)).abs() < 0.006, "{corner}");
    assert_eq!(rectangle_air(&clear, [30.0, 80.0], [66.0, 96.0], 20.0), None);
}

#[test]
fn a_hole_inside_a_rectangle_is_seen() {
    let mut job = job();
    push(&mut job, MoveKind::Feed, [50.0, 50.0, 1.0], [50.0, 50.0, -5.0]);
    let clear = Clearance::for_few(&job, 0.0);
    // 10 mm in from the edge on every side, and half a bit more
    assert!((rectangle_air(&clear, [40.0, 40.0], [60.0, 60.0], 1.0).unwrap() + 13.0).abs() < 0.006);
}

#[test]
fn places_along_a_path_lie_on_it() {
    let mut job = job();
    let arc = Arc { plane: Plane::Xy, centre: [100.0, 50.0], radius: 30.0, sweep: PI };
    push(&mut job, MoveKind::Arc(arc), [130.0, 50.0, -3.0], [70.0, 50.0, -3.0]);
    let mut places = Vec::new();
    Clearance::new(&job, 0.0).along(10.0, |at| places.push(at));
    assert_eq!(places.len(), 11);
    for pair in places.windows(2) {
        assert!((pair[0][0] - pair[1][0]).hypot(pair[0][1] - pair[1][1]) <= 10.0);
        assert!(((pair[0][0] - 100.0).hypot(pair[0][1] - 50.0) - 30.0).abs() < 1.0e-9);
    }
    close(places[0][0] + places[10][0], 200.0);
}

/// One move on the sheet: where from, where to, an arc's middle off the chord.
fn any_move() -> impl Strategy<Value = ([f64; 2], [f64; 2], Option<f64>)> {
    let spot = || [0.0..200.0_f64, 0.0..100.0_f64];
    (spot(), spot(), proptest::option::of(-3.0..3.0_f64))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    // the lists must give what looking at every stretch gives
    #[test]
    fn cells_agree_with_all(
        moves in proptest::collection::vec(any_move(), 1..60),
        places in proptest::collection::vec([-30.0..230.0_f64, -30.0..130.0_f64], 50),
    ) {
        let mut job = job();
        for (from, to, bulge) in moves {
            let ends = [[from[0], from[1], -4.0], [to[0], to[1], -4.0]];
            let kind = bulge.map_or(MoveKind::Feed, |sweep| {
                let radius = (to[0] - from[0]).hypot(to[1] - from[1]);
                MoveKind::Arc(Arc { plane: Plane::Xy, centre: to, radius, sweep })
            });
            push(&mut job, kind, ends[0], ends[1]);
        }
        let clear = Clearance::new(&job, 0.0);
        for at in places {
            let all = clear.all.tracks().iter().map(|t| t.air(at)).fold(f64::INFINITY, f64::min);
            let found = clear.nearest(at).unwrap().air;
            prop_assert!((found - all).abs() < 1.0e-8 || (all < 0.0 && found < 0.0 && found >= all - 1e-8), "{at:?}: {found} and {all}");
        }
    }
}
