//! How long motion takes, where it is meanwhile, and how a hold brakes it.

use super::{Bench, setup};
use crate::practice::{Habits, Setup};

/// One acceleration for all axes and rates that never matter, as the worked examples have it.
fn even(acceleration: f64) -> Setup {
    Setup {
        rates: [1000.0; 3],
        accelerations: [acceleration; 3],
        travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
        ..setup(Vec::new())
    }
}

fn bench(setup: Setup) -> Bench {
    let mut b = Bench::with(setup, Habits::default());
    // work zero where it stands
    b.tell("G21G10L20P1X0Y0Z0");
    b
}

fn near(value: f64, wanted: f64) {
    assert!((value - wanted).abs() <= wanted.abs() * 0.001 + 1e-6, "{value} instead of {wanted}");
}

#[test]
fn rest_to_rest_as_derived() {
    // t = d/v + v/a, or 2 sqrt(d/a) when it never reaches v (constant acceleration)
    let mut b = bench(even(500.0));
    b.tell("G1X100F2400");
    near(b.rest(), 2.58);
    let mut b = bench(even(500.0));
    b.tell("G1X2F6000");
    near(b.rest(), 0.12649);
}

#[test]
fn corners_take_the_worked_times() {
    // the worked look-ahead example: a = 400 mm/s2, deviation 0.02 mm, F3000: 4.3947 mm/s through the square corner.
    // There one acceleration goes all around; here two axes share the change of direction, sqrt(2) of it, which the
    // smaller deviation takes back. The quarter turn is wide enough for the feed, and the rest is
    // t = (v - v0) / a + (d - (v^2 - v0^2) / 2a) / v.
    let mut b = bench(Setup { deviation: 0.02 / std::f64::consts::SQRT_2, ..even(400.0) });
    for line in ["G1X60F3000", "Y46", "G3X56Y50I-4J0", "G1X20", "Y35"] {
        b.tell(line);
    }
    b.rest();
    let times: Vec<f64> = b.machine.trace().map(|m| m.ended.since(m.begun).value()).collect();
    let slowed = |d: f64| (50.0 - 4.3947) / 400.0 + (d - (2500.0 - 4.3947 * 4.3947) / 800.0) / 50.0;
    let wanted = [1.3145, slowed(46.0), std::f64::consts::TAU / 50.0, slowed(36.0)];
    times.iter().zip(wanted).for_each(|(t, w)| near(*t, w));
}

#[test]
fn how_often_one_looks_changes_nothing() {
    let run = |step_us: u64| {
        let mut b = bench(even(400.0));
        let begun = b.now;
        for i in 0..40_u64 {
            let line = format!("G1X{}Y{}F3000\n", i * 3 % 50, i * 7 % 30);
            b.now = begun.after_ms(i * 500);
            b.machine.take(b.now, line.as_bytes());
            while b.now < begun.after_ms((i + 1) * 500) {
                b.now = b.now.after_us(step_us);
                b.machine.advance(b.now);
                b.machine.output(b.now);
            }
        }
        b.rest();
        b.machine.trace().copied().collect::<Vec<_>>()
    };
    let (fine, coarse) = (run(1_000), run(250_000));
    // the first line leads nowhere
    assert_eq!(fine.len(), 39);
    assert_eq!(fine, coarse);
}

#[test]
fn a_hold_stops_within_its_braking_way() {
    let mut b = bench(even(400.0));
    for x in 1..=10 {
        b.tell(&format!("G1X{}F3000", x * 10));
    }
    let before = b.machine.at()[0];
    b.byte(b'!');
    b.wait(1.0);
    // v^2/2a with 50 mm/s and 400 mm/s2, and 20 ms until the byte was certainly there
    let way = b.machine.at()[0] - before;
    assert!(way > 0.0 && way <= 50.0 * 50.0 / 800.0 + 50.0 * 0.021, "{way}");
    assert!(b.report().starts_with("<Hold:0|"), "{}", b.report());
    let held = b.machine.at();
    b.wait(100.0);
    assert_eq!(b.machine.at(), held);
    b.byte(b'~');
    b.rest();
    near(b.machine.at()[0], 100.0);
}

#[test]
fn while_it_brakes_it_says_so() {
    let mut b = bench(even(20.0));
    b.tell("G1X100F3000");
    b.wait(2.0);
    b.byte(b'!');
    assert!(b.report().starts_with("<Hold:1|"));
    b.wait(5.0);
    assert!(b.report().starts_with("<Hold:0|"));
}

#[test]
fn axes_bound_the_speed_of_a_slope() {
    // min(limit_i / |u_i|): 3-4-0 with limits 50, 30, 10 gives 37.5 mm/s
    let mut b = bench(Setup { rates: [50.0, 30.0, 10.0], ..even(100_000.0) });
    b.tell("G0X300Y400");
    near(b.rest(), 500.0 / 37.5 + 37.5 / 100_000.0);
}

#[test]
fn small_circles_are_slow() {
    // 28 chords of a circle of 0.3 mm run 0.002 mm off it at most; each joint turns by TAU / 28, and a corner is passed
    // with v^2 = a d s / (1 - s), s = cos(turn / 2)
    let mut b = bench(even(500.0));
    for line in ["G1X10F6000", "G3X10Y0J0.3", "G1X20"] {
        b.tell(line);
    }
    b.rest();
    let times: Vec<f64> = b.machine.trace().map(|m| m.ended.since(m.begun).value()).collect();
    let s = (std::f64::consts::TAU / 56.0).cos();
    near(times[1], std::f64::consts::TAU * 0.3 / (500.0 * 0.02 * s / (1.0 - s)).sqrt());
}

#[test]
fn overrides_change_what_is_left() {
    let mut b = bench(even(10_000.0));
    b.tell("G1X100F1200");
    b.wait(1.0);
    for _ in 0..5 {
        b.byte(0x92);
    }
    // 20 mm/s for the first part, 10 mm/s after
    let (t, at) = (b.now.since(b.machine.trace().next().map_or(b.now, |m| m.begun)).value(), b.machine.at()[0]);
    assert_eq!(t, 0.0);
    b.wait(2.0);
    near(b.machine.at()[0] - at, 20.0);
    assert!(b.report().contains("|FS:600,0"), "{}", b.report());
    b.byte(0x90);
    b.wait(0.5);
    assert!(b.report().contains("|FS:1200,0"));
}

#[test]
fn positions_follow_time() {
    let mut b = bench(even(400.0));
    b.tell("G1X100F2400");
    let mut last = b.machine.at()[0];
    let mut fastest = 0.0_f64;
    for _ in 0..300 {
        b.wait(0.01);
        let at = b.machine.at()[0];
        assert!(at >= last);
        fastest = fastest.max((at - last) / 0.01);
        last = at;
    }
    near(fastest, 40.0);
    near(last, 100.0);
}

#[test]
fn words_on_the_wire_take_their_time() {
    // 8N1: ten bits a byte; 27 bytes at 115,200 baud take 2.3438 ms
    let mut b = bench(even(400.0));
    let line = format!("{:<26}\n", "G90");
    b.machine.take(b.now, line.as_bytes());
    let arrives = b.machine.next_wake().map(|t| t.since(b.now).value());
    near(arrives.unwrap(), 0.0023438);
}
