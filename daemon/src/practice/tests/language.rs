//! What it makes of a program: the sample programs of NISTIR 6556 and the facts derived from it, and its refusals.

use super::{Bench, setup};
use crate::practice::{Habits, Setup};

fn bench() -> Bench {
    let setup = Setup {
        rates: [1000.0; 3],
        accelerations: [5000.0; 3],
        travel: [[-100.0, 640.0], [-100.0, 1250.0], [-90.0, 90.0]],
        ..setup(Vec::new())
    };
    Bench::with(setup, Habits::default())
}

/// Runs lines from a start in machine coordinates; gives the ends of its motions.
fn ends(start: &str, lines: &[&str]) -> Vec<[f64; 3]> {
    let mut b = bench();
    b.tell(&format!("G21G53G0{start}"));
    b.rest();
    let before = b.machine.trace().count();
    for line in lines {
        let answer = b.ask(line);
        assert!(answer.ends_with("ok") || b.machine.tally().lines > 0, "{line}: {answer}");
        b.rest();
    }
    b.machine.trace().skip(before).map(|m| [m.to.x.mm(), m.to.y.mm(), m.to.z.mm()]).collect()
}

fn same(got: &[[f64; 3]], wanted: &[[f64; 3]]) {
    assert_eq!(got.len(), wanted.len(), "{got:?}");
    for (g, w) in got.iter().zip(wanted) {
        assert!(g.iter().zip(w).all(|(a, b)| (a - b).abs() < 1e-3), "{g:?} instead of {w:?}");
    }
}

/// Sweep in degrees and length of the arcs.
fn arcs(start: &str, lines: &[&str]) -> Vec<(f64, f64)> {
    let mut b = bench();
    b.tell(&format!("G21G53G0{start}"));
    b.rest();
    for line in lines {
        b.tell(line);
        b.rest();
    }
    let arc = |m: &crate::practice::Motion| {
        m.round.map(|r| {
            let third = match r.axes[2] {
                0 => m.to.x - m.from.x,
                1 => m.to.y - m.from.y,
                _ => m.to.z - m.from.z,
            };
            (r.sweep.to_degrees().abs(), (r.radius.mm() * r.sweep).hypot(third.mm()))
        })
    };
    b.machine.trace().filter_map(arc).collect()
}

fn alike(got: &[(f64, f64)], wanted: &[(f64, f64)]) {
    assert_eq!(got.len(), wanted.len(), "{got:?}");
    for (g, w) in got.iter().zip(wanted) {
        assert!((g.0 - w.0).abs() < 0.01 && (g.1 - w.1).abs() < 0.001, "{g:?} instead of {w:?}");
    }
}

#[test]
fn arcs_in_both_forms() {
    let program = ["G21 G90 G17", "G2 X0 Y-20 I-20 J0 F1200", "G3 X0 Y-20 I0 J10", "G3 X10 Y-10 R10", "G2 X20 Y0 R-10"];
    alike(&arcs("X20Y0", &program), &[(90.0, 31.4159), (360.0, 62.8319), (90.0, 15.708), (270.0, 47.1239)]);
}

#[test]
fn helices_rise_evenly() {
    let program = ["G21 G90 G17", "G3 X30 Y0 Z-2 I-5 J0 F900 (one turn)", "X30 Y0 Z-4 I-5 J0", "X30 Y0 I-5 J0"];
    alike(&arcs("X30Y0Z0", &program), &[(360.0, 31.4795), (360.0, 31.4795), (360.0, 31.4159)]);
}

#[test]
fn arcs_in_the_other_planes() {
    let program =
        ["G21 G90 G18", "G3 X10 Z10 I10 K0 F600", "G2 X20 Z0 I0 K-10", "G19", "G3 Y10 Z10 J0 K10", "G2 Y0 Z0 J0 K-10"];
    let wanted = [(90.0, 15.708), (270.0, 47.1239), (90.0, 15.708), (270.0, 47.1239)];
    alike(&arcs("X0Y0Z0", &program), &wanted);
    let at = ends("X0Y0Z0", &program);
    same(&at, &[[10.0, 0.0, 10.0], [20.0, 0.0, 0.0], [20.0, 10.0, 10.0], [20.0, 0.0, 0.0]]);
}

