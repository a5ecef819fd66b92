//! Where no byte acts at once: a change of feed is a line among the program's.

use super::*;
use crate::practice::Wire;
use crate::shop::profile::NUMBERED_CHECKSUM;

fn homed() -> Bench {
    Bench::speaking(NUMBERED_CHECKSUM, Habits { wire: Wire::Numbered, ..Habits::default() }, Vec::new()).at_home()
}

/// Machine seconds a program takes with feeds at so much per cent from its beginning.
fn seconds_at(feed: Option<u16>) -> f64 {
    let mut b = homed();
    b.begin(&format!("G21G90F600\nG0X0Y0Z-5\n{}M30\n", "G1X60\nG1X0\n".repeat(4)));
    if feed.is_some() {
        b.tell(Command::Override(Override { feed, rapid: None }));
    }
    let begun = b.now;
    assert!(b.until(900.0, |r| matches!(r, Report::Finished(_))), "{:?}", b.heard.last());
    assert_eq!(b.machine.executed(), 9, "no line is lost by it");
    b.now.us_since(begun) as f64 / 1.0e6
}

#[test]
fn feeds_are_changed_by_a_line() {
    // 480 mm at 600 mm/min take 48 s, and twice that at half the feed (derived; the ramps at 400 mm/s2 are short)
    let (whole, half) = (seconds_at(None), seconds_at(Some(50)));
    assert!((1.9..2.1).contains(&(half / whole)), "{whole} s, then {half} s");
}

#[test]
fn rapids_are_slowed_where_the_profile_has_words_for_it() {
    let text = NUMBERED_CHECKSUM.replacen("raise = ", "rapid_override = \"M220 R{per_cent}\"\nraise = ", 1);
    let mut b = Bench::speaking(&text, Habits { wire: Wire::Numbered, ..Habits::default() }, Vec::new()).at_home();
    b.begin(&many());
    b.run(3.0);
    b.tell(Command::Override(Override { feed: None, rapid: Some(25) }));
    b.run(3.0);
    assert_eq!(String::from_utf8_lossy(&b.written).matches("M220 R25").count(), 1);
}

#[test]
fn what_was_set_is_told_and_what_cannot_be_said_is_refused() {
    let mut b = homed();
    b.begin(&many());
    b.run(3.0);
    b.tell(Command::Override(Override { feed: Some(70), rapid: None }));
    b.run(3.0);
    let told = b.heard.iter().rev().find_map(|r| if let Report::State(s) = r { Some(s.per_cent) } else { None });
    assert_eq!(told.flatten(), Some([70, 100]));
    let sent = String::from_utf8_lossy(&b.written).matches("M220").count();
    assert_eq!(sent, 1);
    b.tell(Command::Override(Override { feed: None, rapid: Some(50) }));
    assert!(b.heard.iter().any(|r| matches!(r, Report::NotDone { .. })), "it has no words for rapids");
    b.run(1.0);
    assert_eq!(String::from_utf8_lossy(&b.written).matches("M220").count(), sent);
}
