//! How fast distances to the swept bit are found, beside a general-purpose spatial index (rstar) in the same run.
//! Absolute figures are printed, never asserted; `--check` asserts the ratio and that both find the same.
#![allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use chargehand_daemon::program::motion::{Doing, Start};
use chargehand_daemon::program::steps;
use chargehand_daemon::program::way::Way;
use chargehand_daemon::sheetmap::{Clearance, Job};
use chargehand_types::card::{Bit, BitKind, Sheet, ZZero};
use chargehand_types::quantity::{Length, Point, Spot};
use clap::Parser as _;
use rstar::primitives::Line;
use rstar::{PointDistance, RTree};
use std::fmt::Write as _;
use std::process::ExitCode;
use std::time::Instant;

/// Measures distances to the swept bit.
#[derive(Debug, clap::Parser)]
#[command(name = "measure-clearance")]
struct Arguments {
    /// Fewer places, and the ratio asserted.
    #[arg(long)]
    check: bool,
}

/// The daemon must find places at least this many times as fast as the yardstick.
const AGAINST_YARDSTICK: f64 = 2.0;
/// Chords of the yardstick, mm off the arc: it knows straights only.
const OFF: f64 = 0.001;
/// Of both bits.
const HALF: f64 = 3.0;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let queries = if arguments.check { 200_000 } else { 5_000_000 };
    let mut good = true;
    for (what, text, kind) in [("outlines", outlines(), BitKind::UpCut), ("relief", relief(), BitKind::Ball)] {
        let (job, ways) = job(&text, kind);
        println!("{what}: {} moves, {queries} places; one thread, best of three", ways.len());
        good &= compare(&job, &ways, queries);
    }
    if good || !arguments.check { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn compare(job: &Job, ways: &[Way], queries: u32) -> bool {
    let made = best(|| drop(std::hint::black_box(Clearance::new(job, 0.0))));
    let clear = Clearance::new(job, 0.0);
    let ours = best(|| places(queries, |at| clear.air(at)));
    let lines = chords(ways);
    let tree = RTree::bulk_load(lines.clone());
    let theirs_made = best(|| drop(std::hint::black_box(RTree::bulk_load(lines.clone()))));
    let yardstick =
        |at: [f64; 2]| tree.nearest_neighbor(at).map_or(f64::INFINITY, |l| (l.distance_2(&at).sqrt() - HALF).max(0.0));
    let theirs = best(|| places(queries / 50, yardstick)) * 50.0;
    let mut apart = 0.0_f64;
    places(queries / 50, |at| {
        apart = apart.max((clear.air(at) - yardstick(at)).abs());
        0.0
    });
    let million = |seconds: f64| f64::from(queries) / seconds / 1.0e6;
    println!(
        "  ready in              {:>8.1} ms    rstar 0.14 of straights {:>8.1} ms",
        made * 1000.0,
        theirs_made * 1000.0
    );
    println!("  million places/s      {:>8.2}       rstar                   {:>8.2}", million(ours), million(theirs));
    println!("  {:.1} times the yardstick; farthest apart {apart:.5} mm", theirs / ours);
    theirs / ours >= AGAINST_YARDSTICK && apart < 0.01
}

/// Asks for places spread over the sheet, the same ones every time.
fn places(count: u32, mut ask: impl FnMut([f64; 2]) -> f64) {
    let (mut sum, mut seed) = (0.0, 1_u64);
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as f64 / (1_u64 << 31) as f64
    };
    for _ in 0..count {
        sum += ask([next() * 610.0, next() * 1220.0]);
    }
    std::hint::black_box(sum);
}

