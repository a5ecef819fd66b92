//! Travel, sheet, waste board, units, and the drawing.

use super::*;

#[test]
fn travel_has_two_ends() {
    // travel in work coordinates: X -10 to 630, Y -10 to 890, Z -30 to 60
    let f = Trial::of(&around(&format!("{GOOD}\nG0 Z5\nG0 X634\nG0 Y-10.5\nG0 X10 Y10"))).findings();
    assert_eq!(f.len(), 2);
    let by_axis = |axis: &str| f.iter().find(|f| f.facts.axis.as_deref() == Some(axis)).unwrap();
    let x = by_axis("X");
    assert_eq!((x.code, x.line, x.measured, x.limit), (Code::OutsideTravel, Some(7), Some(4.0), Some(0.0)));
    // everything in X lies from 10 to 634: 4 mm to the left it fits
    assert_eq!(x.facts.shift, Some(-4.0));
    assert_eq!(by_axis("Y").facts.shift, Some(0.5));
    assert!(by_axis("Y").remedy.contains("0.5 mm"), "{}", by_axis("Y").remedy);
}

#[test]
fn too_wide_fits_no_zero() {
    let f = Trial::of(&around(&format!("{GOOD}\nG0 Z5\nG0 X-15\nG0 X640"))).findings();
    assert!(f.iter().all(|f| f.code == Code::OutsideTravel && f.facts.shift.is_none()), "{f:?}");
    assert_eq!(f.len(), 2);
}

#[test]
fn arcs_are_held_to_their_quadrants() {
    // a half circle of radius 20 about X20: its leftmost point is X0, the bit's edge 3 mm off the sheet
    let arc = "G0 X20 Y100\nG1 Z-4 F700\nG3 X20 Y60 I0 J-20 F7200";
    let f = &Trial::of(&around(arc)).findings()[0];
    assert_eq!((f.code, f.line), (Code::OutsideSheet, Some(5)));
    assert!((f.measured.unwrap() - 3.0).abs() < 1.0e-6);
}

#[test]
fn above_the_face_is_off_no_sheet() {
    assert_eq!(Trial::of(&around("G0 X-5 Y50\nG1 Z1 F700\nG1 Y80")).codes(), []);
}

#[test]
fn bed_bite_follows_the_caliper() {
    let deep = around("G0 X50 Y50\nG1 Z-6 F700\nG1 X80 F7200\nG1 Z-12.4 F700\nG1 X50 F7200");
    let mut trial = Trial::of(&deep);
    assert_eq!(trial.codes(), []);
    trial.thickness = Some(Length::from_mm(11.8).unwrap());
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.line, f.lines), (Code::BedBite, Some(6), Some([6, 7])));
    assert!((f.measured.unwrap() - 0.6).abs() < 1.0e-9);
}

#[test]
fn an_eaten_skin_is_told() {
    // 12 mm, cut to 11.6: a skin of 0.4; at 11.75 mm only 0.15 of it is left
    let mut trial = Trial::of(&around("G0 X50 Y50\nG1 Z-6 F700\nG1 X80 F7200\nG1 Z-11.6 F700\nG1 X50 F7200"));
    trial.card.operations[0].leaves = Some(chargehand_types::card::Leaves::Skin);
    trial.card.operations[0].skin = Some(Length::from_mm(0.4).unwrap());
    let told = |trial: &Trial| trial.judged().report.advice.iter().any(|a| a.contains("only 0.15 mm are left"));
    assert!(!told(&trial) && trial.codes().is_empty());
    trial.thickness = Some(Length::from_mm(11.75).unwrap());
    assert!(told(&trial), "{:?}", trial.judged().report.advice);
    // and a thicker sheet leaves too much
    trial.thickness = Some(Length::from_mm(12.3).unwrap());
    assert_eq!(trial.codes(), [Code::NotThrough]);
}

#[test]
fn bed_zero_measures_from_below() {
    let mut trial = Trial::of(&around("G0 X50 Y50 Z20\nG1 Z-0.8 F700\nG1 X80 F7200\nG0 Z20"));
    trial.card.sheet.z_zero = chargehand_types::card::ZZero::Bed;
    let f = &trial.findings()[0];
    assert_eq!(f.code, Code::BedBite);
    assert!((f.measured.unwrap() - 0.8).abs() < 1.0e-9);
}

#[test]
fn inches_by_mistake_are_suspected() {
    let inch = around("G0 X50 Y50\nG1 Z-12.2 F700\nG1 X300 Y300 F7200").replace("G21", "G20");
    let f = Trial::of(&inch).findings();
    let units = f.iter().find(|f| f.code == Code::SuspectUnits).unwrap();
    assert_eq!((units.line, units.severity), (Some(1), Severity::Sign));
    // no unit word, and the cut goes through only in inches
    let none = around("G0 X2 Y2\nG1 Z-0.48 F30\nG1 X12 F280").replace("G21 ", "");
    assert!(Trial::of(&none).codes().contains(&Code::SuspectUnits));
    let said = around("G0 X2 Y2\nG1 Z-0.48 F700\nG1 X12 F7200");
    assert!(!Trial::of(&said).codes().contains(&Code::SuspectUnits));
}

#[test]
fn real_inch_program_is_trusted() {
    let inch = around("G0 X2 Y2\nG1 Z-0.4 F28\nG1 X12 F280").replace("G21", "G20").replace("Z5", "Z0.2");
    let inch = inch.replace("M5", "G0 X0 Y0\nM5");
    assert_eq!(Trial::of(&inch).codes(), []);
}

#[test]
fn drawing_beside_the_sheet_keeps_its_unit() {
    // a whole sheet too far to the right is a mistake of place, not of unit
    let f = Trial::of(&around("G0 X500 Y50\nG1 Z-4 F700\nG1 X615 F7200")).codes();
    assert_eq!(f, [Code::OutsideSheet]);
}

#[test]
fn drawing_shows_cuts_and_fasteners() {
    let tabbed = around(
        "G0 X50 Y50\nG1 Z-12.2 F700\nG1 X80 F7200\nG1 Z-8\nG1 X90\nG1 Z-12.2\nG2 X110 Y70 J20\nG0 Z5\nG0 X200\nG1 Z-4\nG1 X220",
    );
    let trial = Trial::of(&tabbed);
    let drawing = draw(&trial.case()).unwrap();
    let runs: Vec<(bool, [u32; 2])> = drawing.paths.iter().map(|p| (p.through, p.lines)).collect();
    assert_eq!(runs.len(), 4, "{runs:?}");
    assert!(drawing.paths[0].through && !drawing.paths[1].through && drawing.paths[2].through);
    assert!(!drawing.paths[3].through);
    assert_eq!(drawing.paths[3].points, [[200.0, 70.0], [220.0, 70.0]]);
    assert_eq!((drawing.fasteners[0].number, drawing.fasteners[0].head), (1, Length::whole_mm(8)));
}