#[test]
fn inches_and_steps() {
    let at = ends("X0Y0Z0", &["G20 G91 G94", "G1 X1 F60", "G1 Y0.5", "G2 X0.5 Y-0.5 I0 J-0.5", "G0 Z0.25"]);
    same(&at, &[[25.4, 0.0, 0.0], [25.4, 12.7, 0.0], [38.1, 0.0, 0.0], [38.1, 0.0, 6.35]]);
}

#[test]
fn systems_shifts_and_machine_coordinates() {
    let program = [
        "G21 G90 G10 L2 P1 X100 Y50 Z0",
        "G10 L2 P2 X300 Y50 Z-1",
        "G54",
        "G0 X10 Y10",
        "G55",
        "G0 X10 Y10 Z2",
        "G92 X0 Y0",
        "G0 X5 Y5",
        "G92.1",
        "G0 X5 Y5",
        "G53 G0 X0 Y0",
    ];
    let wanted = [[110.0, 60.0, 0.0], [310.0, 60.0, 1.0], [315.0, 65.0, 1.0], [305.0, 55.0, 1.0], [0.0, 0.0, 1.0]];
    same(&ends("X100Y50Z0", &program), &wanted);
}

#[test]
fn shifts_add_up_as_published() {
    // at X4 with no shift `G92 X7` gives -3; then `G92 X9` gives -5 (3.5.18)
    let mut b = bench();
    b.tell("G21G53G0X4");
    b.rest();
    b.tell("G92X7");
    assert!(b.ask("$#").contains("[G92:-3.000"));
    b.tell("G92X9");
    assert!(b.ask("$#").contains("[G92:-5.000"));
}

#[test]
fn inverse_time_gives_the_time() {
    let mut b = bench();
    b.tell("G21G53G0X0Y0Z0");
    b.rest();
    for line in ["G21 G90 G93", "G1 X30 F4", "G1 Y40 F2.5", "G2 X0 Y40 I-15 J0 F1"] {
        b.tell(line);
        b.rest();
    }
    let times: Vec<f64> = b.machine.trace().skip(1).map(|m| m.ended.since(m.begun).value()).collect();
    // 60/F s, and a little for starting and stopping
    for (t, w) in times.iter().zip([15.0, 24.0, 60.0]) {
        assert!((*t - w) >= 0.0 && (*t - w) < 0.01, "{times:?}");
    }
    assert_eq!(b.ask("G1X1"), "error:22");
    assert_eq!(b.ask("G94G1X1"), "error:22");
    assert_eq!(b.ask("G94G1X1F100"), "ok");
}

#[test]
fn a_line_is_done_in_the_published_order() {
    let at = ends("X0Y0Z0", &["G21 G90 F1000", "G1 X10 G91", "X10", "G20 G1 X1", "G21 G90 G1 X0"]);
    same(&at, &[[10.0, 0.0, 0.0], [20.0, 0.0, 0.0], [45.4, 0.0, 0.0], [0.0, 0.0, 0.0]]);
}

