//! The worked samples of the handbook (trade facts 1.10) and the published traces of NISTIR 6556.

use super::*;
use crate::program::cycle::BACK_OFF;
use crate::program::motion::Pace;

struct Sample {
    start: [f64; 3],
    text: &'static str,
    end: [f64; 3],
    rapid: f64,
    feed: f64,
    seconds: Option<f64>,
    least: [f64; 3],
    most: [f64; 3],
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 5e-4 * b.abs().max(1e-3)
}

fn check(sample: &Sample) -> Reading {
    let [x, y, z] = sample.start;
    let reading = read_from(sample.text, start_at(mm(x, y, z)));
    assert_eq!(reading.faults, [], "{}", sample.text);
    let [x, y, z] = sample.end;
    assert_eq!(reading.at, mm(x, y, z), "{}", sample.text);
    let (mut rapid, mut feed, mut seconds) = (0.0, 0.0, 0.0);
    let (mut least, mut most) = (sample.start, sample.start);
    for m in reading.moves() {
        let way = length(&m);
        match m.pace {
            Pace::Rapid => rapid += way,
            Pace::Feed(f) => (feed, seconds) = (feed + way, seconds + way / f.unit() * 60.0),
            Pace::Within(s) => (feed, seconds) = (feed + way, seconds + s),
            Pace::Unset => panic!("no feed"),
        }
        let (a, b) = extents(&m);
        least = std::array::from_fn(|n| least[n].min(a[n]));
        most = std::array::from_fn(|n| most[n].max(b[n]));
    }
    assert!(near(rapid, sample.rapid), "rapid {rapid} of {}", sample.text);
    assert!(near(feed, sample.feed), "feed {feed} of {}", sample.text);
    if let Some(wanted) = sample.seconds {
        assert!(near(seconds, wanted), "{seconds} s of {}", sample.text);
    }
    for n in 0..3 {
        assert!((least[n] - sample.least[n]).abs() < 1e-5, "{least:?} of {}", sample.text);
        assert!((most[n] - sample.most[n]).abs() < 1e-5, "{most:?} of {}", sample.text);
    }
    reading
}

fn stops(reading: &Reading) -> Vec<Point> {
    reading.moves().iter().map(|m| m.to).collect()
}

#[test]
fn p1_outline_of_a_rectangle() {
    check(&Sample {
        start: [0.0, 0.0, 20.0],
        text: "%\nN10 G21 G90 G17 G94 G54\nN20 T1 M6\nN30 S18000 M3\nN40 G0 Z5\nN50 X10 Y10\nN60 G1 Z-3 F600\nN70 X110 F2400\nN80 Y60\nN90 X10\nN100 Y10\nN110 G0 Z5\nN120 M5\nN130 M30\n%\n",
        end: [10.0, 10.0, 5.0],
        rapid: 37.142_14,
        feed: 308.0,
        seconds: Some(8.3),
        least: [0.0, 0.0, -3.0],
        most: [110.0, 60.0, 20.0],
    });
}

#[test]
fn p2_arcs_in_both_forms() {
    let reading = check(&Sample {
        start: [0.0, 0.0, 5.0],
        text: "G21 G90 G17\nG0 X20 Y0\nG1 Z-2 F300\nG2 X0 Y-20 I-20 J0 F1200\nG3 X0 Y-20 I0 J10\nG3 X10 Y-10 R10\nG2 X20 Y0 R-10\nG0 Z5\nM2\n",
        end: [20.0, 0.0, 5.0],
        rapid: 27.0,
        feed: 164.0796,
        seconds: Some(9.253_98),
        least: [-10.0, -20.0, -2.0],
        most: [20.0, 10.0, 5.0],
    });
    let sweeps: Vec<f64> = reading
        .moves()
        .iter()
        .filter_map(|m| if let MoveKind::Arc(arc) = m.kind { Some(arc.sweep.to_degrees()) } else { None })
        .collect();
    for (found, wanted) in sweeps.iter().zip([-90.0, 360.0, 90.0, -270.0]) {
        assert!((found - wanted).abs() < 1e-9, "{sweeps:?}");
    }
}

#[test]
fn p3_helical_entry() {
    check(&Sample {
        start: [30.0, 0.0, 0.0],
        text: "G21 G90 G17\nG3 X30 Y0 Z-2 I-5 J0 F900 (one turn helical ramp, radius 5)\nX30 Y0 Z-4 I-5 J0\nX30 Y0 I-5 J0 (clean-up turn at depth)\nG0 Z5\nM2\n",
        end: [30.0, 0.0, 5.0],
        rapid: 9.0,
        feed: 94.374_97,
        seconds: Some(6.291_66),
        least: [20.0, -5.0, -4.0],
        most: [30.0, 5.0, 5.0],
    });
}

