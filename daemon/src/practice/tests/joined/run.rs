//! Moving by hand for as long as it is asked for: how far the machine truly goes once nobody asks any more, in both flows.

use super::*;
use crate::link::wire::Run;
use crate::practice::Wire;
use crate::shop::profile::NUMBERED_CHECKSUM;

/// Feed of the runs, mm/min: 25 mm/s.
const FEED: f64 = 1500.0;

fn numbered() -> Bench {
    Bench::speaking(NUMBERED_CHECKSUM, Habits { wire: Wire::Numbered, ..Habits::default() }, Vec::new()).at_home()
}

impl Bench {
    fn begin_run(&mut self, most: f64) {
        let permit = self.permit(Class::Hand);
        let (most, feed) = (Length::from_mm(most).unwrap(), Feed::from_unit(FEED).unwrap());
        self.tell(Command::Run { permit, how: Run { axis: Axis::X, up: true, most, feed } });
    }

    /// A key that repeats for so long, thirty times a second.
    fn keeps_on(&mut self, seconds: f64) {
        let end = self.now.after_us((seconds * 1e6) as u64);
        while self.now < end {
            self.tell(Command::KeepRunning);
            self.run(0.033);
        }
    }

    fn x(&self) -> f64 {
        self.machine.truly_at().x.mm()
    }

    fn done(&mut self) -> bool {
        self.until(5.0, |r| *r == Report::HandDone)
    }
}

#[test]
fn it_goes_on_while_the_key_repeats_and_stops_when_it_is_let_go() {
    for (mut b, least, over) in [(Bench::homed(Vec::new()), 40.0, 8.0), (numbered(), 4.0, 10.0)] {
        let from = b.x();
        b.begin_run(300.0);
        b.keeps_on(2.0);
        let let_go = b.x();
        assert!(let_go - from > least, "it went {} mm in two seconds", let_go - from);
        assert!(b.done(), "{:?}", b.heard.last());
        let stands = b.x();
        // a quarter of a second at 25 mm/s, and braking from it at 400 mm/s2 (derived); or the step of 5 mm under way and
        // one more that begins within that time
        assert!(stands - let_go <= over, "{} mm farther after the last repeat", stands - let_go);
        b.run(5.0);
        assert_eq!(b.x(), stands, "and it stands");
        assert!(
            !b.heard.iter().any(|r| matches!(r, Report::Fault { .. } | Report::NotDone { .. } | Report::Down { .. }))
        );
    }
}

#[test]
fn it_never_leaves_the_way_it_was_given() {
    for (mut b, seconds) in [(Bench::homed(Vec::new()), 3.0), (numbered(), 20.0)] {
        let from = b.x();
        b.begin_run(7.0);
        b.keeps_on(seconds);
        assert!(b.done(), "{:?}", b.heard.last());
        assert!((b.x() - from - 7.0).abs() < 0.01, "{}", b.x() - from);
    }
}

#[test]
fn what_is_over_is_not_begun_again_by_a_late_repeat() {
    let mut b = Bench::homed(Vec::new());
    b.begin_run(300.0);
    b.keeps_on(0.5);
    assert!(b.done());
    let stands = b.x();
    b.keeps_on(1.0);
    assert_eq!(b.x(), stands);
}

#[test]
fn a_hold_or_a_stop_ends_it_at_once() {
    for stop in [Command::Hold, Command::Stop] {
        let mut b = Bench::homed(Vec::new());
        b.begin_run(300.0);
        b.keeps_on(1.0);
        let at = b.x();
        b.tell(stop);
        b.keeps_on(1.0);
        let stands = b.x();
        // 25 mm/s at 400 mm/s2: 0.8 mm (derived), and what the way there takes
        assert!(stands - at < 2.5, "{} mm", stands - at);
        b.keeps_on(2.0);
        assert_eq!(b.x(), stands);
    }
}

#[test]
fn a_cable_that_comes_out_ends_it_within_what_was_sent() {
    let mut b = Bench::homed(Vec::new());
    b.begin_run(300.0);
    b.keeps_on(1.0);
    let at = b.x();
    b.link.take(b.now, Input::Lost("the cable is out"));
    while b.link.next_output().is_some() {}
    for _ in 0..100 {
        b.now = b.now.after_ms(50);
        b.machine.advance(b.now);
    }
    // four steps of a tenth of a second are ahead at most
    assert!(b.x() - at <= 10.0 + 2.5, "{} mm", b.x() - at);
}

#[test]
fn it_wants_a_permit_and_a_machine_that_stands() {
    let mut b = Bench::homed(Vec::new());
    let permit = b.permit(Class::Cut);
    let how = Run { axis: Axis::Y, up: true, most: Length::whole_mm(50), feed: Feed::from_unit(FEED).unwrap() };
    b.tell(Command::Run { permit, how });
    let before = b.machine.truly_at();
    b.run(1.0);
    assert!(b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })));
    assert_eq!(b.machine.truly_at(), before);
    b.begin(&many());
    let before = b.heard.len();
    let permit = b.permit(Class::Hand);
    b.tell(Command::Run { permit, how });
    assert!(b.heard[before..].iter().any(|r| matches!(r, Report::NotDone { .. })), "a program is under way");
}
