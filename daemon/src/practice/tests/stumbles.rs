//! What goes wrong, and that it goes wrong as scripted.

use super::{Bench, setup};
use crate::practice::{Fault, Habits, Hand, OnOpen};

#[test]
fn every_scripted_fault_shows() {
    // lines 1 is the unlocking of the bench
    let run = |fault| {
        let mut b = Bench::with(setup(vec![(2, fault)]), Habits::default());
        let answer = b.ask("G21G90G1X50F600");
        (b, answer)
    };
    assert_eq!(run(Fault::Refuse).1, "error:20");
    assert_eq!(run(Fault::Alarm).1, "ALARM:1");
    assert_eq!(run(Fault::LoseAnswer).1, "");
    assert_eq!(run(Fault::DoubleAnswer).1, "ok\r\nok");
    assert_ne!(run(Fault::GarbleAnswer).1, "ok");
    let (mut b, _) = run(Fault::Silence);
    assert_eq!(b.report(), "");
    let (mut b, answer) = run(Fault::Stuck);
    assert_eq!(answer, "");
    assert!(b.report().starts_with("<Idle|"));
    let (mut b, _) = run(Fault::GarbleReport);
    let (first, second) = (b.report(), b.report());
    assert!(!first.starts_with("<Run|MPos") || !first.ends_with('>') || first.len() != second.len() || first != second);
    let (mut b, _) = run(Fault::Unplug { back_ms: Some(5) });
    assert_eq!(b.machine.take_unplug(), Some(Some(5)));
    assert_eq!(b.machine.take_unplug(), None);
    let (mut b, _) = run(Fault::DoorOpens);
    assert!(b.report().starts_with("<Door:1|"), "{}", b.report());
    let (mut b, _) = run(Fault::HoldButton);
    b.wait(1.0);
    assert_eq!(b.machine.at()[0], 0.0);
}

#[test]
fn a_restart_forgets_where_it_is() {
    let mut b = Bench::with(setup(vec![(4, Fault::Restart)]), Habits::default());
    b.tell("G21G90G1X50F6000");
    b.rest();
    b.tell("M3S1000");
    b.said.clear();
    b.tell("G1X60");
    assert_eq!(b.report(), "", "it is not there yet");
    b.wait(0.3);
    assert!(b.report().starts_with("<Alarm|MPos:0.000,0.000,0.000|"), "{}", b.report());
    assert_eq!(b.machine.truly_at().x.mm(), 50.0);
}

#[test]
fn opening_the_port_can_restart_it() {
    let mut b = Bench::with(setup(Vec::new()), Habits { on_open: OnOpen::Restarts, ..Habits::default() });
    b.machine.opened(b.now);
    b.wait(0.5);
    assert!(b.said.contains("ready"), "{}", b.said);
    assert_eq!(b.ask("G0X1"), "error:9");
}

#[test]
fn a_door_brakes_and_waits_for_the_button() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X50F1200");
    b.wait(1.0);
    b.machine.hand(b.now, Hand::OpenDoor);
    b.wait(1.0);
    assert!(b.report().starts_with("<Door:1|"), "{}", b.report());
    assert!(b.report().contains("|Pn:D"));
    b.byte(b'~');
    assert!(b.report().starts_with("<Door:1|"), "an open door holds");
    b.machine.hand(b.now, Hand::CloseDoor);
    assert!(b.report().starts_with("<Door:0|"));
    b.machine.hand(b.now, Hand::ResumeButton);
    b.rest();
    assert_eq!(b.machine.at()[0], 50.0);
}

#[test]
fn without_drives_it_counts_on() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X50F1200");
    b.wait(1.0);
    b.machine.hand(b.now, Hand::DrivesOff);
    let truly = b.machine.truly_at();
    b.rest();
    assert_eq!(b.machine.at()[0], 50.0);
    assert_eq!(b.machine.truly_at(), truly);
    b.machine.hand(b.now, Hand::DrivesOn);
    b.tell("G1X40");
    b.rest();
    assert!((b.machine.truly_at().x.mm() - (truly.x.mm() - 10.0)).abs() < 1e-6);
}

#[test]
fn a_reset_while_moving_slips() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X50F1200");
    b.wait(1.0);
    b.byte(0x18);
    assert!(b.said.contains("ALARM:3"));
    assert!((b.machine.truly_at().x.mm() - b.machine.at()[0]).abs() > 1e-9);
}

#[test]
fn a_line_out_of_travel_lets_it_brake_first() {
    let mut b = Bench::ready();
    b.tell("G21G90G1X50F2400");
    b.wait(0.5);
    b.said.clear();
    b.tell("G1X9999");
    assert_eq!(b.said, "");
    b.wait(0.5);
    assert_eq!(b.said, "ALARM:2\r\n");
    let at = b.machine.at()[0];
    assert!(at > 0.0 && at < 50.0);
    assert_eq!(b.machine.truly_at().x.mm(), (at * 1e6).round() / 1e6, "nothing slipped");
}

#[test]
fn a_line_without_an_end_is_lost_alone() {
    let mut b = Bench::ready();
    let long = "X1".repeat(200);
    b.machine.take(b.now, long.as_bytes());
    b.wait(0.1);
    assert_eq!(b.ask(""), "error:11");
    assert_eq!(b.ask("G21"), "ok");
    assert_eq!(b.machine.overrun(), 0);
}

#[test]
fn a_hold_with_lines_waiting_is_never_lost() {
    let mut b = Bench::ready();
    b.machine.take(b.now, b"G21G90G1F1200X5");
    b.machine.take(b.now, b"!\n");
    b.wait(2.0);
    assert_eq!(b.machine.at()[0], 0.0);
    assert!(b.report().starts_with("<Hold:0|"));
    b.byte(b'~');
    b.rest();
    assert_eq!(b.machine.at()[0], 5.0);
}

#[test]
fn the_report_counts_what_is_free() {
    let mut b = Bench::ready();
    assert!(b.report().contains("|Bf:15,128|"));
    for x in 1..20 {
        b.tell(&format!("G21G90G1X{x}F60"));
    }
    // fifteen planned, one read and waiting, three lines of 15 bytes unread
    assert!(b.report().contains("|Bf:0,83|"), "{}", b.report());
    b.byte(0x18);
    b.tell("$X");
    assert!(b.report().contains("|Bf:15,128|"));
}

#[test]
fn the_same_seed_fails_the_same_way() {
    let script = Fault::script(42, 10, 500);
    assert_eq!(script, Fault::script(42, 10, 500));
    assert_ne!(script, Fault::script(43, 10, 500));
    assert!(script.len() == 10 && script.iter().all(|(line, _)| (1..=500).contains(line)));
    // the first outputs of the published splitmix64 for the seed 1234567
    let mut chance = crate::practice::setup::Chance::new(1_234_567);
    assert_eq!([chance.next(), chance.next()], [6_457_827_717_110_365_317, 3_203_168_211_198_807_973]);
}
