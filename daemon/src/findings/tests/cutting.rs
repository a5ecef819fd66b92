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

/// The numbers told for a test cut of a program.
fn numbers(trial: &Trial) -> Vec<String> {
    let advice = trial.judged().report.advice;
    advice.into_iter().filter(|a| a.contains("test cut") || a.contains("does not suit")).collect()
}

#[test]
fn numbers_go_no_deeper_than_the_operation() {
    let steep = |leaves: Option<chargehand_types::card::Leaves>| {
        let mut trial = Trial::of(&around("G0 X50 Y50\nG1 Z0 F700\nG1 X55 Z-4 F4000\nG1 X90 F7200"));
        trial.card.operations[0].leaves = leaves;
        trial.card.operations[0].skin = Some(Length::from_mm(0.4).unwrap());
        let told = numbers(&trial);
        assert_eq!(told.len(), 1, "{told:?}");
        told[0].clone()
    };
    use chargehand_types::card::Leaves;
    for pocket in [steep(None), steep(Some(Leaves::Pocket))] {
        assert!(pocket.contains("to reach its depth of 4 mm") && pocket.contains("one pass of 4.0 mm"), "{pocket}");
    }
    // 12 mm and 0.3 of waste board in passes of 12 at most; 12 less 0.4 at once
    let through = steep(Some(Leaves::Through));
    assert!(through.contains("where it goes through") && through.contains("6.2 mm and one of 6.2 mm"), "{through}");
    let skin = steep(Some(Leaves::Skin));
    assert!(skin.contains("its skin of 0.4 mm") && skin.contains("one pass of 11.6 mm"), "{skin}");
    // 4 mm at 3 degrees: 76 mm (geometry)
    assert!(steep(None).contains("3 degrees, 76 mm long"));
}

#[test]
fn numbers_keep_to_the_machine() {
    let steep = around("G0 X50 Y50\nG1 Z0 F700\nG1 X55 Z-4 F4000\nG1 X90 F7200");
    // 0.1 to 0.25 mm a tooth at 18000 with two teeth, not yet one diameter deep: the middle of 3600 to 9000
    assert!(numbers(&Trial::of(&steep))[0].contains("fed 6300 mm/min at 18000 rpm"));
    let mut slow = Trial::of(&steep);
    slow.bench.max_feed_tried = Some(Feed::from_unit(5000.0).unwrap());
    assert!(numbers(&slow)[0].contains("fed 4300 mm/min"), "{:?}", numbers(&slow));
    slow.bench.max_feed_tried = Some(Feed::from_unit(3000.0).unwrap());
    assert!(numbers(&slow)[0].contains("turn slower"), "{:?}", numbers(&slow));
    // 15 % over what a good sheet was cut with, whatever the machine has proved itself at: 3600 to 4600
    slow.bench.max_feed_tried = None;
    slow.bench.good_feeds.insert("u6".to_owned(), Feed::from_unit(4000.0).unwrap());
    assert!(numbers(&slow)[0].contains("fed 4100 mm/min"), "{:?}", numbers(&slow));
    slow.bench.good_feeds = std::iter::once(("u3".to_owned(), Feed::from_unit(1.0).unwrap())).collect();
    assert!(numbers(&slow)[0].contains("fed 6300 mm/min"), "another bit's feeds are its own");
    // a dial that reaches 10000 at most: 2000 to 5000
    let mut dial = Trial::of(&steep);
    dial.bench.spindle = Spindle::Manual;
    dial.bench.dial = Some([5000.0, 10_000.0].map(|n| Rpm::from_unit(n).unwrap()));
    assert!(numbers(&dial)[0].contains("fed 3500 mm/min at 10000 rpm"), "{:?}", numbers(&dial));
    let mut gentle = Trial::of(&steep);
    gentle.bench.steep_ramp = chargehand_types::quantity::Angle::of(2.0);
    assert!(numbers(&gentle)[0].contains("a ramp of 2 degrees, 115 mm"), "{:?}", numbers(&gentle));
}

#[test]
fn the_fastest_feed_is_one_that_cuts() {
    // 9000 above the face cuts nothing, 700 only goes down
    let trial = Trial::of(&around("G0 X50 Y50\nG1 Z1 F9000\nG1 X60\nG1 Z-4 F700\nG1 X80 F3000\nG1 X90 F2400"));
    let found = fastest_feeds(&trial.card, &trial.programs, &trial.bench);
    assert_eq!(found, BTreeMap::from([("u6".to_owned(), Feed::from_unit(3000.0).unwrap())]));
    assert!(fastest_feeds(&trial.card, &BTreeMap::new(), &trial.bench).is_empty());
}

#[test]
fn nothing_is_promised_of_what_cannot_be_read() {
    let report = Trial::of(&around("G0 X50 Y50\nG1 G0 X1")).judged().report;
    assert_eq!(report.straight_through, None);
    assert_eq!(report.advice, Vec::<String>::new());
}
