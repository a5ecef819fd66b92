//! What each rule of NISTIR 6556 makes happen, by section: where the bit ends up, and in which modes.

use super::*;
use crate::program::motion::{Modal, MotionMode, Pace, Plane, Turning};
use chargehand_types::quantity::{Feed, Rpm};

/// Reads lines from X0 Y0 Z0 in millimetres with a feed; the end, the modes, and everything that happened.
fn run(lines: &str) -> (Point, Modal, Vec<Step>) {
    let text = format!("G21 F500\n{lines}\n");
    let mut reading = steps(text.as_bytes(), start_at(Point::default()));
    let all: Vec<Step> = reading.by_ref().collect();
    assert_eq!(reading.faults(), [], "{lines}");
    (reading.at(), reading.modal(), all)
}

#[test]
fn ends_follow_the_rules() {
    let table: &[(&str, &str, [f64; 3])] = &[
        ("3.3.1 blanks", "G0X +0. 12 34Y 7", [0.1234, 7.0, 0.0]),
        ("3.3.1 line numbers", "N99999 G0 X1", [1.0, 0.0, 0.0]),
        ("3.3.2.1 numbers", "G0 X.5 Y-.5 Z+5.", [0.5, -0.5, 5.0]),
        ("3.3.2.2 parameters", "#3=15\n#3=6 G0 X#3", [15.0, 0.0, 0.0]),
        ("3.3.2.2 parameters of parameters", "#1=2 #2=7\nG0 X##1", [7.0, 0.0, 0.0]),
        ("3.3.2.3 order of operations", "G0 X[2.0 / 3 * 1.5 - 5.5 / 11.0]", [0.5, 0.0, 0.0]),
        ("3.3.2.3 powers first", "G0 X[2 * 3 ** 2]", [18.0, 0.0, 0.0]),
        ("3.3.2.3 logic", "G0 X[1 AND 0] Y[1 OR 0] Z[1 XOR 1]", [0.0, 1.0, 0.0]),
        ("3.3.2.3 remainders", "G0 X[7 MOD 4]", [3.0, 0.0, 0.0]),
        ("3.3.2.4 functions", "G0 X FIX[-2.8] Y FUP[-2.8] Z ROUND[2.6]", [-3.0, -2.0, 3.0]),
        ("3.3.2.4 angles in degrees", "G0 X SIN[30] Y ATAN[1]/[1] Z ACOS[0]", [0.5, 45.0, 90.0]),
        ("3.3.2.4 roots, sizes", "G0 X SQRT[3*3+4*4] Y ABS[-2] Z LN[EXP[1]]", [5.0, 2.0, 1.0]),
        ("3.3.3 the last setting", "#5=1 #5=2\nG0 X#5", [2.0, 0.0, 0.0]),
        ("3.3.4 any order", "Y2 X1 G0", [1.0, 2.0, 0.0]),
        ("3.5.1 G0", "G0 X1\nX2 Y3", [2.0, 3.0, 0.0]),
        ("3.5.2 G1", "G1 X1 Z-1", [1.0, 0.0, -1.0]),
        ("3.5.3.1 G2 by radius", "G2 X10 Y15 R20 Z5", [10.0, 15.0, 5.0]),
        ("3.5.3.2 G3 by centre", "G3 X0 Y20 I0 J10 Z5", [0.0, 20.0, 5.0]),
        ("3.5.5 G10 L2", "G10 L2 P1 X3.5 Y17.2\nG0 X0 Y0", [3.5, 17.2, 0.0]),
        ("3.5.6 G17 G18 G19", "G18 G2 X10 Z0 I5 K0\nG19 G3 Y10 Z0 J5 K0", [10.0, 10.0, 0.0]),
        ("3.5.7 G20 G21", "G20 G0 X1\nG21 Y1", [25.4, 1.0, 0.0]),
        ("3.5.8 G28 by way of", "G0 X5\nG28 X7 Z2", [0.0, 0.0, 0.0]),
        ("3.5.12 G53", "G92 X5\nG53 G0 X4", [4.0, 0.0, 0.0]),
        ("3.5.12 G53 in G91", "G0 X5\nG91 G53 G0 X4", [4.0, 0.0, 0.0]),
        ("3.5.13 G55", "G10 L2 P2 X10\nG55 G0 X1", [11.0, 0.0, 0.0]),
        ("3.5.15 G80 and on", "G81 X1 Z-1 R1\nG80\nG0 X4", [4.0, 0.0, 1.0]),
        ("3.5.16 G98", "G0 Z5\nG98 G81 X1 Z-1 R1", [1.0, 0.0, 5.0]),
        ("3.5.16 G99", "G0 Z5\nG99 G81 X1 Z-1 R1", [1.0, 0.0, 1.0]),
        ("3.5.16 stays in force", "G0 Z5\nG99 G81 X1 Z-1 R1\nX2\nY3", [2.0, 3.0, 1.0]),
        ("3.5.16 repeats in G91", "G91 G81 X4 Y5 Z-0.6 R1.8 L3", [12.0, 15.0, 1.8]),
        ("3.5.17 G90 G91", "G91 G0 X1\nX1\nG90 Y1", [2.0, 1.0, 0.0]),
        ("3.5.18 G92", "G0 X4\nG92 X7\nG0 X8", [5.0, 0.0, 0.0]),
        ("3.5.18 G92.1", "G0 X4\nG92 X7\nG92.1\nG0 X8", [8.0, 0.0, 0.0]),
        ("3.5.18 G92.2 G92.3", "G0 X4\nG92 X7\nG92.2\nG92.3\nG0 X8", [5.0, 0.0, 0.0]),
        ("3.5.19 G93 G94", "G93 G1 X1 F2\nX3 F.5\nG94 X5 F100", [5.0, 0.0, 0.0]),
        ("3.6.1 nothing after the end", "G0 X1\nM2\nG0 X2", [1.0, 0.0, 0.0]),
        ("3.6.1 M0 lets it go on", "G0 X1\nM0\nG0 X2", [2.0, 0.0, 0.0]),
    ];
    for (section, lines, [x, y, z]) in table {
        assert_eq!(run(lines).0, mm(*x, *y, *z), "{section}: {lines}");
    }
}

