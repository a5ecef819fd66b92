//! Homing, touching, and moves by hand.

use super::{Bench, setup};
use crate::practice::{Controller, Fault, Habits, Hand, Homing, Setup, Standing};
use chargehand_types::quantity::{Length, Tick};

fn anywhere() -> Habits {
    Habits { start: Standing::Anywhere, pull_off: Length::whole_mm(1), seed: 7, ..Habits::default() }
}

fn mm(b: &Bench) -> [f64; 3] {
    let at = b.machine.truly_at();
    [at.x.mm(), at.y.mm(), at.z.mm()]
}

#[test]
fn homing_finds_the_true_place() {
    let mut b = Bench::with(setup(Vec::new()), anywhere());
    assert!(b.machine.at().iter().zip(mm(&b)).any(|(believed, true_at)| (believed - true_at).abs() > 1.0));
    b.tell("$H");
    assert_eq!(b.report(), "", "it does not report while it homes");
    b.wait(120.0);
    assert!(b.said.ends_with("ok\r\n"), "{}", b.said);
    assert_eq!(mm(&b), [1.0, 1.0, -1.0]);
    assert_eq!(b.machine.at(), [1.0, 1.0, -1.0]);
    assert!(b.report().starts_with("<Idle|MPos:1.000,1.000,-1.000|"));
    // up before anything else
    let first = b.machine.trace().next().unwrap();
    assert!(first.from.x == first.to.x && first.from.y == first.to.y && first.to.z == Length(0));
}

#[test]
fn homing_can_find_nothing() {
    let mut b = Bench::with(setup(vec![(2, Fault::NoSwitch)]), anywhere());
    b.tell("$H");
    b.wait(120.0);
    assert!(b.said.ends_with("ALARM:9\r\n"), "{}", b.said);
}

#[test]
fn a_reset_while_homing_loses_the_place() {
    let mut b = Bench::with(setup(Vec::new()), anywhere());
    b.tell("$H");
    b.wait(0.5);
    b.byte(0x18);
    assert!(b.said.contains("ALARM:6"), "{}", b.said);
    assert_eq!(b.ask("G0X1"), "error:9");
}

#[test]
fn machines_differ_in_wanting_home() {
    let habits = Habits { homing: Homing::None, ..Habits::default() };
    let mut machine = Controller::with_habits(setup(Vec::new()), habits, Tick(0));
    machine.take(Tick(0), b"$H\nG21G0X1\n");
    machine.advance(Tick(1_000_000));
    let said = String::from_utf8(machine.output(Tick(1_000_000))).unwrap();
    assert_eq!(said, "Practice 1.0 [ready]\r\nerror:5\r\nok\r\n");
}

#[test]
fn a_touch_tells_where_the_plate_is() {
    let mut b = Bench::ready();
    b.tell("G21G90G10L20P1Z0");
    b.machine.hand(b.now, Hand::LayPlate(Length::whole_mm(-30)));
    b.tell("G38.2Z-60F60");
    assert!(!b.report().contains("Pn"));
    b.wait(60.0);
    assert!(b.said.contains("[PRB:0.000,0.000,-30.000:1]\r\nok"), "{}", b.said);
    // it braked behind the plate: (1 mm/s)^2 / (2 * 200 mm/s2)
    assert!((b.machine.at()[2] + 30.0025).abs() < 1e-6, "{:?}", b.machine.at());
    assert!(b.report().contains("|Pn:P"), "{}", b.report());
    assert_eq!(b.ask("G38.2Z-60F60"), "ALARM:4");
}

#[test]
fn a_plate_that_is_not_there_is_a_fault() {
    let mut b = Bench::ready();
    b.tell("G21G90G38.2Z-20F600");
    b.wait(5.0);
    assert!(b.said.contains("[PRB:0.000,0.000,-20.000:0]\r\nALARM:5"), "{}", b.said);
}

#[test]
fn the_wire_can_be_tried_by_hand() {
    let mut b = Bench::ready();
    b.machine.hand(b.now, Hand::TouchWire);
    assert!(b.report().contains("|Pn:P"));
    b.machine.hand(b.now, Hand::LeaveWire);
    assert!(!b.report().contains("Pn"));
}

#[test]
fn moves_by_hand_change_no_mode() {
    let mut b = Bench::ready();
    b.tell("G20G91");
    let before = b.ask("$G");
    assert_eq!(b.ask("$J=G21G90X30F3000"), "ok");
    assert!(b.report().starts_with("<Jog|"));
    assert_eq!(b.ask("G0X1"), "ok");
    b.rest();
    assert!((b.machine.at()[0] - 55.4).abs() < 1e-9, "{:?}", b.machine.at());
    assert_eq!(b.ask("$G"), before);
    assert_eq!(b.ask("$J=G21X1"), "error:22");
    assert_eq!(b.ask("$J=G21X9999F100"), "error:15");
    assert_eq!(b.ask("$J=G2X1F100"), "error:16");
}

#[test]
fn a_move_by_hand_can_be_given_up() {
    for byte in [0x85, b'!'] {
        let mut b = Bench::ready();
        b.tell("$J=G21G91X300F3000");
        b.wait(1.0);
        b.byte(byte);
        b.wait(1.0);
        let at = b.machine.at()[0];
        assert!(at > 40.0 && at < 60.0, "{at}");
        assert!(b.report().starts_with("<Idle|"), "{}", b.report());
        assert_eq!(b.ask("G21G91G0X1"), "ok");
        b.rest();
        assert!((b.machine.at()[0] - at - 1.0).abs() < 1e-9);
    }
}

#[test]
fn arcs_that_leave_the_travel_are_not_begun() {
    let mut b =
        Bench::with(Setup { travel: [[0.0, 100.0], [0.0, 100.0], [-90.0, 0.0]], ..setup(Vec::new()) }, anywhere());
    b.tell("G21G90G0X50Y95");
    b.rest();
    // both ends lie inside, the way round does not
    assert_eq!(b.ask("G2X70Y95I10F1000"), "ALARM:2");
    assert!((b.machine.at()[1] - 95.0).abs() < 1e-9);
}
