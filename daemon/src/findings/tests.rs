//! Small cards through a whole check.

use super::*;
use crate::shop::{card, config, stores};
use chargehand_types::card::{Card, Stores};
use chargehand_types::finding::{Code, Finding, Severity};
use chargehand_types::id::Revision;
use chargehand_types::quantity::{Feed, Length, Metres, Rpm};
use std::collections::BTreeMap;

const BITS: &str = r#"
[bit.u6]
title = "6 mm up-cut"
kind = "up-cut"
diameter = 6.0
flutes = 2
cutting_length = 22.0
life_m = 1.0
tool = 2
[bit.u3]
title = "3 mm up-cut"
kind = "up-cut"
diameter = 3.0
flutes = 2
cutting_length = 12.0
tool = 5
"#;

const MATERIALS: &str = r#"
[material.plywood]
title = "Plywood"
specific_gravity = 0.45
shear_strength = 6.0
cutting_force = 18.0
[material.plywood.chip_load]
"4" = [0.05, 0.15]
"8" = [0.15, 0.35]
"#;

const FASTENERS: &str = r#"
[fastener.screw]
title = "Wood screw"
kind = "screw"
diameter = 4.0
length = 30.0
head_diameter = 8.0
"#;

const DAEMON: &str = r#"
[machine]
name = "Bench"
port = "simulated"
travel = { x = [0.0, 640.0], y = [0.0, 900.0], z = [-90.0, 0.0] }
work_zero = [10.0, 10.0, -60.0]
max_rate = [8000.0, 8000.0, 3000.0]
acceleration = [400.0, 400.0, 200.0]
spindle = { kind = "controlled", least = 8000, most = 24000 }
[shop]
time_zone = "Europe/Oslo"
[store]
path = "store"
[api]
socket = "api.sock"
"#;

/// One operation `tray` with the 6 mm bit on a sheet of 600 x 800 x 12.
fn tray_card() -> Card {
    let text = r#"
[card]
name = "herb-tray"
title = "Herb tray"
parts = 1
[sheet]
material = "plywood"
size = [600.0, 800.0]
thickness = 12.0
z_zero = "top"
corner = [0.0, 0.0]
max_bed_bite = 0.5
[holddown]
fastener = "screw"
places = [[15.0, 15.0]]
margin = 4.0
[[operation]]
name = "tray"
program = "tray.nc"
bit = "u6"
"#;
    card::read("tray.card.toml", text, &shop_stores()).unwrap()
}

fn shop_stores() -> Stores {
    Stores {
        bits: stores::bits("bits.toml", BITS).unwrap(),
        materials: stores::materials("materials.toml", MATERIALS).unwrap(),
        fasteners: stores::fasteners("fasteners.toml", FASTENERS).unwrap(),
    }
}

fn bench() -> Bench {
    let config = config::read("daemon.toml", DAEMON).unwrap();
    Bench::of(&config.machine, &config.limits, Length::from_mm(0.013).unwrap())
}

/// What a test may change of the ordinary case.
struct Trial {
    card: Card,
    stores: Stores,
    bench: Bench,
    thickness: Option<Length>,
    used: BTreeMap<String, Metres>,
    programs: BTreeMap<String, Vec<u8>>,
}

impl Trial {
    fn of(program: &str) -> Self {
        Self {
            card: tray_card(),
            stores: shop_stores(),
            bench: bench(),
            thickness: None,
            used: BTreeMap::new(),
            programs: BTreeMap::from([("tray.nc".to_owned(), program.as_bytes().to_vec())]),
        }
    }

    fn case(&self) -> Case<'_> {
        Case {
            card: &self.card,
            programs: &self.programs,
            stores: &self.stores,
            bench: &self.bench,
            thickness: self.thickness,
            bit_used: &self.used,
        }
    }

    fn judged(&self) -> Judged {
        check(&self.case()).unwrap()
    }

    fn findings(&self) -> Vec<Finding> {
        self.judged().report.findings
    }

    fn codes(&self) -> Vec<Code> {
        self.findings().iter().map(|f| f.code).collect()
    }
}

