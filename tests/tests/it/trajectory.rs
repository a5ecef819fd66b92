//! Times beside a general-purpose library of time-optimal trajectories (toppra, from PyPI), which knows nothing of
//! look-ahead or corners: straight pieces, and a path of chords so fine that no corner counts.
//!
//! Runs where a Python with toppra is found (`CHARGEHAND_TEST_PYTHON`, else `python3`), and says so where not.

use chargehand_daemon::program::motion::Start;
use chargehand_daemon::program::steps;
use chargehand_daemon::timing::{Clockwork, Limits};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point};
use std::io::Write as _;
use std::process::{Command, Stdio};

/// The two may differ by this share: the library reckons on a grid, and takes speed and turn from the same acceleration.
const SHARE: f64 = 0.005;
const ACCELERATION: [f64; 3] = [400.0, 300.0, 200.0];
/// mm/s.
const RATE: [f64; 3] = [130.0, 120.0, 50.0];

struct Case {
    name: &'static str,
    /// From X0 Y0 Z0.
    points: Vec<[f64; 3]>,
    /// mm/min.
    feed: f64,
}

fn cases() -> Vec<Case> {
    let straight = |name, to: [f64; 3], feed| Case { name, points: vec![[0.0; 3], to], feed };
    // three quarters of a turn of 60 mm in chords of about 0.3 mm, from the origin upward in Y
    let circle = |k: u32| {
        let angle = f64::from(k) * std::f64::consts::TAU * 0.75 / 1000.0;
        [60.0 - 60.0 * angle.cos(), 60.0 * angle.sin(), 0.0]
    };
    vec![
        straight("along one axis", [200.0, 0.0, 0.0], 2400.0),
        straight("too short for its feed", [0.0, 3.0, 0.0], 6000.0),
        straight("down", [0.0, 0.0, -20.0], 3600.0),
        straight("along a slope", [120.0, -90.0, -10.0], 9000.0),
        straight("faster than any axis", [300.0, 250.0, 0.0], 90_000.0),
        Case { name: "a path of chords", points: (0..=1000).map(circle).collect(), feed: 1800.0 },
    ]
}

/// Seconds by the library, if it is there.
fn by_library(cases: &[Case]) -> Option<Vec<f64>> {
    let python = std::env::var("CHARGEHAND_TEST_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let known = Command::new(&python).args(["-c", "import toppra"]).stderr(Stdio::null()).status();
    if !known.is_ok_and(|status| status.success()) {
        return None;
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/it/trajectory.py");
    let mut running = Command::new(&python).arg(script).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut input = running.stdin.take().unwrap();
    for case in cases {
        let feed = case.feed / 60.0;
        let asked = serde_json::json!({
            "points": case.points, "feed": feed, "rates": RATE, "accelerations": ACCELERATION,
        });
        writeln!(input, "{asked}").unwrap();
    }
    drop(input);
    let told = running.wait_with_output().unwrap();
    assert!(told.status.success());
    Some(String::from_utf8(told.stdout).unwrap().lines().map(|line| line.parse().unwrap()).collect())
}

fn by_clock(case: &Case) -> f64 {
    let limits = Limits {
        max_rate: RATE.map(|v| Feed::from_unit(v * 60.0).unwrap()),
        acceleration: ACCELERATION.map(Acceleration::of),
        corner_deviation: Length::from_mm(0.02).unwrap(),
    };
    let moves: String = case.points[1..].iter().map(|[x, y, z]| format!("G1 X{x:.6} Y{y:.6} Z{z:.6}\n")).collect();
    let program = format!("G21 G90 F{}\n{moves}M2\n", case.feed);
    let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
    let mut clock = Clockwork::new(&limits);
    for step in steps(program.as_bytes(), start) {
        clock.push(&step, &mut |_| {});
    }
    clock.finish(&mut |_| {});
    clock.total().value()
}

#[test]
fn clock_agrees_with_a_trajectory_library() {
    let cases = cases();
    let Some(least) = by_library(&cases) else {
        println!("skipped: no Python with toppra here");
        return;
    };
    assert_eq!(least.len(), cases.len());
    for (case, least) in cases.iter().zip(least) {
        let clock = by_clock(case);
        println!(
            "{:28} clock {clock:8.4} s, library {least:8.4} s, {:+.4} %",
            case.name,
            (clock / least - 1.0) * 100.0
        );
        assert!((clock / least - 1.0).abs() < SHARE, "{}: {clock} s against {least} s", case.name);
    }
}
