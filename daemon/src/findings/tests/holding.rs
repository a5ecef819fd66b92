//! Fasteners in the way, and fasteners too weak.

use super::*;
use chargehand_types::card::{Fastener, FastenerKind, FastenerPlace};
use chargehand_types::quantity::Spot;

fn at(x: f64, y: f64) -> FastenerPlace {
    FastenerPlace { at: Spot { x: Length::from_mm(x).unwrap(), y: Length::from_mm(y).unwrap() }, with: None }
}

/// `GOOD` cuts from X50 to X80 along Y50 with a 6 mm bit; heads are 8 mm wide, the margin is 4 mm.
fn with_place(x: f64, y: f64) -> Trial {
    let mut trial = Trial::of(&around(GOOD));
    trial.card.holddown.places = vec![at(15.0, 15.0), at(x, y)];
    trial
}

#[test]
fn a_head_without_air_is_in_the_path() {
    // 60.9 is 10.9 off the axis: 3 of bit and 4 of head leave 3.9
    let f = &with_place(70.0, 60.9).findings()[0];
    assert_eq!((f.code, f.line, f.severity), (Code::FastenerInPath, Some(5), Severity::Stops));
    assert!((f.measured.unwrap() - 3.9).abs() < 1.0e-6, "{f:?}");
    assert_eq!((f.limit, f.place, f.count), (Some(4.0), Some([70.0, 60.9, 0.0]), 1));
    assert!(f.means.contains("fastener 2 (Wood screw) at X 70 Y 60.9") && f.means.contains("3.9 mm"), "{}", f.means);
    assert!(f.facts.excerpt.as_ref().unwrap().contains("G1 X80"), "{f:?}");
    assert_eq!(with_place(70.0, 61.0).codes(), []);
}

#[test]
fn an_overlap_is_told_as_one() {
    let f = &with_place(70.0, 52.0).findings()[0];
    assert!((f.measured.unwrap() + 5.0).abs() < 1.0e-6, "{f:?}");
    assert!(f.means.contains("5 mm into fastener 2"), "{}", f.means);
}

#[test]
fn a_clamp_is_hit_by_what_passes_over_a_screw() {
    let over = format!("{GOOD}\nG0 Z5\nG0 X50 Y200");
    let mut trial = Trial::of(&around(&over));
    trial.card.holddown.places = vec![at(65.0, 120.0)];
    assert_eq!(trial.codes(), []);
    let clamp = Fastener {
        title: "Step clamp".into(),
        kind: FastenerKind::Clamp,
        head_height: Length::whole_mm(15),
        footprint: Some([Length::whole_mm(40), Length::whole_mm(20)]),
        ..trial.stores.fasteners["screw"].clone()
    };
    trial.stores.fasteners.insert("clamp".into(), clamp);
    trial.card.holddown.places[0].with = Some("clamp".into());
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.line), (Code::FastenerInPath, Some(7)));
    assert!(f.measured.unwrap() < 0.0, "{f:?}");
    // the nose, 20 mm above a tip 4 mm down, passes over a clamp of 15 and meets one of 17
    trial.card.holddown.places[0].at = at(65.0, 80.0).at;
    let nose = |diameter| config::AboveBit { diameter: Length::whole_mm(diameter), above_tip: Length::whole_mm(20) };
    trial.bench.above_bit = vec![nose(60)];
    trial.programs.insert("tray.nc".into(), around(GOOD).into_bytes());
    assert_eq!(trial.codes(), []);
    trial.stores.fasteners.get_mut("clamp").unwrap().head_height = Length::whole_mm(17);
    let f = &trial.findings()[0];
    // 20 mm from the cut to the clamp's edge, 30 to the nose's
    assert_eq!((f.code, f.line), (Code::FastenerInPath, Some(4)));
    assert!((f.measured.unwrap() + 10.0).abs() < 0.01, "{f:?}");
    // a nail may be cut through
    trial.stores.fasteners.get_mut("clamp").unwrap().kind = FastenerKind::Nail;
    assert_eq!(trial.codes(), []);
}

#[test]
fn few_screws_in_a_soft_board_are_weak() {
    let mut trial = Trial::of(&around(GOOD));
    assert_eq!(trial.codes(), []);
    trial.bench.waste_board.material = Some("plywood".into());
    // one screw: 29.79 x 4^2 x 18/28 = 306.4 N sideways; the cut asks for 18 x 0.2 x 4 = 14.4 N
    assert_eq!(trial.codes(), []);
    trial.bench.fastener_safety = 25.0;
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.severity, f.operation.as_deref()), (Code::WeakHolddown, Severity::Sign, Some("tray")));
    assert!((f.measured.unwrap() - 29.79 * 16.0 * 18.0 / 28.0).abs() < 1.0e-6, "{f:?}");
    assert!((f.limit.unwrap() - 18.0 * 0.2 * 4.0 * 25.0).abs() < 1.0e-6, "{f:?}");
    trial.card.holddown.places.push(at(500.0, 500.0));
    assert_eq!(trial.codes(), []);
}