#[test]
fn p4_inch_and_incremental() {
    check(&Sample {
        start: [0.0; 3],
        text: "G20 G91 G94\nG1 X1 F60\nG1 Y0.5\nG2 X0.5 Y-0.5 I0 J-0.5\nG0 Z0.25\nM2\n",
        end: [38.1, 0.0, 6.35],
        rapid: 6.35,
        feed: 58.049_11,
        seconds: Some(2.2854),
        least: [0.0; 3],
        most: [38.1, 12.7, 6.35],
    });
}

#[test]
fn p5_arcs_in_upright_planes() {
    check(&Sample {
        start: [0.0; 3],
        text: "G21 G90 G18\nG3 X10 Z10 I10 K0 F600\nG2 X20 Z0 I0 K-10\nG19\nG3 Y10 Z10 J0 K10\nG2 Y0 Z0 J0 K-10\nM2\n",
        end: [20.0, 0.0, 0.0],
        rapid: 0.0,
        feed: 125.6637,
        seconds: Some(12.5664),
        least: [0.0, 0.0, -10.0],
        most: [20.0, 20.0, 10.0],
    });
}

#[test]
fn p6_drilling_to_both_levels() {
    check(&Sample {
        start: [0.0, 0.0, 10.0],
        text: "G21 G90 G17 G94\nG98 G81 X10 Y10 Z-6 R2 F300\nX20\nG99 X30 Y20\nX40\nG80\nG0 X0 Y0\nM2\n",
        end: [0.0, 0.0, 2.0],
        rapid: 165.0056,
        feed: 32.0,
        seconds: Some(6.4),
        least: [0.0, 0.0, -6.0],
        most: [40.0, 20.0, 10.0],
    });
}

#[test]
fn p7_peck_drilling() {
    // worked with a back-off of 0.254: feed = 12 + 3b, rapid = 101.1548 - 3b; here b is BACK_OFF
    let b = BACK_OFF.mm();
    check(&Sample {
        start: [0.0, 0.0, 5.0],
        text: "G21 G90 G98 F400\nG83 X15 Y25 Z-10 R2 Q3\nG80\nM2\n",
        end: [15.0, 25.0, 5.0],
        rapid: 100.3928 + 3.0 * (0.254 - b),
        feed: 12.0 + 3.0 * b,
        seconds: None,
        least: [0.0, 0.0, -10.0],
        most: [15.0, 25.0, 5.0],
    });
}

#[test]
fn p8_cycle_example_of_the_standard() {
    // NISTIR 6556 3.5.16.1, example 1
    let reading = check(&Sample {
        start: [1.0, 2.0, 3.0],
        text: "G21 F100\nG90 G81 G98 X4 Y5 Z1.5 R2.8\nM2\n",
        end: [4.0, 5.0, 3.0],
        rapid: 5.942_641,
        feed: 1.3,
        seconds: Some(0.78),
        least: [1.0, 2.0, 1.5],
        most: [4.0, 5.0, 3.0],
    });
    assert_eq!(stops(&reading), [mm(4.0, 5.0, 3.0), mm(4.0, 5.0, 2.8), mm(4.0, 5.0, 1.5), mm(4.0, 5.0, 3.0)]);
}

#[test]
fn p9_repeated_cycle_of_the_standard() {
    // NISTIR 6556 3.5.16.1, example 2
    let reading = check(&Sample {
        start: [1.0, 2.0, 3.0],
        text: "G21 F100\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3\nM2\n",
        end: [13.0, 17.0, 4.8],
        rapid: 22.809_37,
        feed: 1.8,
        seconds: Some(1.08),
        least: [1.0, 2.0, 3.0],
        most: [13.0, 17.0, 4.8],
    });
    let wanted = [
        mm(1.0, 2.0, 4.8),
        mm(5.0, 7.0, 4.8),
        mm(5.0, 7.0, 4.2),
        mm(5.0, 7.0, 4.8),
        mm(9.0, 12.0, 4.8),
        mm(9.0, 12.0, 4.2),
        mm(9.0, 12.0, 4.8),
        mm(13.0, 17.0, 4.8),
        mm(13.0, 17.0, 4.2),
        mm(13.0, 17.0, 4.8),
    ];
    assert_eq!(stops(&reading), wanted);
}

