//! A line that is refused ends what it is of, and nothing else; and nothing of it that moves goes out after it.

use super::*;

impl Bench {
    /// The next line is refused.
    fn refuses(&mut self) {
        self.machine.befall(self.now, Fault::Refuse);
    }

    fn sent_since(&self, from: usize) -> String {
        let bytes = self.written[from..].iter().copied().filter(|b| *b != b'?').collect();
        String::from_utf8(bytes).unwrap()
    }

    /// What was not done, of all that is not yet forgotten.
    fn not_done(&self) -> Vec<Wanted> {
        let of = |r: &Report| match r {
            Report::NotDone { what, .. } => Some(*what),
            _ => None,
        };
        self.heard.iter().filter_map(of).collect()
    }
}

#[test]
fn nobody_is_brought_sideways_who_could_not_be_raised() {
    let mut b = Bench::homed(Vec::new());
    let (at, from) = (b.machine.at(), b.written.len());
    b.refuses();
    let permit = b.permit(Class::Hand);
    b.tell(Command::Over { permit, at: Point::new(Length::whole_mm(200), Length::whole_mm(300), Length(0)) });
    b.run(3.0);
    assert_eq!((b.not_done(), b.machine.at()), (vec![Wanted::HandMove], at));
    assert_eq!(b.sent_since(from), "G21G53G0Z0\n");
}

#[test]
fn lengths_are_places_again_after_a_move_that_was_refused() {
    let mut b = Bench::homed(Vec::new());
    let from = b.written.len();
    b.refuses();
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(5), feed: Feed(1_500_000_000) });
    b.run(1.0);
    assert_eq!(b.not_done(), [Wanted::HandMove]);
    assert_eq!(b.sent_since(from), "G21G91G1X5F1500\nG90\n");
}

#[test]
fn a_spindle_that_is_not_switched_off_leaves_the_move_beside_it_to_be_stopped() {
    let mut b = Bench::homed(Vec::new());
    b.refuses();
    b.tell(Command::Spindle(None));
    let permit = b.permit(Class::Hand);
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(150), feed: Feed(1_500_000_000) });
    b.run(0.5);
    assert_eq!(b.not_done(), [Wanted::Spindle], "{:?}", b.heard);
    b.tell(Command::Stop);
    assert!(!b.heard.iter().any(|r| matches!(r, Report::Stopped { .. })), "it moves still");
    assert!(b.until(5.0, |r| matches!(r, Report::Stopped { .. })), "{:?}", b.heard.last());
    let at = b.machine.at();
    b.run(2.0);
    assert_eq!(b.machine.at(), at);
    assert!(at[0] < 140.0, "{at:?}");
}

#[test]
fn a_move_whose_last_line_is_refused_is_held() {
    let mut b = Bench::homed(Vec::new());
    let permit = b.permit(Class::Hand);
    b.lost = Some(b"G90\n");
    b.tell(Command::HandMove { permit, axis: Axis::X, by: Length::whole_mm(150), feed: Feed(1_500_000_000) });
    b.run(0.3);
    b.link.take(b.now, Input::Bytes(b"error:20\r\n"));
    b.drain();
    assert!(b.until(1.0, |r| matches!(r, Report::NotDone { what: Wanted::HandMove, .. })), "{:?}", b.heard);
    b.run(2.0);
    let at = b.machine.at();
    b.run(2.0);
    assert!(b.machine.at() == at && at[0] < 100.0, "{at:?}");
}
