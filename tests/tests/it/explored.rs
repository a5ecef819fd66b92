//! The neighbourhood of a sheet that waits for cycle start, and a small program on the wire, explored; and that each rule
//! bites: a wrapper that is broken in one place is found out by the rule that is meant for it. The `explore` program
//! goes on to the last state; here the floor is explored so many steps far, with reports heard at once.

use chargehand_daemon::floor::state::{Homing, Setup, SpindleKind};
use chargehand_tests::explore::broken_floor::Break as FloorBreak;
use chargehand_tests::explore::contract::Order;
use chargehand_tests::explore::floor::FloorModel;
use chargehand_tests::explore::link::{Break as LinkBreak, LinkModel, Next};
use chargehand_tests::explore::machine::{STUMBLES, Stumble};
use chargehand_tests::explore::{Explored, explore};
use stateright::Model as _;

const ROUTER: Setup = Setup { spindle: SpindleKind::Manual, homing: Homing::Able };
const SPINDLE: Setup = Setup { spindle: SpindleKind::Controlled, homing: Homing::Able };
const NO_SWITCHES: Setup = Setup { spindle: SpindleKind::Manual, homing: Homing::Unable };

/// Steps that are looked at.
const STEPS: usize = 5;
/// Steps in which each break of the floor must be found.
const STEPS_TO_A_BREAK: usize = 7;

fn floor(setup: Setup, broken: Option<FloorBreak>) -> FloorModel {
    let bits = vec![0, 0];
    let before = Vec::new();
    FloorModel { setup, sheets: 1, bits, troubles: 1, asks: true, helper: true, alone: false, waits: 0, broken, before }
}

fn left_alone(broken: Option<FloorBreak>) -> FloorModel {
    FloorModel { alone: true, helper: false, ..floor(SPINDLE, broken) }
}

fn holds<M: Explored>(name: &str, model: &M, depth: Option<usize>) {
    let told = explore(model, 1, depth, |_, _| ());
    println!("{name}: {} states, {} steps, {} deep", told.states, told.steps, told.depth);
    assert!(told.holds(), "{name}: {told:#?}");
    assert!(told.states > 300, "only {} states", told.states);
}

/// The rule finds the break out.
fn bites<M: Explored>(rule: &str, model: &M, depth: Option<usize>) {
    let told = explore(model, 1, depth, |_, _| ());
    println!("{rule}: found among {} states", told.states);
    assert!(told.broken.iter().any(|(found, _)| *found == rule), "{rule}: {told:#?}");
}

#[test]
fn around_a_start_every_rule_holds() {
    for (name, setup) in [("a router switched by hand", ROUTER), ("a controlled spindle", SPINDLE)] {
        holds(name, &floor(setup, None).ready(), Some(STEPS));
    }
    holds("a morning", &floor(NO_SWITCHES, None), Some(STEPS));
    holds("one that may be left alone", &left_alone(None).ready(), Some(STEPS));
}

#[test]
fn a_small_program_keeps_the_contract() {
    holds("link", &LinkModel::new(&[], None), Some(18));
    holds("link, finding home", &LinkModel::homing(), Some(14));
    for stumble in STUMBLES {
        holds(&format!("link, {stumble:?}"), &LinkModel::new(&[stumble], None), Some(14));
    }
}

/// Found 23 steps from the start: it started anew while it was held, was told to switch off, to raise the bit and to stop
/// before its greeting was heard, and its answer to the first of these was taken for one to the next program.
#[test]
fn an_answer_from_before_a_start_that_was_not_heard_is_none_to_the_next_program() {
    let model = LinkModel::new(&[Stumble::Restarts], None);
    let order = |order| Next::Order(order, true);
    let held = [order(Order::Begin), Next::Takes, order(Order::Hold), Next::Takes, Next::Heard, Next::Heard];
    let shown = [Next::Time, Next::Time, Next::Heard, Next::Time, Next::Time];
    let starts = [Next::Stumbles(Stumble::Restarts), order(Order::Hold), order(Order::Spindle(false)), Next::Takes];
    let stopped = [order(Order::Raise), order(Order::Stop), Next::Heard, Next::Heard];
    let again = [order(Order::Begin), Next::Heard];
    let way = [&[Next::Heard][..], &held, &shown, &starts, &stopped, &again].concat();
    let mut wire = model.init_states().remove(0);
    for next in way {
        wire = model.next_state(&wire, next).unwrap_or_else(|| panic!("{next:?} cannot come: {wire:?}"));
        assert_eq!(wire.broken, None, "after {next:?}: {wire:?}");
    }
}

#[test]
fn every_rule_of_the_floor_bites() {
    use FloorBreak as Break;
    for (rule, broken) in [
        ("no motion without a permit", Break::MovesWithoutPermit),
        ("no start condition skipped", Break::ReadyStaysSigned),
        ("held stays held", Break::ResumesByItself),
        ("each sheet ends in exactly one way", Break::EndsTwice),
        ("no operation is done twice", Break::CountsTwice),
        ("hands only near a bit that stands", Break::BitFittedWhileItTurns),
        ("a stop stops", Break::StopIsIgnored),
        ("a hold reaches the link", Break::HoldIsForgotten),
    ] {
        bites(rule, &floor(ROUTER, Some(broken)).ready(), Some(STEPS_TO_A_BREAK));
    }
    let rule = "nothing runs on with nobody there who may leave it";
    bites(rule, &left_alone(Some(Break::NobodyIsMissed)).ready(), Some(STEPS_TO_A_BREAK));
    bites("no start condition skipped", &floor(ROUTER, Some(Break::DoubtIsForgotten)).ready(), Some(STEPS_TO_A_BREAK));
    for (rule, setup, broken) in [
        ("no motion uninvited", ROUTER, Break::StartsByItself),
        ("no position believed that is lost", ROUTER, Break::PositionKnownOnceItAnswers),
        ("no bit believed still that turns", NO_SWITCHES, Break::StillOnceSwitchedOff),
    ] {
        bites(rule, &floor(setup, Some(broken)), Some(STEPS_TO_A_BREAK));
    }
}

#[test]
fn every_rule_of_the_link_bites() {
    use LinkBreak as Break;
    for (rule, broken) in [
        ("nothing moves uninvited", Break::MovesUninvited),
        ("held stays held", Break::GoesOnByItself),
        ("no more waits than its buffer holds", Break::WindowTooWide),
        ("every line once, in its order", Break::LineLeftOut),
        ("what is told done is done", Break::DoneTooEarly),
        ("every word keeps the contract", Break::SaysItTwice),
        ("a stop stops", Break::StopIsSwallowed),
    ] {
        bites(rule, &LinkModel::new(&[], Some(broken)), None);
    }
}