/// A good program around these lines, which begin on line 3.
fn around(lines: &str) -> String {
    format!("G21 G90 G17 G94 S18000 M3\nG0 Z5\n{lines}\nG0 Z5\nM5\nM2\n")
}

/// Cuts sideways at 0.2 mm a tooth.
const GOOD: &str = "G0 X50 Y50\nG1 Z-4 F700\nG1 X80 F7200";

#[test]
fn good_program_finds_nothing() {
    let judged = Trial::of(&around(GOOD)).judged();
    assert_eq!(judged.report.findings, []);
    let [op] = judged.report.operations.as_slice() else { panic!("one operation") };
    assert_eq!((op.lines, op.moves), (8, 5));
    assert!((op.cut_m.value() - 0.034).abs() < 1.0e-12);
    assert_eq!(op.seconds, judged.operations[0].times.total());
    assert_eq!(op.cut_extents.x, Some([Length::whole_mm(50), Length::whole_mm(80)]));
    assert_eq!(judged.report.straight_through, None);
}

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
    assert_eq!(Trial::of(&around(steep)).codes(), []);
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
    let deep = around("G0 X50 Y50\nG1 Z-12.4 F700\nG1 X80 F7200");
    let mut trial = Trial::of(&deep);
    assert_eq!(trial.codes(), []);
    trial.thickness = Some(Length::from_mm(11.8).unwrap());
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.line, f.lines), (Code::BedBite, Some(4), Some([4, 5])));
    assert!((f.measured.unwrap() - 0.6).abs() < 1.0e-9);
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
fn another_bit_is_called_out() {
    let f = Trial::of(&around(&format!("T2 M6\nM3\n{GOOD}\nG0 Z5\nT5 M6\nM3"))).findings();
    assert_eq!((f[0].code, f[0].line), (Code::WrongBit, Some(9)));
    assert_eq!((f[0].measured, f[0].limit), (Some(5.0), Some(2.0)));
}

#[test]
fn worn_bit_is_due_where_life_ends() {
    let mut trial = Trial::of(&around(&format!("{GOOD}\nG1 X90\nG1 X120")));
    trial.used.insert("u6".to_owned(), Metres::of(0.96));
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.line), (Code::BitDue, Some(6)));
    assert!((f.measured.unwrap() - 1.034).abs() < 1.0e-9);
    trial.used.insert("u6".to_owned(), Metres::of(0.5));
    assert_eq!(trial.codes(), []);
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
    assert_eq!(Trial::of(&inch).codes(), []);
}

#[test]
fn drawing_beside_the_sheet_keeps_its_unit() {
    // a whole sheet too far to the right is a mistake of place, not of unit
    let f = Trial::of(&around("G0 X500 Y50\nG1 Z-4 F700\nG1 X615 F7200")).codes();
    assert_eq!(f, [Code::OutsideSheet]);
}

#[test]
fn missing_end_is_told() {
    let cut_off = around(GOOD).replace("M2\n", "");
    let f = &Trial::of(&cut_off).findings()[0];
    assert_eq!((f.code, f.line, f.severity), (Code::NoEnd, Some(7), Severity::Tells));
}

#[test]
fn nothing_is_judged_past_a_fault() {
    // behind the line that cannot be read the bit may be anywhere
    let f = Trial::of(&around("G0 X50 Y50\nG1 G0 X1\nG1 Z-99 X999 Y999")).findings();
    assert_eq!(f.len(), 1, "{f:?}");
    assert_eq!((f[0].code, f[0].line), (Code::Unreadable, Some(4)));
    assert!(f[0].column.is_some() && f[0].facts.rule.is_some() && f[0].facts.excerpt.is_some());
}

#[test]
fn foreign_words_cannot_run() {
    let f = Trial::of(&around("G41 D1\nG0 X50 Y50")).findings();
    assert_eq!((f[0].code, f[0].line), (Code::NotForThisController, Some(3)));
    assert!(!f[0].means.is_empty() && !f[0].remedy.is_empty());
}