#[test]
fn p10_parameters_and_expressions() {
    let reading = check(&Sample {
        start: [0.0; 3],
        text: "G21 G90\n#1=50 #2=[#1/4]\n#3=[2.0 / 3 * 1.5 - 5.5 / 11.0]\nG1 X#1 Y[#2*2] F[100*SQRT[36]]\nG1 X[#1+10*COS[60]] Y[#2*2-10*SIN[30]]\n#1=6 G1 X#1 Y[FIX[-2.8]+FUP[2.2]+ATAN[1]/[1]]\nM2\n",
        end: [50.0, 45.0, 0.0],
        rapid: 0.0,
        feed: 107.3204,
        seconds: Some(10.732),
        least: [0.0, -5.0, 0.0],
        most: [55.0, 45.0, 0.0],
    });
    assert_eq!(stops(&reading), [mm(50.0, 0.0, 0.0), mm(55.0, -5.0, 0.0), mm(50.0, 45.0, 0.0)]);
}

#[test]
fn p11_systems_and_shifts() {
    let reading = check(&Sample {
        start: [100.0, 50.0, 0.0],
        text: "G21 G90 G10 L2 P1 X100 Y50 Z0\nG10 L2 P2 X300 Y50 Z-1\nG54\nG0 X10 Y10\nG55\nG0 X10 Y10 Z2\nG92 X0 Y0\nG0 X5 Y5\nG92.1\nG0 X5 Y5\nG53 G0 X0 Y0\nM2\n",
        end: [0.0, 0.0, 1.0],
        rapid: 545.2772,
        feed: 0.0,
        seconds: None,
        least: [0.0, 0.0, 0.0],
        most: [315.0, 65.0, 1.0],
    });
    assert_eq!(
        stops(&reading),
        [mm(110.0, 60.0, 0.0), mm(310.0, 60.0, 1.0), mm(315.0, 65.0, 1.0), mm(305.0, 55.0, 1.0), mm(0.0, 0.0, 1.0)]
    );
}

#[test]
fn p12_inverse_time() {
    let reading = check(&Sample {
        start: [0.0; 3],
        text: "G21 G90 G93\nG1 X30 F4\nG1 Y40 F2.5\nG2 X0 Y40 I-15 J0 F1\nG94 G1 X0 Y0 F1000\nM2\n",
        end: [0.0; 3],
        rapid: 0.0,
        feed: 157.1239,
        seconds: Some(101.4),
        least: [0.0, 0.0, 0.0],
        most: [30.0, 40.0, 0.0],
    });
    assert_eq!(stops(&reading), [mm(30.0, 0.0, 0.0), mm(30.0, 40.0, 0.0), mm(0.0, 40.0, 0.0), mm(0.0, 0.0, 0.0)]);
}

#[test]
fn p13_order_inside_a_block() {
    let reading = check(&Sample {
        start: [0.0; 3],
        text: "G21 G90 F1000\nG1 X10 G91 (distance mode changes before the motion of the same block)\nX10\nG20 G1 X1 (units change before the motion of the same block)\nG21 G90 G1 X0\nM2\n",
        end: [0.0; 3],
        rapid: 0.0,
        feed: 90.8,
        seconds: None,
        least: [0.0; 3],
        most: [45.4, 0.0, 0.0],
    });
    assert_eq!(stops(&reading), [mm(10.0, 0.0, 0.0), mm(20.0, 0.0, 0.0), mm(45.4, 0.0, 0.0), mm(0.0, 0.0, 0.0)]);
}

#[test]
fn traces_published_with_the_standard() {
    // NISTIR 6556 Table 10: a helical arc by radius, and a cycle in incremental mode
    let reading = read_from("g1 x3 y1 f20\ng2 x[6-[4*3/2]] r7.01 z0.5\nm2\n", start_at(mm(0.0, 0.0, 0.0)));
    assert_eq!(reading.faults, []);
    assert_eq!(reading.at, mm(0.0, 1.0, 0.5));
    let MoveKind::Arc(arc) = reading.moves()[1].kind else { panic!("an arc") };
    assert!((arc.centre[0] - 1.5).abs() < 1e-9 && (arc.centre[1] - 7.8476).abs() < 1e-4 && arc.sweep < 0.0);
    let reading = read_from("g91 g81 x3 y2 z-0.8 r1.5 l2 f100\nm2\n", start_at(mm(30.0, 1.0, -0.5)));
    assert_eq!(reading.at, mm(36.0, 5.0, 1.0));
    let bottoms: Vec<Point> = reading.moves().iter().filter(|m| m.kind == MoveKind::Feed).map(|m| m.to).collect();
    assert_eq!(bottoms, [mm(33.0, 3.0, 0.2), mm(36.0, 5.0, 0.2)]);
}
