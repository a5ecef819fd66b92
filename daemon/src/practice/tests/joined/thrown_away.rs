//! What the controller was sent and did not come to is thrown away before anything else is asked of it, and what it still
//! does that nobody asked for is held.

use super::*;
use crate::practice::Homing;

const RESET: u8 = 0x18;
const FEED: Feed = Feed(1_500_000_000);

impl Bench {
    fn moves(&mut self, mm: i64) {
        let permit = self.permit(Class::Hand);
        self.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(mm), feed: FEED });
    }

    fn loses_its_cable_in_a_move(&mut self) {
        self.moves(150);
        self.run(0.3);
        self.link.take(self.now, Input::Lost("the cable is out"));
        self.drain();
        self.link.take(self.now, Input::Opened);
        self.drain();
    }

    /// In the middle of a program.
    fn in_a_fault() -> Self {
        let mut b = Self::homed(vec![(20, Fault::Alarm)]);
        b.begin(&many());
        assert!(b.until(60.0, |r| matches!(r, Report::Fault { .. })), "{:?}", b.heard.last());
        b
    }

    /// It stands, and has come less than that far along X since it was at home.
    fn stands_short_of(&mut self, mm: f64) {
        let at = self.machine.at();
        self.run(2.0);
        assert_eq!(self.machine.at(), at, "it stands");
        assert!(at[0] < mm, "{at:?}");
    }

    fn resets(&self) -> usize {
        self.written.iter().filter(|b| **b == RESET).count()
    }
}

#[test]
fn after_a_fault_nothing_that_waits_in_it_is_left() {
    let mut b = Bench::in_a_fault();
    assert_eq!(b.resets(), 1);
    b.moves(5);
    let busy = |r: &Report| matches!(r, Report::NotDone { what: Wanted::HandMove, why: NotDone::Busy(_), .. });
    assert!(b.heard.iter().any(busy), "not before it is clear: {:?}", b.heard.last());
    b.heard.clear();
    // what leads out of the fault waits until then
    let lines = |b: &Bench| b.written.iter().filter(|c| **c == b'\n').count();
    let before = lines(&b);
    let permit = b.permit(Class::Unlock);
    b.tell(Command::Unlock(permit));
    assert_eq!(lines(&b), before, "not before it is clear");
    b.run(1.0);
    assert_eq!(lines(&b), before + 1);
    b.moves(5);
    assert!(b.until(5.0, |r| *r == Report::HandDone), "{:?}", b.heard);
    let wrong = |r: &Report| matches!(r, Report::Restarted { .. } | Report::NotDone { .. } | Report::Fault { .. });
    assert!(!b.heard.iter().any(wrong), "told once, and no restart: {:?}", b.heard);
    assert_eq!(b.resets(), 1);
}

#[test]
fn a_reset_that_was_made_while_it_moved_is_one_fault_and_no_restart() {
    let mut b = Bench::homed(Vec::new());
    b.moves(150);
    b.tell(Command::Stop);
    // this one goes on moving, is told to give up all the same, and greets after its fault
    let heard = |b: &mut Bench, after_ms: u64, line: &str| {
        b.now = b.now.after_ms(after_ms);
        b.link.take(b.now, Input::Woke);
        b.drain();
        b.link.take(b.now, Input::Bytes(line.as_bytes()));
        b.drain();
    };
    for _ in 0..3 {
        heard(&mut b, 750, "<Run|MPos:20.000,0.000,0.000>\r\n");
    }
    assert_eq!(b.resets(), 1);
    heard(&mut b, 5, "ALARM:3\r\n");
    b.moves(5);
    let busy = |r: &Report| matches!(r, Report::NotDone { what: Wanted::HandMove, why: NotDone::Busy(_), .. });
    assert!(b.heard.iter().any(busy), "not before it is clear: {:?}", b.heard.last());
    heard(&mut b, 5, "Small 1.0 ['$' for help]\r\n");
    heard(&mut b, 300, "<Alarm|MPos:20.000,0.000,0.000>\r\n");
    let told = |r: &&Report| matches!(r, Report::Restarted { .. } | Report::Fault { .. } | Report::Stopped { .. });
    let told: Vec<_> = b.heard.iter().filter(told).collect();
    assert!(matches!(told[..], [Report::Fault { position_lost: true, .. }]), "{told:?}");
    let permit = b.permit(Class::Unlock);
    b.heard.clear();
    b.tell(Command::Unlock(permit));
    assert!(!b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })), "{:?}", b.heard);
}

