//! A move by hand that is held: it is over then, with its place kept, and the program that waits goes on when it is told to.

use super::*;
use crate::link::wire::Touch;
use crate::practice::IdleHold;

const FEED: Feed = Feed(1_500_000_000);

/// A shop's profile in which every move by hand is made in words that can be broken off.
fn breaks_off() -> Bench {
    let line = |line: &str| match line.split_once(" = ") {
        Some(("hand_move", _)) => "hand_move = \"$J=G21G91{axis}{by}F{feed}\"\n".to_owned(),
        Some(("over", _)) => "over = \"$J=G21G90G53Z{z}F5000|$J=G21G90G53X{x}Y{y}F5000\"\n".to_owned(),
        _ => line.to_owned(),
    };
    let text: String = ACKNOWLEDGED_WINDOW.split_inclusive('\n').map(line).collect();
    let habits = Habits { idle_hold: IdleHold::Taken, ..Habits::default() };
    Bench::speaking(&text, habits, Vec::new()).at_home()
}

impl Bench {
    /// Up by 40 mm by hand, or over a place.
    fn sets_out(&mut self, over: bool) {
        let permit = self.permit(Class::Hand);
        let far = Length::whole_mm(40);
        self.tell(if over {
            Command::Over { permit, at: Point::new(Length::whole_mm(300), Length::whole_mm(300), Length::whole_mm(-2)) }
        } else {
            Command::HandMove { permit, axis: Axis::Z, by: far, feed: FEED }
        });
    }

    /// It was over, and told so; where it stands is known, and it stays there.
    fn is_over(&mut self, over: bool) {
        let from = self.machine.at();
        self.heard.clear();
        self.tell(Command::Hold);
        assert!(self.until(3.0, |r| *r == Report::HandDone), "{over}: {:?}", self.heard.last());
        let stands = self.machine.at();
        let went = (0..3).map(|axis| (stands[axis] - from[axis]).abs()).fold(0.0, f64::max);
        // 5000 mm/min at 200 mm/s2: 17.4 mm to a stand (derived), and what the way there takes
        assert!(went < 20.0, "{over}: it went on for {went} mm");
        self.run(3.0);
        assert_eq!(self.machine.at(), stands, "{over}: nothing of it is left");
        assert!((self.machine.truly_at().z.mm() - stands[2]).abs() < 0.001, "{over}: no step is lost");
    }
}

#[test]
fn at_a_bit_change_it_is_over_and_the_program_goes_on() {
    for over in [false, true] {
        let mut b = super::at_prompt::asked_of(breaks_off());
        b.sets_out(over);
        b.run(0.2);
        b.is_over(over);
        assert!(!b.heard.iter().any(|r| matches!(r, Report::Held { .. } | Report::NotDone { .. })), "{:?}", b.heard);
        let permit = b.permit(Class::Resume);
        b.tell(Command::Resume(permit));
        assert!(b.until(90.0, |r| matches!(r, Report::Finished(_))), "{over}: {:?}", b.heard.last());
    }
}

#[test]
fn with_no_program_it_is_over_too() {
    for over in [false, true] {
        let mut b = breaks_off();
        let permit = b.permit(Class::Hand);
        b.tell(Command::HandMove { permit, axis: Axis::Z, by: Length::whole_mm(-60), feed: FEED });
        assert!(b.until(10.0, |r| *r == Report::HandDone), "{:?}", b.heard.last());
        b.sets_out(over);
        b.run(0.2);
        b.is_over(over);
    }
}

#[test]
fn a_touch_that_is_held_on_its_way_up_does_not_go_down_again() {
    let mut b = breaks_off();
    b.machine.hand(b.now, Hand::LayPlate(Length::whole_mm(-30)));
    let slow = Feed(60_000_000);
    let (reach, off, up) = (Length::whole_mm(40), Length::whole_mm(8), Length::whole_mm(5));
    let permit = b.permit(Class::Hand);
    b.tell(Command::Touch { permit, how: Touch { reach, quick: FEED, off, slow, up } });
    let mut least = 0.0_f64;
    while b.machine.at()[2] < least + 2.0 {
        b.run(0.02);
        least = least.min(b.machine.at()[2]);
    }
    assert!(least < -29.0, "it met the plate: {least}");
    b.tell(Command::Hold);
    let given_up = |r: &Report| matches!(r, Report::NotDone { what: Wanted::Touch, .. });
    assert!(b.until(3.0, given_up), "{:?}", b.heard.last());
    let stands = b.machine.at();
    b.run(5.0);
    assert_eq!(b.machine.at(), stands);
}

#[test]
fn a_hold_that_did_not_reach_a_move_is_told_again_while_it_moves() {
    let mut b = Bench::homed(Vec::new());
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(150), feed: FEED });
    b.run(0.2);
    b.lost = Some(b"!");
    b.tell(Command::Hold);
    b.lost = None;
    b.run(2.0);
    let stands = b.machine.at();
    b.run(5.0);
    assert!(b.machine.at() == stands && stands[0] < 40.0, "{stands:?}");
    // and no more once it stands
    let holds = |b: &Bench| b.written.iter().filter(|c| **c == b'!').count();
    let told = holds(&b);
    b.run(5.0);
    assert_eq!(holds(&b), told);
    // let go by its own button it runs out
    b.machine.hand(b.now, Hand::ResumeButton);
    assert!(b.until(10.0, |r| *r == Report::HandDone), "{:?}", b.heard.last());
    assert!((b.machine.at()[0] - 150.0).abs() < 0.001);
}
