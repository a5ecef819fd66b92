//! Small cards through a whole check.

mod cutting;
mod holding;
mod orders;
mod places;
mod signing;

use super::*;
use crate::shop::{card, config, profile, stores};
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
pub(super) fn tray_card() -> Card {
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

pub(super) fn shop_stores() -> Stores {
    Stores {
        bits: stores::bits("bits.toml", BITS).unwrap(),
        materials: stores::materials("materials.toml", MATERIALS).unwrap(),
        fasteners: stores::fasteners("fasteners.toml", FASTENERS).unwrap(),
    }
}

pub(super) fn bench() -> Bench {
    let config = config::read("daemon.toml", DAEMON).unwrap();
    let profile = profile::profile("window", profile::ACKNOWLEDGED_WINDOW).unwrap();
    Bench::of(&config.machine, &config.limits, &profile.keys)
}

pub(super) fn pool() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap()
}

/// What a test may change of the ordinary case.
struct Trial {
    card: Card,
    stores: Stores,
    bench: Bench,
    thickness: Option<Length>,
    used: BTreeMap<String, Metres>,
    programs: BTreeMap<String, Vec<u8>>,
    pool: rayon::ThreadPool,
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
            pool: pool(),
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
            pool: &self.pool,
            window: false,
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
    assert_eq!(judged.report.straight_through, Some(true));
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
fn what_cannot_be_adapted_cannot_run() {
    let mut trial = Trial::of(&around(&format!("{GOOD}\nG38.2 Z-6 F50")));
    assert_eq!(trial.codes(), []);
    trial.bench.understands.g.remove("38.2");
    let f = &trial.findings()[0];
    assert_eq!((f.code, f.line), (Code::NotForThisController, Some(6)));
    assert!(f.facts.excerpt.is_some());
}

#[test]
fn wire_counts_what_is_sent() {
    // comments and numbers are not sent: 10 bits a byte of what is (trade-facts 7.1)
    let wire = |program: &str| Trial::of(program).judged().report.operations[0].wire_seconds;
    let chatty = around(GOOD).replace('\n', " (herb tray, first side)\n");
    assert_eq!(wire(&around(GOOD)), wire(&chatty));
    let bytes = wire(&around(GOOD)).value() * 115_200.0 / 10.0;
    assert!((bytes - bytes.round()).abs() < 1.0e-6 && (70.0..130.0).contains(&bytes), "{bytes}");
}

#[test]
fn a_line_slower_than_the_machine_is_told() {
    // 12 bytes each for 0.02 mm: a millisecond of wire for 0.17 ms of motion at 7200 mm/min
    let short: String = (0..4000).map(|n| format!("G1 X{:.2} Y60\n", 50.0 + 0.02 * f64::from(n % 1000))).collect();
    let mut trial = Trial::of(&around(&format!("G0 X50 Y60\nG1 Z-4 F700\nG1 X51 F7200\n{short}")));
    let waits = |trial: &Trial| trial.judged().report.advice.iter().any(|a| a.contains("slower than the machine"));
    trial.bench.baud = 9600;
    assert!(waits(&trial), "{:?}", trial.judged().report.advice);
    trial.bench.baud = 0;
    assert!(!waits(&trial));
}

#[test]
fn worst_comes_first() {
    // into the waste board, over the edge, deeper than two diameters, too slow
    let f = Trial::of(&around("G0 X50 Y50\nG1 Z-13 F1800\nG1 X598")).findings();
    let severities: Vec<Severity> = f.iter().map(|f| f.severity).collect();
    assert_eq!(severities, [Severity::Stops, Severity::Sign, Severity::Sign, Severity::Tells]);
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