#[test]
fn vacuum_is_lost_where_it_is_cut_into() {
    let slot = "G0 X50 Y50\nG1 Z-6 F700\nG1 X120 F7200\nG1 Z-12.2 F700\nG1 X50 F7200\nG0 Z5\nG0 X10 Y10";
    let mut trial = Trial::of(&around(slot));
    let zone = Fastener {
        title: "Vacuum zone".into(),
        kind: FastenerKind::Vacuum,
        footprint: Some([Length::whole_mm(100), Length::whole_mm(60)]),
        pressure_kpa: Some(60.0),
        ..trial.stores.fasteners["screw"].clone()
    };
    trial.stores.fasteners.insert("zone".into(), zone);
    trial.bench.waste_board.material = Some("plywood".into());
    trial.bench.fastener_safety = 2.0;
    let on = |x: f64, y: f64| FastenerPlace { with: Some("zone".into()), ..at(x, y) };
    // 60 kPa on 6000 mm2 press 360 N, 108 N sideways; the cut asks for twice 18 x 0.2 x 6.2
    trial.card.holddown.places = vec![on(300.0, 300.0)];
    assert_eq!(trial.codes(), []);
    // with its edge under the slot nothing is left
    trial.card.holddown.places = vec![on(85.0, 75.0)];
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.measured), (Code::WeakHolddown, Some(0.0)));
    let told = hold_down(&trial.case(), &Question::default()).unwrap().troubles;
    assert!(told.iter().any(|t| t.contains("vacuum is lost")), "{told:?}");
}

#[test]
fn tape_lifts_the_sheet_off_the_board() {
    // zero on the board, 0.3 mm below it: 0.3 into the board without tape, 0.1 with 0.2 mm of it
    let mut trial = Trial::of(&around("G0 X50 Y50 Z20\nG1 Z6 F700\nG1 X80 F7200\nG1 Z-0.7 F700\nG1 X50 F7200\nG0 Z20"));
    trial.card.sheet.z_zero = chargehand_types::card::ZZero::Bed;
    let bite = |trial: &Trial| trial.findings().iter().find(|f| f.code == Code::BedBite).and_then(|f| f.measured);
    assert!((bite(&trial).unwrap() - 0.7).abs() < 1.0e-9);
    let tape = Fastener {
        title: "Tape".into(),
        kind: FastenerKind::Tape,
        thickness: Some(Length::from_mm(0.2).unwrap()),
        strength: None,
        ..trial.stores.fasteners["screw"].clone()
    };
    trial.stores.fasteners.insert("tape".into(), tape);
    trial.card.holddown.places[0].with = Some("tape".into());
    assert!((bite(&trial).unwrap() - 0.7).abs() < 1.0e-9, "the board lies where it lay");
    // with the zero on the face the board is farther away
    trial.card.sheet.z_zero = chargehand_types::card::ZZero::Top;
    trial
        .programs
        .insert("tray.nc".into(), around("G0 X50 Y50\nG1 Z-6 F700\nG1 X80 F7200\nG1 Z-12.6 F700\nG1 X50 F7200").into());
    assert_eq!(bite(&trial), None);
    trial.card.holddown.places[0].with = None;
    assert!((bite(&trial).unwrap() - 0.6).abs() < 1.0e-9);
    // with the zero on the board the face lies higher: 12.1 cuts a sheet of 12 only on tape
    trial.card.sheet.z_zero = chargehand_types::card::ZZero::Bed;
    trial.programs.insert("tray.nc".into(), around("G0 X50 Y50 Z20\nG1 Z12.1 F700\nG1 X80 F7200\nG0 Z20").into());
    let cut = |trial: &Trial| trial.judged().report.operations[0].cut_m.value();
    assert_eq!(cut(&trial), 0.0);
    trial.card.holddown.places[0].with = Some("tape".into());
    assert!(cut(&trial) > 0.029);
}

#[test]
fn a_strange_waste_board_is_named() {
    let mut trial = Trial::of(&around(GOOD));
    trial.bench.waste_board.material = Some("granite".into());
    assert!(check(&trial.case()).unwrap_err().to_string().contains("granite"));
}