#[test]
fn modes_follow_the_rules() {
    type Is = fn(&Modal) -> bool;
    let feed = |f: f64| Some(Feed::from_unit(f).unwrap());
    let table: &[(&str, &str, Is)] = &[
        ("Table 4 group 1", "G3 X2 I1", |m| m.motion == MotionMode::G3),
        ("Table 4 group 2", "G19", |m| m.plane == Plane::Yz),
        ("Table 4 group 3", "G91", |m| m.incremental),
        ("Table 4 group 5", "G93", |m| m.inverse_time),
        ("Table 4 group 6", "G20", |m| m.inch),
        ("Table 4 group 8", "G43 H3", |m| m.tool_length == Some(3)),
        ("3.5.11 G49", "G43 H3\nG49", |m| m.tool_length.is_none()),
        ("Table 4 group 10", "G99", |m| m.return_to_r),
        ("Table 4 group 12", "G59.3", |m| m.system == 9),
        ("3.5.14 G61", "G61", |m| m.exact),
        ("3.5.14 G64", "G61\nG64", |m| !m.exact),
        ("3.6.2 M3", "S900 M3", |m| m.turning == Turning::Clockwise && m.speed == Some(Rpm(900_000))),
        ("3.6.2 M4", "S900 M4", |m| m.turning == Turning::CounterClockwise),
        ("3.6.2 M5", "M3\nM5", |m| m.turning == Turning::Off),
        ("3.6.3 M6 stops the spindle", "M3\nT2 M6", |m| m.turning == Turning::Off && m.tool == Some(2)),
        ("3.6.4 M7 and M8 at once", "M7\nM8", |m| m.mist && m.flood),
        ("3.6.4 M9", "M7\nM8\nM9", |m| !m.mist && !m.flood),
        ("3.6.5 M49", "M49", |m| m.overrides_off),
        ("3.6.5 M48", "M49\nM48", |m| !m.overrides_off),
        ("3.6.1 M2 sets back", "G18 G91 G55 M3 M49 M8\nM2", |m| {
            (m.plane, m.incremental, m.system, m.turning) == (Plane::Xy, false, 1, Turning::Off)
                && (m.overrides_off, m.flood, m.motion) == (false, false, MotionMode::G1)
        }),
        ("3.7.3 T alone changes nothing", "M3\nT5", |m| m.turning == Turning::Clockwise && m.tool == Some(5)),
    ];
    for (section, lines, is) in table {
        let modal = run(lines).1;
        assert!(is(&modal), "{section}: {lines} gives {modal:?}");
    }
    assert_eq!(run("F250").1.feed, feed(250.0), "3.7.1");
    assert_eq!(run("G20 F10").1.feed, feed(254.0), "3.7.1 in inches");
}

#[test]
fn a_line_is_obeyed_in_the_order_of_table_8() {
    // written backwards: comment, feed, speed, tool, bit change, spindle, coolant, dwell, plane, units, motion, stop
    let (_, _, steps) = run("M0 G1 X1 G20 G4 P2 M8 M3 T4 M6 S900 F30 (MSG, now)");
    let doings: Vec<&Doing> = steps.iter().map(|s| &s.doing).collect();
    assert!(matches!(
        doings[..],
        [
            Doing::Message(_),
            Doing::BitChange { tool: Some(4) },
            Doing::Spindle,
            Doing::Coolant,
            Doing::Dwell { .. },
            Doing::Move(_),
            Doing::Prompt { .. }
        ]
    ));
    let Doing::Move(made) = doings[5] else { panic!("no move") };
    assert_eq!((made.to, made.pace), (mm(25.4, 0.0, 0.0), Pace::Feed(Feed::from_unit(762.0).unwrap())));
}

#[test]
fn limits_are_kept_to_the_last_one() {
    let fault = |line: &str| {
        let text = format!("G21 F500\n{line}\nM2\n");
        !read_from(&text, start_at(Point::default())).faults.is_empty()
    };
    // 3.3.1: at most 256 characters
    let padded = |length: usize| format!("G0 X1 ({})", "a".repeat(length - 8));
    assert_eq!(padded(256).len(), 256);
    assert!(!fault(&padded(256)) && fault(&padded(257)));
    // 3.3.1: at most five digits
    assert!(!fault("N99999 G0 X1") && fault("N100000 G0 X1"));
    // our own limits: nesting, the size of numbers, how far out a place may lie (10 km)
    let nested = |depth: usize| format!("G0 X{}1{}", "[".repeat(depth), "]".repeat(depth));
    let deepest = (1..120).take_while(|depth| !fault(&nested(*depth))).count();
    assert!((10..120).contains(&deepest), "{deepest}");
    assert!(!fault("#1=9000000000") && fault("G4 P9000000001"));
    assert!(!fault("G0 X10000000") && fault("G0 X10000000.000001"));
    // nine decimals are kept, more are rounded; lengths are whole nanometres
    assert_eq!(run("G0 X0.000000499 Y0.0000005").0, Point::new(Length(0), Length(1), Length(0)));
    assert_eq!(run("G20 G0 X0.0001").0.x, Length(2540));
}