#[test]
fn untried_feed_is_signed() {
    let mut trial = Trial::of(&around(GOOD));
    trial.bench.max_feed_tried = Some(Feed::from_unit(5000.0).unwrap());
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.measured, f.limit), (Code::FeedUntried, Some(7200.0), Some(5000.0)));
}

#[test]
fn worst_comes_first() {
    let f = Trial::of(&around("G0 X50 Y50\nG1 Z-13 F1800\nG1 X598")).findings();
    let severities: Vec<Severity> = f.iter().map(|f| f.severity).collect();
    assert_eq!(severities, [Severity::Stops, Severity::Sign, Severity::Tells]);
}

#[test]
fn missing_things_are_named() {
    let mut trial = Trial::of(&around(GOOD));
    trial.programs.clear();
    let told = check(&trial.case()).unwrap_err().to_string();
    assert!(told.contains("tray.nc"), "{told}");
    let mut trial = Trial::of(&around(GOOD));
    trial.stores.bits.remove("u6");
    assert!(check(&trial.case()).unwrap_err().to_string().contains("u6"));
}

fn revised(change: impl FnOnce(&mut Trial)) -> Revision {
    let mut trial = Trial::of(&around(GOOD));
    change(&mut trial);
    revision(&trial.card, &trial.programs)
}

#[test]
fn titles_keep_the_revision() {
    let plain = revised(|_| {});
    assert_eq!(plain.0.len(), 64);
    assert_eq!(
        plain,
        revised(|t| {
            t.card.title = "Another title".into();
            t.card.name = "other".into();
            t.card.sheet.face = Some("good side up".into());
            t.card.sheet.grain = Some("along Y".into());
            t.card.named_parts.clear();
        })
    );
}

#[test]
fn whatever_changes_the_cut_revises() {
    let mut seen = vec![revised(|_| {})];
    let changes: [fn(&mut Trial); 9] = [
        |t| t.programs.get_mut("tray.nc").unwrap().push(b'\n'),
        |t| t.card.sheet.thickness = Length::whole_mm(13),
        |t| t.card.sheet.material = "mdf".into(),
        |t| t.card.sheet.corner.x = Length::whole_mm(1),
        |t| t.card.holddown.margin = Length::whole_mm(5),
        |t| t.card.holddown.places[0].at.x = Length::whole_mm(16),
        |t| t.card.holddown.places[0].with = Some("screw".into()),
        |t| t.card.operations[0].bit = "u3".into(),
        |t| t.card.operations[0].unattended = !t.card.operations[0].unattended,
    ];
    for change in changes {
        let new = revised(change);
        assert!(!seen.contains(&new));
        seen.push(new);
    }
}

#[test]
fn fingerprints_change_with_their_grounds() {
    let low = around(&GOOD.replace("F7200", "F1800"));
    let of = |change: fn(&mut Trial)| {
        let mut trial = Trial::of(&low);
        change(&mut trial);
        trial.findings()[0].fingerprint.clone()
    };
    let plain = of(|_| {});
    assert_eq!(plain.len(), 20);
    assert_eq!(plain, of(|t| t.card.title = "Another".into()));
    assert_eq!(plain, of(|t| t.thickness = Some(Length::from_mm(12.1).unwrap())));
    assert_ne!(plain, of(|t| t.stores.bits.get_mut("u6").unwrap().flutes = 3));
    assert_ne!(
        plain,
        of(|t| t.stores.materials.get_mut("plywood").unwrap().chip_load[0].most =
            chargehand_types::quantity::ChipLoad::of(0.2))
    );
    assert_ne!(plain, of(|t| t.programs.get_mut("tray.nc").unwrap().push(b'\n')));
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

#[test]
fn chip_load_needs_a_speed() {
    // by hand and without S nobody knows how fast it turns
    let mut trial = Trial::of(&around(&GOOD.replace("F7200", "F100")).replace("S18000 ", ""));
    trial.bench.spindle = Spindle::Manual;
    assert_eq!(trial.codes(), []);
    assert_eq!(chip_load(100.0, Rpm::ZERO, 2), None);
}
