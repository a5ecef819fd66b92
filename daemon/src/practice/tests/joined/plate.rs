//! Touching a plate: where the machine truly met it, and every way in which it must not go on.

use super::*;
use crate::link::wire::{NotDone, Touch, Wanted};
use crate::practice::Hand;

const PLATE: Length = Length::whole_mm(-30);

impl Bench {
    fn touch(&mut self) {
        let how = Touch {
            reach: Length::whole_mm(40),
            quick: Feed::from_unit(150.0).unwrap(),
            off: Length::whole_mm(2),
            slow: Feed::from_unit(30.0).unwrap(),
            up: Length::whole_mm(5),
        };
        let permit = self.permit(Class::Hand);
        self.tell(Command::Touch { permit, how });
    }

    fn downs(&self) -> usize {
        String::from_utf8_lossy(&self.written).matches("G38.2").count()
    }

    fn refused(&self) -> Option<String> {
        self.heard.iter().find_map(|r| if let Report::NotDone { why, .. } = r { Some(why.to_string()) } else { None })
    }
}

#[test]
fn a_plate_is_met_twice_and_left() {
    let mut b = Bench::homed(Vec::new());
    b.machine.hand(b.now, Hand::LayPlate(PLATE));
    b.touch();
    assert!(b.until(60.0, |r| matches!(r, Report::Touched { .. })), "{:?}", b.heard.last());
    let told = b.heard.iter().find_map(|r| if let Report::Touched { machine_z } = r { Some(*machine_z) } else { None });
    assert_eq!((told, b.downs()), (Some(PLATE), 2));
    // it braked behind the plate from 0.5 mm/s at 200 mm/s2, and went up 5 mm: 0.5 * 0.5 / 400 mm (derived)
    let stands = b.machine.truly_at().z.mm();
    assert!((stands - (-25.0 - 0.000_625)).abs() < 0.001, "{stands}");
    let value = b.machine.truly_at().z - PLATE + Length::whole_mm(15);
    b.tell(Command::ZeroHere { epoch: b.link.epoch(), axis: Axis::Z, value });
    assert!(b.until(2.0, |r| *r == Report::SettingTaken), "{:?}", b.heard.last());
}

#[test]
fn a_plate_on_the_bit_is_not_touched() {
    let mut b = Bench::homed(Vec::new());
    b.machine.hand(b.now, Hand::TouchWire);
    b.run(1.5);
    let before = b.machine.truly_at();
    b.touch();
    b.run(1.0);
    let why = NotDone::Busy("the plate's wire is closed already");
    let closed = Report::NotDone { what: Wanted::Touch, of: Some(b.link.epoch()), why };
    assert!(b.heard.contains(&closed), "{:?}", b.heard);
    assert_eq!((b.downs(), b.machine.truly_at()), (0, before));
}

#[test]
fn no_plate_is_a_fault_that_keeps_the_position() {
    let mut b = Bench::homed(Vec::new());
    b.touch();
    let nothing = |r: &Report| matches!(r, Report::Fault { position_lost: false, .. });
    assert!(b.until(60.0, nothing), "{:?}", b.heard.last());
    b.run(5.0);
    assert_eq!((b.downs(), b.machine.truly_at().z), (1, Length::whole_mm(-40)), "no farther than it may reach");
}

#[test]
fn a_wire_that_stays_closed_ends_it() {
    let mut b = Bench::homed(Vec::new());
    b.machine.hand(b.now, Hand::LayPlate(PLATE));
    b.touch();
    while !String::from_utf8_lossy(&b.written).contains("G1Z2") && b.now < Tick(60_000_000) {
        b.run(0.02);
    }
    b.machine.hand(b.now, Hand::TouchWire);
    b.run(10.0);
    assert!(b.refused().is_some_and(|why| why.contains("stays closed")), "{:?}", b.heard.last());
    assert_eq!(b.downs(), 1, "no second way down");
}

#[test]
fn a_stop_ends_it() {
    let mut b = Bench::homed(Vec::new());
    b.machine.hand(b.now, Hand::LayPlate(PLATE));
    b.touch();
    b.run(3.0);
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { .. })), "{:?}", b.heard.last());
    let stands = b.machine.truly_at();
    b.run(30.0);
    assert_eq!((b.machine.truly_at(), b.downs()), (stands, 1));
    assert!(stands.z > PLATE && !b.heard.iter().any(|r| matches!(r, Report::Touched { .. })));
}

#[test]
fn a_controller_that_cannot_is_told() {
    let mut b = Bench::homed(Vec::new());
    let text = ACKNOWLEDGED_WINDOW.replace("touch = ", "# touch = ");
    b.link = Link::new(Arc::new(profile("p", &text).unwrap()), Settings { rate: 1.0 });
    b.link.take(b.now, Input::Opened);
    b.drain();
    b.run(1.0);
    b.touch();
    assert!(b.refused().is_some_and(|why| why.contains("cannot")), "{:?}", b.heard);
}