#[test]
fn a_move_that_outlived_the_cable_is_held() {
    let mut b = Bench::homed(Vec::new());
    b.loses_its_cable_in_a_move();
    b.run(2.0);
    b.stands_short_of(100.0);
    assert!(!b.heard.iter().any(|r| matches!(r, Report::Fault { .. })), "held first, it costs nothing: {:?}", b.heard);
}

#[test]
fn what_was_sent_before_its_greeting_was_heard_is_not_done() {
    let habits = Habits { homing: Homing::Optional, ..Habits::default() };
    let mut b = Bench::speaking(ACKNOWLEDGED_WINDOW, habits, Vec::new()).at_home();
    b.machine.befall(b.now, Fault::Restart);
    // it has started, and its greeting is on its way
    b.now = b.now.after_ms(1_200);
    b.machine.advance(b.now);
    b.moves(150);
    assert!(b.until(5.0, |r| matches!(r, Report::Restarted { .. })), "{:?}", b.heard.last());
    b.run(2.0);
    b.stands_short_of(100.0);
}

#[test]
fn a_stop_holds_whatever_moves() {
    let text =
        ACKNOWLEDGED_WINDOW.replace("reset_when_held = \"keeps-position\"", "reset_when_held = \"loses-position\"");
    assert_ne!(text, ACKNOWLEDGED_WINDOW);
    let mut b = Bench::speaking(&text, Habits::default(), Vec::new()).at_home();
    b.loses_its_cable_in_a_move();
    b.run(1.0);
    assert!(b.resets() == 0 && b.machine.at()[0] > 30.0, "left alone, since a reset would cost its position");
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { position_kept: false, .. })), "{:?}", b.heard.last());
    b.stands_short_of(100.0);
}

#[test]
fn home_asked_for_right_after_a_fault_is_found() {
    let mut b = Bench::in_a_fault();
    b.heard.clear();
    let permit = b.permit(Class::Home);
    b.tell(Command::Home(permit));
    assert!(b.until(10.0, |r| *r == Report::Homed), "{:?}", b.heard);
    // one that a stop comes before is not
    let mut b = Bench::in_a_fault();
    b.heard.clear();
    let permit = b.permit(Class::Home);
    b.tell(Command::Home(permit));
    b.tell(Command::Stop);
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { .. })), "{:?}", b.heard);
    assert!(!b.until(10.0, |r| *r == Report::Homed), "{:?}", b.heard);
}

#[test]
fn a_fault_that_is_heard_before_anything_is_believed_is_passed_on() {
    let mut b = Bench::homed(Vec::new());
    b.link.take(b.now, Input::Lost("the cable is out"));
    b.drain();
    b.heard.clear();
    b.link.take(b.now, Input::Opened);
    b.drain();
    b.link.take(b.now, Input::Bytes(b"ALARM:1\r\n"));
    b.drain();
    assert!(matches!(b.heard[..], [Report::Said(_)]), "{:?}", b.heard);
}

#[test]
fn one_that_started_anew_while_it_was_held_is_sent_no_line_when_it_is_resumed() {
    for order in [Command::Hold, Command::HoldAtLift] {
        let habits = Habits { homing: Homing::Optional, ..Habits::default() };
        let mut b = Bench::speaking(ACKNOWLEDGED_WINDOW, habits, Vec::new()).at_home();
        b.begin(&format!("G21G90F1200\n{}M2\n", "G0Z5\nX0\nG1Z-3\nX20\n".repeat(40)));
        b.run(1.0);
        b.tell(order);
        let stands = |r: &Report| matches!(r, Report::Held { .. } | Report::HeldAtLift(_));
        assert!(b.until(60.0, stands), "{:?}", b.heard.last());
        b.machine.befall(b.now, Fault::Restart);
        // it has started, and its greeting is on its way
        b.now = b.now.after_ms(1_200);
        b.machine.advance(b.now);
        let (at, sent) = (b.machine.at(), b.written.len());
        let permit = b.permit(Class::Resume);
        b.tell(Command::Resume(permit));
        assert!(b.until(5.0, |r| matches!(r, Report::Restarted { .. })), "{:?}", b.heard.last());
        assert!(!b.written[sent..].contains(&b'\n'), "no line of the program");
        assert_eq!(b.machine.at(), at);
    }
}
