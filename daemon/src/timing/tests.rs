//! Worked values of constant-acceleration kinematics, and the seven-segment example solved two ways.

use super::profile::{along, joint_speed_squared, trapezoid_seconds};
use super::{Clockwork, Limits, LineTimes, wire_seconds};
use crate::program::motion::Start;
use crate::program::steps;
use chargehand_types::quantity::{Acceleration, Feed, Length, Point};
use proptest::prelude::*;

fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() <= 5.0e-4 * wanted.abs().max(1e-9), "{got}, not {wanted}");
}

#[test]
fn trapezoids_take_the_worked_times() {
    // constant-acceleration kinematics, derived: t = (vp - v0)/a + (vp - v1)/a + cruise/vm
    near(trapezoid_seconds(100.0, 0.0, 0.0, 40.0, 500.0), 2.58);
    near(trapezoid_seconds(2.0, 0.0, 0.0, 100.0, 500.0), 0.12649);
    near(trapezoid_seconds(30.0, 10.0, 5.0, 40.0, 400.0), 0.81641);
    near(trapezoid_seconds(0.8, 8.0, 20.0, 50.0, 300.0), 0.051504);
}

#[test]
fn corners_have_the_worked_speeds() {
    // v^2 = a R on the circle that misses the vertex by delta, derived
    for (a, delta, theta, wanted) in [
        (500.0, 0.02, 90.0, 4.9135),
        (500.0, 0.02, 135.0, 11.017),
        (500.0, 0.02, 170.0, 51.166),
        (500.0, 0.02, 60.0, 3.1623),
        (400.0, 0.05, 120.0, 11.37),
        (500.0, 0.02, 0.0, 0.0),
    ] {
        let turn: f64 = (180.0_f64 - theta).to_radians();
        // the worked values hold the acceleration to `a` along the change of direction, whatever its axes
        let out = [turn.cos(), turn.sin(), 0.0];
        let change = [out[0] - 1.0, out[1], 0.0];
        let scale = a / along(change, [1.0, 1.0, 1.0]);
        let v = joint_speed_squared([1.0, 0.0, 0.0], out, [scale; 3], delta).sqrt();
        assert!((v - wanted).abs() < 1e-3 * wanted.max(0.1), "{theta}: {v}");
    }
    assert!(joint_speed_squared([1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [500.0; 3], 0.02).is_infinite());
}

#[test]
fn directions_share_the_axes_limits() {
    near(along([3.0, 4.0, 0.0], [50.0, 30.0, 10.0]), 37.5);
    near(along([100.0, 0.0, -5.0], [83.3333, 83.3333, 16.6667]), 83.437);
    near(along([1.0, 1.0, 1.0], [500.0, 500.0, 200.0]), 346.41);
}

fn limits(a: f64) -> Limits {
    Limits {
        max_rate: [Feed::from_unit(8000.0).unwrap(); 3],
        acceleration: [Acceleration::of(a); 3],
        corner_deviation: Length(20_000),
    }
}

fn times(text: &str, limits: &Limits) -> LineTimes {
    let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
    let mut clock = Clockwork::new(limits);
    let mut times = LineTimes::default();
    for step in steps(text.as_bytes(), start) {
        clock.push(&step);
        while let Some(t) = clock.next_timed() {
            times.add(t);
        }
    }
    clock.finish();
    while let Some(t) = clock.next_timed() {
        times.add(t);
    }
    times
}

#[test]
fn seven_segments_take_their_time() {
    // solved numerically two ways with a = 400 mm/s2 along every direction: 4.1751 s with look-ahead, 4.521 s with
    // an exact stop at every joint. The machine here has 400 on each axis, so the change of direction in a corner,
    // which lies on a diagonal, may be harder by the root of two and the corner faster: 1.5 % covers that.
    let path = "G21 G90 F3000\nG1 X60\nY46\nG3 X56 Y50 I-4 J0\nG1 X20\nY35\nX19 Y34\nX0\nM2\n";
    let t = times(path, &limits(400.0)).total().value();
    assert!((t - 4.1751).abs() < 0.0626, "{t}");
    let t = times(&path.replace("G21", "G61 G21"), &limits(400.0)).total().value();
    // every chord of the arc is a joint of its own under an exact stop, so only the straight part is compared
    assert!(t > 4.5, "{t}");
}

#[test]
fn lines_add_up_to_the_whole() {
    let t = times("G21 G90 F600\nG1 X10\n\nG4 P2\nX20\nM2\n", &limits(500.0));
    near(t.to_end_of(4).value() - t.to_end_of(3).value(), 2.0);
    near(t.to_end_of(5).value(), t.total().value());
    near(t.to_end_of(2).value(), trapezoid_seconds(10.0, 0.0, 0.0, 10.0, 500.0));
    near(t.to_end_of(99).value(), t.total().value());
}

#[test]
fn eight_n_one_carries_a_tenth_of_the_baud() {
    // 8N1 is ten bits a byte: 27 bytes at 115,200 baud take 2.3438 ms
    near(wire_seconds(27, 115_200).value(), 0.002_343_8);
}

proptest! {
    #[test]
    fn splitting_a_line_takes_no_longer(share in 0.05_f64..0.95, length in 1.0_f64..200.0) {
        let one = times(&format!("G21 G90 F1800\nG1 X{length:.4}\nM2\n"), &limits(400.0)).total().value();
        let two = times(
            &format!("G21 G90 F1800\nG1 X{:.4}\nX{length:.4}\nM2\n", share * length), &limits(400.0)).total().value();
        prop_assert!((one - two).abs() < 1e-6 * one + 1e-9);
    }

    #[test]
    fn a_faster_feed_is_never_slower(points in proptest::collection::vec((0_u8..100, 0_u8..100), 2..40)) {
        let path: String = points.iter().map(|(x, y)| format!("X{x} Y{y}\n")).collect();
        let slow = times(&format!("G21 G90 F900 G1\n{path}M2\n"), &limits(400.0)).total().value();
        let fast = times(&format!("G21 G90 F1800 G1\n{path}M2\n"), &limits(400.0)).total().value();
        prop_assert!(fast <= slow + 1e-9);
    }
}
