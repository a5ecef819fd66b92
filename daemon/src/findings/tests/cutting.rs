//! Spindle, feed and chip load.

use super::*;

#[test]
fn spindle_must_turn_unless_by_hand() {
    let still = around(GOOD).replace(" M3", "");
    let mut trial = Trial::of(&still);
    let findings = trial.findings();
    assert_eq!((findings[0].code, findings[0].line), (Code::SpindleOff, Some(4)));
    assert_eq!(findings[0].severity, Severity::Stops);
    trial.bench.spindle = Spindle::Manual;
    assert_eq!(trial.codes(), []);
    assert_eq!(Trial::of(&around(GOOD).replace("S18000", "S0")).codes(), [Code::SpindleOff]);
}

#[test]
fn air_moves_need_no_spindle() {
    let air = around("G0 X50 Y50\nG1 Z1 F700\nG1 X80").replace(" M3", "");
    assert_eq!(Trial::of(&air).codes(), []);
}

#[test]
fn feed_must_be_set() {
    let findings = Trial::of(&around("G0 X50 Y50\nG1 Z-4\nG1 X80")).findings();
    assert_eq!(findings[0].code, Code::NoFeed);
    assert_eq!((findings[0].line, findings[0].lines, findings[0].count), (Some(4), Some([4, 5]), 2));
    assert_eq!(findings[0].facts.excerpt.as_deref(), Some("4 | G1 Z-4\n  | ^^"));
}

#[test]
fn teeth_are_neither_starved_nor_choked() {
    // 6 mm lies halfway between 4 and 8: 0.1 to 0.25 mm a tooth; at 18000 with two teeth 3600 to 9000 mm/min
    assert_eq!(Trial::of(&around(&GOOD.replace("F7200", "F3600"))).codes(), []);
    let low = Trial::of(&around(&GOOD.replace("F7200", "F1800"))).judged().report;
    let f = &low.findings[0];
    assert_eq!((f.code, f.severity, f.line), (Code::ChipLoadLow, Severity::Tells, Some(5)));
    assert!((f.measured.unwrap() - 0.05).abs() < 1.0e-12 && (f.limit.unwrap() - 0.1).abs() < 1.0e-12);
    assert_eq!(f.facts.rpm, Some(18000.0));
    assert!(low.advice[0].contains("3600 to 9000 mm/min"), "{}", low.advice[0]);
    let slow_spindle = Trial::of(&around(GOOD).replace("S18000", "S12000"));
    assert_eq!(slow_spindle.codes(), [Code::ChipLoadHigh]);
}

#[test]
fn spindle_range_bounds_the_speed() {
    // S40000 on a spindle of at most 24000
    let f = Trial::of(&around(&GOOD.replace("F7200", "F4000")).replace("S18000", "S40000")).findings();
    assert_eq!((f[0].code, f[0].facts.rpm), (Code::ChipLoadLow, Some(24000.0)));
}

#[test]
fn plunges_and_steep_ramps_do_not_count() {
    let steep = "G0 X50 Y50\nG1 Z-4 F100\nG1 X60 Z-8";
    assert_eq!(Trial::of(&around(steep)).codes(), [Code::SteepRamp]);
    let gentle = "G0 X50 Y50\nG1 Z-4 F100\nG1 X150 Z-8";
    assert_eq!(Trial::of(&around(gentle)).codes(), [Code::ChipLoadLow]);
}

#[test]
fn range_outside_the_list_is_told() {
    let mut trial = Trial::of(&around(&GOOD.replace("F7200", "F1000")));
    trial.card.operations[0].bit = "u3".to_owned();
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.facts.nearest_diameter), (Code::ChipLoadLow, Some(4.0)));
    assert!(f.means.contains("nearest listed bit, 4 mm"), "{}", f.means);
}

#[test]
fn untried_feed_is_signed() {
    let mut trial = Trial::of(&around(GOOD));
    trial.bench.max_feed_tried = Some(Feed::from_unit(5000.0).unwrap());
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.measured, f.limit), (Code::FeedUntried, Some(7200.0), Some(5000.0)));
}

#[test]
fn chip_load_needs_a_speed() {
    // by hand and without S nobody knows how fast it turns
    let mut trial = Trial::of(&around(&GOOD.replace("F7200", "F100")).replace("S18000 ", ""));
    trial.bench.spindle = Spindle::Manual;
    assert_eq!(trial.codes(), []);
    assert_eq!(chip_load(100.0, Rpm::ZERO, 2), None);
}