#[test]
fn wrong_lines_are_refused_by_number() {
    // the error cases derived from NISTIR 6556, with the number this wire gives them
    let cases = [
        ("G0 G1 X1", 21),
        ("M3 M5", 21),
        ("G1 X1 X2", 25),
        ("N-1 G0 X1", 27),
        ("G1 X.", 2),
        ("G1 X--1", 2),
        ("5X1", 1),
        ("G2 X10 Y0", 35),
        ("G2 I5 J0", 32),
        ("G2 X10 Y0 I5.1 J0", 33),
        ("G2 X0 Y0 R5", 33),
        ("G2 X10 Y0 R4.9", 34),
        ("G4 P-1", 4),
        ("G4", 28),
        ("S-100", 4),
        ("T-1", 4),
        ("T999", 38),
        ("T1.5", 23),
        ("G80 X1", 31),
        ("G80 G53 X1", 30),
        ("G92", 26),
        ("G10 L2 P10 X1", 29),
        ("G10 L2 X1", 28),
        ("G0 X1 G92 Y2", 24),
        ("G5 X1", 20),
        ("M98 P1", 20),
        ("G1.23", 23),
        ("G1 X1 A5", 20),
        ("G1 X1 I5", 36),
        ("G38.2", 26),
        ("$Q", 3),
    ];
    let mut b = bench();
    b.tell("G21G53G0X0Y0Z0F500");
    b.rest();
    for (line, number) in cases {
        b.tell("G21G90G17G1");
        assert_eq!(b.ask(line), format!("error:{number}"), "{line}");
    }
    b.tell("G1");
    assert_eq!(b.ask("G3 X0 Y0 I-5 J0"), "ok");
    assert_eq!(b.ask(&format!("G1 X{}", "0".repeat(90))), "error:11");
}

#[test]
fn a_refused_line_changes_nothing() {
    let mut b = bench();
    b.tell("G21G90G0");
    let before = b.ask("$G");
    assert_eq!(b.ask("G20 G91 G1 S5000 X1 F100 Q"), "error:2");
    assert_eq!(b.ask("G20 G91 G55 F100 S5000 M3 T2 G2 X1"), "error:35");
    assert_eq!(b.ask("$G"), before);
    assert!(before.starts_with("[GC:G0 G54 G17 G21 G90 G94 M5 M9 T0 F0.0 S0]"), "{before}");
}

#[test]
fn the_spindle_waits_for_motion_to_end() {
    let mut b = bench();
    b.tell("G21G90G1X10F600");
    b.tell("S12000M3");
    b.tell("G1X0");
    assert!(b.report().contains("|FS:600,0"), "{}", b.report());
    b.wait(100.0 / 10.0 + 1.5);
    assert!(b.report().contains(",12000"), "{}", b.report());
    b.rest();
    b.tell("M30");
    assert!(b.report().contains("|FS:0,0"), "{}", b.report());
    assert!(b.ask("$G").contains("G1 G54 G17 G21 G90 G94 M5 M9"));
}

#[test]
fn a_dwell_holds_up_the_answer() {
    let mut b = bench();
    assert_eq!(b.ask("G4P0.5"), "");
    b.wait(0.6);
    assert_eq!(b.said.trim_end(), "ok");
}

#[test]
fn a_prompt_waits_for_the_go() {
    let mut b = bench();
    b.tell("G21G90G1X20F6000");
    b.tell("M0");
    b.tell("G1X30");
    b.wait(2.0);
    assert!((b.machine.at()[0] - 20.0).abs() < 1e-9);
    assert!(b.report().starts_with("<Hold:0|"));
    b.byte(b'~');
    b.rest();
    assert!((b.machine.at()[0] - 30.0).abs() < 1e-9);
}

#[test]
fn stored_places_are_gone_to() {
    let mut b = bench();
    b.tell("G21G90G0X50Y60");
    b.tell("G28.1");
    b.tell("G0X0Y0Z-10");
    b.tell("G28Z0");
    b.rest();
    let at: Vec<_> = b.machine.trace().map(|m| [m.to.x.mm(), m.to.y.mm(), m.to.z.mm()]).skip(1).collect();
    same(&at, &[[0.0, 0.0, -10.0], [0.0, 0.0, 0.0], [50.0, 60.0, 90.0]]);
}

#[test]
fn checking_moves_nothing() {
    let mut b = bench();
    assert_eq!(b.ask("$C"), "ok");
    let at = b.machine.at();
    assert_eq!(b.ask("G21G91G1X100F500"), "ok");
    assert_eq!(b.ask("G2X1"), "error:35");
    assert!(b.report().starts_with("<Check|"));
    assert_eq!(b.machine.at(), at);
    assert!(b.ask("$C").contains("ready"));
    assert!(b.report().starts_with("<Idle|"));
}
