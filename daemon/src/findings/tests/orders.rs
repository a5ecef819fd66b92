//! Which operations keep their places, sheets that are not equally thick, and a shifted zero.

use super::*;

/// Three 4 mm passes round a square of 100 mm, the last through; no tabs.
const ROUND: &str = "G0 X50 Y50
G1 Z-4 F700
G1 X156 F3600
G1 Y156
G1 X50
G1 Y50
G1 Z-8 F700
G1 X156 F3600
G1 Y156
G1 X50
G1 Y50
G1 Z-12.2 F700
G1 X156 F3600
G1 Y156
G1 X50
G1 Y50
G0 Z5
G0 X10 Y10";

/// A slot inside that square.
const SLOT: &str = "G0 X80 Y100\nG1 Z-4 F700\nG1 X120 F3600
G0 Z5
G0 X10 Y10";

/// `first` then `tray`, both with the 6 mm bit.
fn two(first: &str, then: &str) -> Trial {
    let mut trial = Trial::of(&around(then));
    let mut operation = trial.card.operations[0].clone();
    operation.name = "first".to_owned();
    operation.program = "first.nc".to_owned();
    trial.card.operations.insert(0, operation);
    // a metre of way is more than this bit has
    trial.stores.bits.get_mut("u6").unwrap().life = None;
    trial.programs.insert("first.nc".to_owned(), around(first).into_bytes());
    trial
}

fn asked(trial: &Trial) -> Judged {
    check(&Case { window: true, ..trial.case() }).unwrap()
}

#[test]
fn a_slot_in_a_part_comes_before_its_outline() {
    let report = asked(&two(SLOT, ROUND)).report;
    assert!(report.findings.iter().all(|f| f.code != Code::PartLoose), "{:?}", report.findings);
    let [pair] = report.precedence.as_slice() else { panic!("{:?}", report.precedence) };
    assert_eq!((pair.first.as_str(), pair.then.as_str()), ("first", "tray"));
    assert!(!pair.otherwise.is_empty());
}

#[test]
fn the_wrong_way_round_nothing_has_to_stay() {
    // the part is loose already; turning them round only mends that
    let report = asked(&two(ROUND, SLOT)).report;
    assert!(report.findings.iter().any(|f| f.code == Code::PartLoose));
    assert_eq!(report.precedence, []);
}

#[test]
fn operations_far_apart_may_change_places() {
    let elsewhere = "G0 X300 Y300\nG1 Z-4 F700\nG1 X340 F3600";
    assert_eq!(asked(&two(elsewhere, SLOT)).report.precedence, []);
}

#[test]
fn what_the_card_says_already_is_not_asked() {
    let mut trial = two(SLOT, ROUND);
    trial.card.operations[1].after = vec!["first".to_owned()];
    assert_eq!(asked(&trial).report.precedence, []);
}

#[test]
fn the_thickest_corner_goes_through_and_the_thinnest_is_bitten() {
    let mm = |v: f64| Length::from_mm(v).unwrap();
    let trial = two(SLOT, ROUND);
    let codes = |corners: &[f64]| {
        let corners: Vec<Length> = corners.iter().map(|v| mm(*v)).collect();
        let report = check_corners(&trial.case(), &corners).unwrap().report;
        (report.thickness, report.findings.iter().map(|f| f.code).collect::<Vec<_>>())
    };
    assert_eq!(codes(&[12.0, 12.1, 11.9, 12.0]), (mm(12.1), vec![]));
    assert_eq!(codes(&[12.0, 12.4, 12.0, 12.0]), (mm(12.4), vec![Code::NotThrough]));
    assert_eq!(codes(&[12.0, 11.6, 12.0, 12.0]), (mm(12.0), vec![Code::BedBite]));
    let (thickest, both) = codes(&[12.4, 11.6, 12.0, 12.0]);
    assert_eq!(thickest, mm(12.4));
    assert!(both.contains(&Code::NotThrough) && both.contains(&Code::BedBite), "{both:?}");
    assert_eq!(codes(&[]).0, mm(12.0));
}

#[test]
fn a_shifted_zero_follows_the_thickness() {
    let mm = |v: f64| Length::from_mm(v).unwrap();
    let mut trial = two(SLOT, ROUND);
    trial.thickness = Some(mm(12.4));
    assert_eq!(trial.codes(), [Code::NotThrough]);
    trial.bench = trial.bench.clone().shifted(mm(-0.3));
    assert_eq!(trial.codes(), []);
    // 0.8 mm in all: 0.6 into the waste board
    trial.bench = trial.bench.clone().shifted(mm(-0.5));
    assert_eq!(trial.codes(), [Code::BedBite]);
}

#[test]
fn a_shift_lowers_the_travel_too() {
    let mut trial = Trial::of(&around("G0 X50 Y50\nG0 Z59.8\nG0 Z5"));
    assert_eq!(trial.codes(), []);
    trial.bench = trial.bench.clone().shifted(Length::from_mm(0.5).unwrap());
    assert_eq!(trial.codes(), [Code::OutsideTravel]);
}

#[test]
fn the_window_tells_how_far_zero_may_be_shifted() {
    let mut trial = two(SLOT, ROUND);
    let window = |trial: &Trial| asked(trial).report.window.unwrap().z_shift;
    assert_eq!(window(&trial), None);
    trial.card.sheet.z_shift_max = Length::from_mm(0.25).unwrap();
    let mm = |v: f64| Length::from_mm(v).unwrap();
    // the card's own limit comes first both ways
    assert_eq!(window(&trial), Some([mm(-0.25), mm(0.25)]));
    trial.card.sheet.z_shift_max = mm(1.0);
    // cut to 12.2 of 12: 0.3 higher leaves the 0.1 that holds nothing, 0.3 lower bites the 0.5 allowed
    assert_eq!(window(&trial), Some([mm(-0.3), mm(0.3)]));
}
