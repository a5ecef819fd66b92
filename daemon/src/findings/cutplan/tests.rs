//! A program in words of the trade, on programs short enough to be followed by hand.

use super::*;
use chargehand_types::quantity::Point;

fn plan(text: &str) -> CutPlan {
    let l = Length::whole_mm;
    let start = Start {
        at: Point::new(l(0), l(0), l(60)),
        work_zero: Point::new(l(0), l(0), l(0)),
        arc_tolerance: Length(13_000),
    };
    CutPlan::read(text.as_bytes(), start, Some(0.0)).unwrap()
}

const SQUARE: &str = "G21 G90 T2 M6\nM3 S18000\nG0 X0 Y0 Z5\nG1 Z-6 F700\nX100 F2400\nY100\nX0\nY0\nZ-12.2 F700\n\
    X40 F2400\nZ-9\nX52\nZ-12.2 F700\nX100 F2400\nY100\nX0\nY0\nG0 Z5\nX200 Y0\nG1 Z-4\nG0 Z5\nM30\n";

#[test]
fn a_square_in_two_passes_with_a_tab() {
    let p = plan(SQUARE);
    assert_eq!(p.tools, [(1, 2)]);
    assert_eq!(p.speeds.len(), 1);
    let depths: Vec<f64> = p.passes(0.0).iter().map(|z| z.mm()).collect();
    assert_eq!(depths, [-6.0, -9.0, -12.2], "the tab's top is a height as well");
    let tabs: Vec<&Lift> = p.tabs(0.0).collect();
    assert_eq!(tabs.len(), 1);
    assert!((tabs[0].height() - 3.2).abs() < 1.0e-9 && (tabs[0].way_at_top - 12.0).abs() < 1.0e-9);
    assert_eq!((p.entries.plunges, p.entries.ramps, p.entries.helices), (4, 0, 0));
    assert_eq!((p.holes, p.runs.len()), (1, 2));
    // the hole is drilled at the feed left over from the square
    let feeds = |map: &BTreeMap<Feed, f64>| map.keys().map(|f| f.unit()).collect::<Vec<_>>();
    assert_eq!((feeds(&p.feeds), feeds(&p.plunge_feeds)), (vec![2400.0], vec![700.0, 2400.0]));
}

#[test]
fn ramps_and_helices_are_told_apart() {
    let p = plan(
        "G21 G90\nG0 X0 Y0 Z1\nG1 Z0 F600\nX50 Z-2\nX0 Z-4\nX50\nG0 Z5\nX100 Y0\nG1 Z0\nG3 X100 Y0 Z-2 I5 J0\nG3 X100 Y0 Z-4 I5 J0\nG0 Z5\nM2\n",
    );
    assert_eq!((p.entries.plunges, p.entries.ramps, p.entries.helices), (0, 1, 1));
    // a slope of 2 in 50 is 2.29 degrees, 2 in 10 pi is 3.64 degrees
    assert!((p.entries.steepest - (2.0_f64).atan2(10.0 * std::f64::consts::PI).to_degrees()).abs() < 1.0e-6);
}

#[test]
fn a_way_through_the_air_is_no_tab() {
    let p = plan("G21 G90\nG0 X0 Y0 Z5\nG1 Z-6 F700\nX50\nZ2\nX60\nZ-6\nX90\nG0 Z5\nM2\n");
    assert_eq!(p.lifts.len(), 1, "it is a lift");
    assert_eq!(p.tabs(0.0).count(), 0, "and leaves no wood");
}

#[test]
fn a_lift_from_a_higher_pass_is_no_tab() {
    let p = plan("G21 G90\nG0 X0 Y0 Z5\nG1 Z-6 F700\nX50\nZ-4\nX60\nZ-6\nX90\nZ-12\nX0\nG0 Z5\nM2\n");
    assert_eq!((p.lifts.len(), p.tabs(0.0).count()), (1, 0));
}

#[test]
fn what_cannot_be_read_is_an_error() {
    let l = Length::whole_mm;
    let start =
        Start { at: Point::new(l(0), l(0), l(60)), work_zero: Point::new(l(0), l(0), l(0)), arc_tolerance: l(1) };
    assert!(CutPlan::read(b"G1 X--1\n", start, None).is_err());
}
