//! A controller that starts anew in the middle of a move, and whose greeting nobody heard: its reports alone tell.

use super::*;
use crate::link::wire::{Run, Touch};

const FEED: Feed = Feed(600_000_000);

/// Everything that moves but a program, each long enough to be struck in the middle.
fn moves(b: &Bench) -> Vec<(&'static str, Command)> {
    let permit = || b.permit(Class::Hand);
    let far = Length::whole_mm(60);
    let how = Touch {
        reach: Length::whole_mm(20),
        quick: FEED,
        off: Length::whole_mm(2),
        slow: FEED,
        up: Length::whole_mm(5),
    };
    let at = Point::new(far, far, Length::whole_mm(-2));
    vec![
        ("a move by hand", Command::HandMove { permit: permit(), axis: Axis::X, by: far, feed: FEED }),
        ("over a place", Command::Over { permit: permit(), at }),
        ("a plate", Command::Touch { permit: permit(), how }),
        ("a run", Command::Run { permit: permit(), how: Run { axis: Axis::X, up: true, most: far, feed: FEED } }),
    ]
}

/// It is told as a fault that costs the position, and nothing counts as done.
fn struck(mut b: Bench, name: &str, command: Command) {
    b.heard.clear();
    b.tell(command);
    for _ in 0..4 {
        b.run(0.1);
        b.tell(Command::KeepRunning);
    }
    let stands = b.machine.truly_at();
    b.machine.befall(b.now, Fault::RestartUnheard);
    let told = |r: &Report| matches!(r, Report::Fault { position_lost: true, .. });
    assert!(b.until(5.0, told), "{name}: {:?}", b.heard.last());
    b.run(5.0);
    let done = |r: &Report| matches!(r, Report::HandDone | Report::Touched { .. } | Report::Finished(_));
    assert!(!b.heard.iter().any(done), "{name}: {:?}", b.heard);
    assert_eq!(b.heard.iter().filter(|r| told(r)).count(), 1, "{name}: it is told once");
    let went = (b.machine.truly_at() - stands).x.mm().abs();
    assert!(went < 1.0, "{name}: it went on for {went} mm");
}

#[test]
fn it_is_a_fault_in_every_move() {
    for at in 0..4 {
        let b = Bench::homed(Vec::new());
        let (name, command) = moves(&b).swap_remove(at);
        struck(b, name, command);
    }
}

#[test]
fn it_is_a_fault_in_every_move_at_a_bit_change_in_a_program() {
    for at in 0..4 {
        let b = super::at_prompt::asked();
        let (name, command) = moves(&b).swap_remove(at);
        struck(b, name, command);
    }
}

#[test]
fn one_that_says_it_looks_for_home_in_a_move_is_out_of_step() {
    let mut b = Bench::homed(Vec::new());
    let (_, command) = moves(&b).swap_remove(0);
    b.heard.clear();
    b.tell(command);
    b.run(0.3);
    b.link.take(b.now, Input::Bytes(b"<Home|MPos:1.000,1.000,-1.000>\r\n"));
    b.drain();
    let not_done = |r: &Report| matches!(r, Report::NotDone { what: Wanted::HandMove, .. });
    assert!(b.heard.iter().any(not_done), "{:?}", b.heard);
}
