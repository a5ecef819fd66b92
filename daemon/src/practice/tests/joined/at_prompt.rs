//! At a bit change in the middle of a program somebody presses the machine's own button, or opens its door: the bit is
//! changed and touched all the same, and the program goes on when it is told to, and not before.

use super::*;
use crate::practice::IdleHold;

const TWO_BITS: &str = "G21G90F1200\nG0Z5\nG1Z-3\nX40\nG0Z5\nM5\nT2M6\nM3S9000\nG1Z-3\nX0\nG0Z5\nM2\n";

/// At the change.
pub(super) fn asked() -> Bench {
    let habits = Habits { idle_hold: IdleHold::Taken, ..Habits::default() };
    asked_of(Bench::speaking(ACKNOWLEDGED_WINDOW, habits, Vec::new()).at_home())
}

pub(super) fn asked_of(mut b: Bench) -> Bench {
    b.begin(TWO_BITS);
    assert!(b.until(60.0, |r| matches!(r, Report::AtPrompt { .. })), "{:?}", b.heard.last());
    b.heard.clear();
    b
}

impl Bench {
    fn hands(&mut self, hands: &[Hand]) {
        for hand in hands {
            self.machine.hand(self.now, *hand);
            self.run(0.5);
        }
    }

    fn is_held(&self) -> bool {
        let state = self.heard.iter().rev().find_map(|r| if let Report::State(s) = r { Some(s.word) } else { None });
        state == Some(StateWord::Holding)
    }

    /// Moves up by 10 mm by hand.
    fn up(&mut self) {
        let permit = self.permit(Class::Hand);
        let by = Length::whole_mm(10);
        self.tell(Command::HandMove { permit, axis: Axis::Z, by, feed: Feed(1_500_000_000) });
    }
}

#[test]
fn a_bit_is_changed_though_the_door_was_opened_or_the_button_pressed() {
    for hands in [&[Hand::HoldButton][..], &[Hand::OpenDoor, Hand::CloseDoor], &[Hand::HoldButton, Hand::ResumeButton]]
    {
        let mut b = asked();
        b.hands(hands);
        assert_eq!(b.is_held(), hands.last() != Some(&Hand::ResumeButton), "{hands:?}");
        // a word of it that is heard after the program was told to go on would say that it is held while it runs
        assert!(!b.heard.iter().any(|r| matches!(r, Report::Held { .. })), "{hands:?}: {:?}", b.heard);
        let (at, from) = (b.machine.at(), b.written.len());
        b.up();
        assert!(b.until(5.0, |r| *r == Report::HandDone), "{hands:?}: {:?}", b.heard);
        assert!((b.machine.at()[2] - at[2] - 10.0).abs() < 1.0e-6, "{hands:?}");
        b.tell(Command::ZeroHere { epoch: b.link.epoch(), axis: Axis::Z, value: Length::whole_mm(15) });
        assert!(b.until(5.0, |r| *r == Report::SettingTaken), "{hands:?}: {:?}", b.heard);
        assert!(!b.written[from..].windows(5).any(|w| w == b"S9000"), "nothing of the program went out");
        let permit = b.permit(Class::Resume);
        b.tell(Command::Resume(permit));
        assert!(b.until(60.0, |r| matches!(r, Report::Finished(_))), "{hands:?}: {:?}", b.heard.last());
        assert_eq!(b.machine.at()[0], 10.0, "{hands:?}");
    }
}

#[test]
fn an_open_door_lets_nothing_move() {
    let mut b = asked();
    b.hands(&[Hand::OpenDoor]);
    let at = b.machine.at();
    b.up();
    b.run(3.0);
    assert_eq!(b.machine.at(), at);
    assert!(!b.heard.contains(&Report::HandDone));
}

#[test]
fn a_move_that_is_being_given_up_is_neither_gone_on_with_nor_raised() {
    for raise in [false, true] {
        let mut b = Bench::homed(Vec::new());
        b.begin(&many());
        b.run(10.0);
        b.tell(Command::Hold);
        assert!(b.until(3.0, |r| matches!(r, Report::Held { .. })));
        b.tell(Command::Stop);
        let from = b.written.len();
        let what = if raise {
            let permit = b.permit(Class::Raise);
            b.tell(Command::Raise { permit, machine_z: Length(0) });
            Wanted::Raise
        } else {
            let permit = b.permit(Class::Resume);
            b.tell(Command::Resume(permit));
            Wanted::Resume
        };
        let busy =
            Report::NotDone { what, of: Some(b.link.epoch()), why: NotDone::Busy("something else is under way") };
        assert!(b.heard.contains(&busy), "{:?}", b.heard.last());
        assert!(b.until(5.0, |r| matches!(r, Report::Stopped { position_kept: true, .. })));
        let since: Vec<u8> = b.written[from..].iter().copied().filter(|c| *c != b'?').collect();
        assert!(!since.contains(&b'~') && !since.contains(&b'Z'), "{:?}", String::from_utf8_lossy(&since));
    }
}
