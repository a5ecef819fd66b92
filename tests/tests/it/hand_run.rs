//! A key held down moves an axis; let go, or with its terminal killed, it stops. With the real daemon, the machine at a
//! port, and the terminal on a pseudo-terminal whose keys repeat as a keyboard's do.

use crate::touching::at_the_touch;
use chargehand_daemon::simulator::Simulator;
use chargehand_tests::at_line::Screen;
use chargehand_tests::client::{Client, Token, fresh};
use chargehand_types::act::{Act, Axis};
use chargehand_types::now::Motion;
use chargehand_types::problem::ProblemKind;
use rustix::process::Signal;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A keyboard repeats about so often (common practice, no source).
const REPEAT: Duration = Duration::from_millis(33);
/// Before it repeats for the first time.
const FIRST: Duration = Duration::from_millis(500);
/// Runs go at 25 mm/s by the profile; a repeat counts for a quarter of a second, and four steps of 2.5 mm may be ahead.
const FARTHER_MM: f64 = 0.25 * 25.0 + 4.0 * 2.5;
const RUN: Act = Act::HandRun { axis: Axis::X, up: true };

fn x(machine: &Simulator) -> f64 {
    machine.seen().at.x.mm()
}

/// Where it stands once it stands.
fn stands(machine: &Simulator, client: &Client) -> f64 {
    client.until("it stands", |n| n.machine.motion == Motion::Still);
    let at = x(machine);
    sleep(Duration::from_secs(1));
    assert_eq!(x(machine), at, "it stands");
    at
}

/// Presses a key as it comes from a keyboard that is held down, until so far was gone.
fn held_down(screen: &mut Screen, machine: &Simulator, key: &str, far: f64) {
    let from = x(machine);
    let begun = Instant::now();
    screen.press(key);
    sleep(FIRST);
    while (x(machine) - from).abs() < far {
        assert!(begun.elapsed() < Duration::from_secs(30), "it does not move\n{}", screen.text());
        screen.press(key);
        sleep(REPEAT);
    }
}

/// The terminal at the touch step, set to move while a key is held down.
fn ready_to_run(shop: &chargehand_tests::workshop::Workshop) -> Screen {
    let mut screen = Screen::open(&shop.socket(), 80, 24);
    screen.until("One press moves 1 mm");
    sleep(FIRST);
    for told in ["One press moves 10 mm", "One press moves 50 mm", "Hold a key down: it moves; let go: it stops"] {
        screen.press("+");
        screen.until(told);
    }
    screen
}

#[test]
fn a_key_held_down_moves_and_let_go_it_stops() {
    let (shop, machine, client) = at_the_touch();
    let mut screen = ready_to_run(&shop);
    let from = x(&machine);
    screen.press("\u{1b}[C");
    sleep(Duration::from_secs(1));
    assert_eq!(x(&machine), from, "one press alone moves nothing");
    held_down(&mut screen, &machine, "\u{1b}[C", 20.0);
    let let_go = x(&machine);
    let at = stands(&machine, &client);
    assert!(at - let_go <= FARTHER_MM, "{} mm after the key was let go", at - let_go);
    // and back by the letter, held at once by the space bar
    held_down(&mut screen, &machine, "l", 10.0);
    screen.press(" ");
    let held = x(&machine);
    for _ in 0..30 {
        screen.press("l");
        sleep(REPEAT);
    }
    let at = stands(&machine, &client);
    assert!((held - at).abs() <= FARTHER_MM, "{} mm after the hold", held - at);
}

#[test]
fn a_terminal_killed_in_the_middle_of_a_move_stops_it() {
    let (shop, machine, client) = at_the_touch();
    let mut screen = ready_to_run(&shop);
    held_down(&mut screen, &machine, "r", 20.0);
    screen.signal(Signal::KILL);
    let killed = x(&machine);
    let at = stands(&machine, &client);
    assert!(at > killed - 1.0 && at - killed <= FARTHER_MM, "{} mm after it was killed", at - killed);
}

#[test]
fn only_the_terminal_that_began_it_keeps_it_on() {
    let (_shop, machine, client) = at_the_touch();
    let version = client.now().version;
    let afar = client.act_with(fresh(), version, RUN, Token::NotShown).unwrap_err();
    assert_eq!(afar.kind, ProblemKind::NotPermitted);
    let from = x(&machine);
    client.act_seen(version, RUN).unwrap();
    // repeats carry what was seen before it moved, as a terminal's do
    for _ in 0..20 {
        client.act_seen(version, RUN).unwrap();
        sleep(REPEAT);
    }
    let back = Act::HandRun { axis: Axis::X, up: false };
    assert!(client.act_seen(version, back).is_err(), "another direction is another move");
    assert!(x(&machine) - from > 5.0, "{} mm", x(&machine) - from);
    let at = stands(&machine, &client);
    let late = client.act_seen(version, RUN).unwrap_err();
    assert_eq!(late.kind, ProblemKind::SeenIsOld, "a repeat that comes late begins nothing");
    sleep(Duration::from_millis(500));
    assert_eq!(x(&machine), at);
}
