//! The sample programs P1 to P13 with their exact results: the rules of NISTIR 6556 worked by arithmetic; P8 and P9
//! are its own two examples of G81 (3.5.16.1), the two traces are of its Table 10.

use super::motion::{Doing, Move, MoveKind, Start, Step};
use super::reader::{Reader, steps};
use chargehand_types::quantity::{Length, Point};

pub(super) fn mm(x: f64, y: f64, z: f64) -> Point {
    Point::new(Length::from_mm(x).unwrap(), Length::from_mm(y).unwrap(), Length::from_mm(z).unwrap())
}

pub(super) fn start_at(x: f64, y: f64, z: f64) -> Start {
    Start { at: mm(x, y, z), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

fn moves(text: &str, start: Start) -> Vec<Move> {
    steps(text.as_bytes(), start)
        .filter_map(|s| match s.doing {
            Doing::Move(m) => Some(m),
            _ => None,
        })
        .collect()
}

pub(super) fn length(m: &Move) -> f64 {
    match m.kind {
        MoveKind::Arc(arc) => arc.length_mm(m.from, m.to),
        _ => m.from.distance(m.to),
    }
}

struct Sample {
    name: &'static str,
    start: [f64; 3],
    text: &'static str,
    end: [f64; 3],
    rapid: f64,
    feed: f64,
    low: [f64; 3],
    high: [f64; 3],
}

const SAMPLES: &[Sample] = &[
    Sample {
        name: "P1",
        start: [0.0, 0.0, 20.0],
        text: "%\nN10 G21 G90 G17 G94 G54\nN20 T1 M6\nN30 S18000 M3\nN40 G0 Z5\nN50 X10 Y10\nN60 G1 Z-3 F600\nN70 X110 F2400\nN80 Y60\nN90 X10\nN100 Y10\nN110 G0 Z5\nN120 M5\nN130 M30\n%\n",
        end: [10.0, 10.0, 5.0],
        rapid: 37.14214,
        feed: 308.0,
        low: [0.0, 0.0, -3.0],
        high: [110.0, 60.0, 20.0],
    },
    Sample {
        name: "P2",
        start: [0.0, 0.0, 5.0],
        text: "G21 G90 G17\nG0 X20 Y0\nG1 Z-2 F300\nG2 X0 Y-20 I-20 J0 F1200\nG3 X0 Y-20 I0 J10\nG3 X10 Y-10 R10\nG2 X20 Y0 R-10\nG0 Z5\nM2\n",
        end: [20.0, 0.0, 5.0],
        rapid: 27.0,
        feed: 164.0796,
        low: [-10.0, -20.0, -2.0],
        high: [20.0, 10.0, 5.0],
    },
    Sample {
        name: "P3",
        start: [30.0, 0.0, 0.0],
        text: "G21 G90 G17\nG3 X30 Y0 Z-2 I-5 J0 F900 (one turn helical ramp, radius 5)\nX30 Y0 Z-4 I-5 J0\nX30 Y0 I-5 J0 (clean-up turn at depth)\nG0 Z5\nM2\n",
        end: [30.0, 0.0, 5.0],
        rapid: 9.0,
        feed: 94.37497,
        low: [20.0, -5.0, -4.0],
        high: [30.0, 5.0, 5.0],
    },
    Sample {
        name: "P4",
        start: [0.0, 0.0, 0.0],
        text: "G20 G91 G94\nG1 X1 F60\nG1 Y0.5\nG2 X0.5 Y-0.5 I0 J-0.5\nG0 Z0.25\nM2\n",
        end: [38.1, 0.0, 6.35],
        rapid: 6.35,
        feed: 58.04911,
        low: [0.0, 0.0, 0.0],
        high: [38.1, 12.7, 6.35],
    },
    Sample {
        name: "P5",
        start: [0.0, 0.0, 0.0],
        text: "G21 G90 G18\nG3 X10 Z10 I10 K0 F600\nG2 X20 Z0 I0 K-10\nG19\nG3 Y10 Z10 J0 K10\nG2 Y0 Z0 J0 K-10\nM2\n",
        end: [20.0, 0.0, 0.0],
        rapid: 0.0,
        feed: 125.6637,
        low: [0.0, 0.0, -10.0],
        high: [20.0, 20.0, 10.0],
    },
    Sample {
        name: "P6",
        start: [0.0, 0.0, 10.0],
        text: "G21 G90 G17 G94\nG98 G81 X10 Y10 Z-6 R2 F300\nX20\nG99 X30 Y20\nX40\nG80\nG0 X0 Y0\nM2\n",
        end: [0.0, 0.0, 2.0],
        rapid: 165.0056,
        feed: 32.0,
        low: [0.0, 0.0, -6.0],
        high: [40.0, 20.0, 10.0],
    },
    Sample {
        name: "P7, with 0.25 mm back-off: feed 12 + 3 x 0.25",
        start: [0.0, 0.0, 5.0],
        text: "G21 G90 G98 F400\nG83 X15 Y25 Z-10 R2 Q3\nG80\nM2\n",
        end: [15.0, 25.0, 5.0],
        rapid: 100.3928 + 3.0 * 0.004,
        feed: 12.75,
        low: [0.0, 0.0, -10.0],
        high: [15.0, 25.0, 5.0],
    },
    Sample {
        name: "P8",
        start: [1.0, 2.0, 3.0],
        text: "G21 F100\nG90 G81 G98 X4 Y5 Z1.5 R2.8\nM2\n",
        end: [4.0, 5.0, 3.0],
        rapid: 5.942_641,
        feed: 1.3,
        low: [1.0, 2.0, 1.5],
        high: [4.0, 5.0, 3.0],
    },
    Sample {
        name: "P9",
        start: [1.0, 2.0, 3.0],
        text: "G21 F100\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3\nM2\n",
        end: [13.0, 17.0, 4.8],
        rapid: 22.80937,
        feed: 1.8,
        low: [1.0, 2.0, 3.0],
        high: [13.0, 17.0, 4.8],
    },
    Sample {
        name: "P10",
        start: [0.0, 0.0, 0.0],
        text: "G21 G90\n#1=50 #2=[#1/4]\n#3=[2.0 / 3 * 1.5 - 5.5 / 11.0]\nG1 X#1 Y[#2*2] F[100*SQRT[36]]\nG1 X[#1+10*COS[60]] Y[#2*2-10*SIN[30]]\n#1=6 G1 X#1 Y[FIX[-2.8]+FUP[2.2]+ATAN[1]/[1]]\nM2\n",
        end: [50.0, 45.0, 0.0],
        rapid: 0.0,
        feed: 107.3204,
        low: [0.0, -5.0, 0.0],
        high: [55.0, 45.0, 0.0],
    },
    Sample {
        name: "P11",
        start: [100.0, 50.0, 0.0],
        text: "G21 G90 G10 L2 P1 X100 Y50 Z0\nG10 L2 P2 X300 Y50 Z-1\nG54\nG0 X10 Y10\nG55\nG0 X10 Y10 Z2\nG92 X0 Y0\nG0 X5 Y5\nG92.1\nG0 X5 Y5\nG53 G0 X0 Y0\nM2\n",
        end: [0.0, 0.0, 1.0],
        rapid: 545.2772,
        feed: 0.0,
        low: [0.0, 0.0, 0.0],
        high: [315.0, 65.0, 1.0],
    },
    Sample {
        name: "P12",
        start: [0.0, 0.0, 0.0],
        text: "G21 G90 G93\nG1 X30 F4\nG1 Y40 F2.5\nG2 X0 Y40 I-15 J0 F1\nG94 G1 X0 Y0 F1000\nM2\n",
        end: [0.0, 0.0, 0.0],
        rapid: 0.0,
        feed: 157.1239,
        low: [0.0, 0.0, 0.0],
        high: [30.0, 40.0, 0.0],
    },
    Sample {
        name: "P13",
        start: [0.0, 0.0, 0.0],
        text: "G21 G90 F1000\nG1 X10 G91 (distance mode changes before the motion of the same block)\nX10\nG20 G1 X1 (units change before the motion of the same block)\nG21 G90 G1 X0\nM2\n",
        end: [0.0, 0.0, 0.0],
        rapid: 0.0,
        feed: 90.8,
        low: [0.0, 0.0, 0.0],
        high: [45.4, 0.0, 0.0],
    },
];

fn near(got: f64, wanted: f64) -> bool {
    (got - wanted).abs() <= 5.0e-4 * wanted.abs().max(0.02)
}

#[test]
fn samples_end_where_arithmetic_says() {
    for s in SAMPLES {
        let start = start_at(s.start[0], s.start[1], s.start[2]);
        let mut reader = Reader::new(start);
        reader.push(s.text.as_bytes());
        reader.finish();
        assert!(reader.faults().is_empty(), "{}: {:?}", s.name, reader.faults());
        let moves = moves(s.text, start);
        let end = moves.last().unwrap().to;
        let wanted = mm(s.end[0], s.end[1], s.end[2]);
        assert!(end.distance(wanted) < 1.0e-5, "{}: ends at {end:?}", s.name);
        let rapid: f64 = moves.iter().filter(|m| m.kind == MoveKind::Rapid).map(length).sum();
        let feed: f64 = moves.iter().filter(|m| m.kind != MoveKind::Rapid).map(length).sum();
        assert!(near(rapid, s.rapid), "{}: rapid {rapid}", s.name);
        assert!(near(feed, s.feed), "{}: feed {feed}", s.name);
        for (axis, (low, high)) in extents(&moves).into_iter().enumerate() {
            assert!((low - s.low[axis]).abs() < 1e-6, "{} axis {axis}: low {low}", s.name);
            assert!((high - s.high[axis]).abs() < 1e-6, "{} axis {axis}: high {high}", s.name);
        }
    }
}

fn extents(moves: &[Move]) -> [(f64, f64); 3] {
    let mut bounds = [(f64::INFINITY, f64::NEG_INFINITY); 3];
    let mut take = |p: [f64; 3]| {
        for (b, v) in bounds.iter_mut().zip(p) {
            *b = (b.0.min(v), b.1.max(v));
        }
    };
    for m in moves {
        take([m.from.x.mm(), m.from.y.mm(), m.from.z.mm()]);
        take([m.to.x.mm(), m.to.y.mm(), m.to.z.mm()]);
        if let MoveKind::Arc(arc) = m.kind {
            arc.quadrant_points(m.from, m.to).for_each(&mut take);
        }
    }
    bounds
}

#[test]
fn arcs_of_p2_sweep_and_measure() {
    let p2 = &SAMPLES[1];
    let arcs: Vec<(f64, f64)> = moves(p2.text, start_at(0.0, 0.0, 5.0))
        .iter()
        .filter_map(|m| match m.kind {
            MoveKind::Arc(a) => Some((a.sweep.to_degrees(), length(m))),
            _ => None,
        })
        .collect();
    let wanted = [(-90.0, 31.4159), (360.0, 62.8319), (90.0, 15.708), (-270.0, 47.1239)];
    for ((sweep, len), (s, l)) in arcs.iter().zip(wanted) {
        assert!(near(*sweep, s) && near(*len, l), "{sweep} {len}");
    }
    assert_eq!(arcs.len(), 4);
}

#[test]
fn table_10_of_nistir_6556() {
    let text = "G21 G90\ng1 x3 y1 f20\ng2 x[6-[4*3/2]] r7.01 z0.5\nM2\n";
    let all = moves(text, start_at(0.0, 0.0, 0.0));
    let last = all.last().unwrap();
    assert!(last.to.distance(mm(0.0, 1.0, 0.5)) < 1e-6);
    let MoveKind::Arc(arc) = last.kind else { panic!("no arc") };
    assert!((arc.centre[0] - 1.5).abs() < 1e-4 && (arc.centre[1] - 7.8476).abs() < 1e-4, "{arc:?}");
    assert!(arc.sweep < 0.0);

    let text = "G21 F100\ng91 g81 x3 y2 z-0.8 r1.5 l2\nM2\n";
    let all = moves(text, start_at(30.0, 1.0, -0.5));
    let bottoms: Vec<Point> = all.iter().filter(|m| m.kind == MoveKind::Feed).map(|m| m.to).collect();
    assert_eq!(bottoms, [mm(33.0, 3.0, 0.2), mm(36.0, 5.0, 0.2)]);
    assert_eq!(all.last().unwrap().to, mm(36.0, 5.0, 1.0));
}

#[test]
fn stops_of_p11_and_p9() {
    let p11: Vec<Point> = moves(SAMPLES[10].text, start_at(100.0, 50.0, 0.0)).iter().map(|m| m.to).collect();
    assert_eq!(
        p11,
        [mm(110.0, 60.0, 0.0), mm(310.0, 60.0, 1.0), mm(315.0, 65.0, 1.0), mm(305.0, 55.0, 1.0), mm(0.0, 0.0, 1.0)]
    );
    let p9: Vec<Point> = moves(SAMPLES[8].text, start_at(1.0, 2.0, 3.0)).iter().map(|m| m.to).collect();
    assert_eq!(p9[0], mm(1.0, 2.0, 4.8));
    assert_eq!(p9.len(), 10);
}

#[test]
fn splitting_anywhere_changes_nothing() {
    for s in SAMPLES {
        let start = start_at(s.start[0], s.start[1], s.start[2]);
        let whole: Vec<Step> = steps(s.text.as_bytes(), start).collect();
        let text = s.text.replace('\n', "\r\n");
        for at in 0..text.len() {
            let mut reader = Reader::new(start);
            let (a, b) = text.as_bytes().split_at(at);
            reader.push(a);
            reader.push(b);
            reader.finish();
            let mut parts = Vec::new();
            while let Some(step) = reader.next_step() {
                parts.push(step);
            }
            assert_eq!(parts, whole, "{} split at {at}", s.name);
            assert_eq!(reader.summary().lines as usize, s.text.lines().count());
        }
    }
}