/// The shortest of three runs, in seconds.
fn best(mut run: impl FnMut()) -> f64 {
    (0..3)
        .map(|_| {
            let begun = Instant::now();
            run();
            begun.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Straights of the yardstick: everything below the face.
fn chords(ways: &[Way]) -> Vec<Line<[f64; 2]>> {
    let mut lines = Vec::new();
    for way in ways {
        way.below(0.0, |t0, t1| {
            let mut last: Option<[f64; 2]> = None;
            way.chords(t0, t1, OFF, |t| {
                let [x, y, _] = way.at(t);
                lines.extend(last.map(|before| Line::new(before, [x, y])));
                last = Some([x, y]);
            });
        });
    }
    lines
}

fn job(text: &str, kind: BitKind) -> (Job, Vec<Way>) {
    let mm = Length::whole_mm;
    let sheet = Sheet {
        material: "plywood".to_owned(),
        size: [mm(610), mm(1220)],
        thickness: mm(18),
        z_zero: ZZero::Top,
        corner: Spot::default(),
        max_bed_bite: mm(1),
        z_shift_max: mm(0),
        face: None,
        grain: None,
    };
    let bit = Bit {
        title: "6 mm".to_owned(),
        kind,
        diameter: mm(6),
        flutes: 2,
        cutting_length: mm(25),
        upcut_length: None,
        angle: None,
        helix: None,
        life: None,
        price: None,
        tool: None,
        measured: chargehand_types::bits::BitFigures::default(),
    };
    let start =
        Start { at: Point::new(mm(0), mm(0), mm(60)), work_zero: Point::default(), arc_tolerance: Length(13_000) };
    let mut job = Job::new(&sheet, mm(18));
    let cutter = job.fit(&bit);
    let mut ways = Vec::new();
    for step in steps(text.as_bytes(), start) {
        if let Doing::Move(mv) = &step.doing {
            job.push(0, cutter, step.place, mv);
            ways.push(Way::of(mv));
        }
    }
    (job, ways)
}

/// Round-cornered outlines in three passes, 60 by 60 mm, about 5,000 moves.
fn outlines() -> String {
    let mut text = String::from("G21 G90 G17 G94 M3 S18000 F3000\n");
    for part in 0..135 {
        let (x, y) = (f64::from(part % 9) * 66.0 + 12.0, f64::from(part / 9) * 80.0 + 15.0);
        // writing to a String cannot fail
        let _ = writeln!(text, "G0 Z5\nG0 X{:.3} Y{y:.3}", x + 8.0);
        for depth in [6.0, 12.0, 18.3] {
            let [l, r, b, t] = [x, x + 52.0, y, y + 64.0];
            let _ = writeln!(text, "G1 Z-{depth:.3}");
            let _ = writeln!(text, "G1 X{:.3} Y{b:.3}\nG3 X{r:.3} Y{:.3} I0 J8", r - 8.0, b + 8.0);
            let _ = writeln!(text, "G1 X{r:.3} Y{:.3}\nG3 X{:.3} Y{t:.3} I-8 J0", t - 8.0, r - 8.0);
            let _ = writeln!(text, "G1 X{:.3} Y{t:.3}\nG3 X{l:.3} Y{:.3} I0 J-8", l + 8.0, t - 8.0);
            let _ = writeln!(text, "G1 X{l:.3} Y{:.3}\nG3 X{:.3} Y{b:.3} I8 J0", b + 8.0, l + 8.0);
            let _ = writeln!(text, "G1 X{:.3}\nG1 X{:.3}\nG1 X{:.3}", l + 20.0, l + 30.0, l + 8.0);
        }
    }
    text.push_str("G0 Z5\nM2\n");
    text
}

/// A carved field of 400 by 600 mm in 200,000 short moves.
fn relief() -> String {
    let mut text = String::from("G21 G90 G17 G94 M3 S18000 F3000\nG0 Z5\nG0 X100 Y300\n");
    for row in 0..400_i32 {
        for step in 0..500_i32 {
            let along = if row % 2 == 0 { step } else { 499 - step };
            let (x, y) = (100.0 + f64::from(along) * 0.8, 300.0 + f64::from(row) * 1.5);
            let z = -3.0 - 2.5 * (x / 37.0).sin() * (y / 53.0).cos();
            let _ = writeln!(text, "G1 X{x:.3} Y{y:.3} Z{z:.3}");
        }
    }
    text.push_str("G0 Z5\nM2\n");
    text
}
