//! The closing touch, whole: with a plate after the bit was pulled out of its collet, and with paper after a cut in which
//! nothing slipped.

use crate::touching::{FACE, at_the_touch, note, test_the_wire, touches};
use chargehand_daemon::practice::Hand;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::call::CallReason;
use chargehand_types::checklist::Ask;
use chargehand_types::now::{Motion, Now};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use chargehand_types::stage::{Decision, Grade, Stage};

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

fn step(now: &Now) -> String {
    now.task.as_ref().map_or_else(String::new, |t| t.step.id.clone())
}

fn to_know(now: &Now) -> bool {
    now.task.as_ref().is_some_and(|t| t.to_know)
}

fn again(now: &Now) -> bool {
    now.task.as_ref().is_some_and(|t| matches!(t.step.ask, Ask::TouchAgain { .. }))
}

#[test]
fn a_pulled_bit_is_found_by_the_plate_and_the_batch_waits_for_the_owner() {
    let (shop, machine, client) = at_the_touch();
    test_the_wire(&machine);
    machine.hand(Hand::LayPlate(FACE));
    client.act(Act::TouchPlate).unwrap();
    client.until("the zero is taken", |n| !touches(n) && n.machine.motion == Motion::Still);
    machine.hand(Hand::TakePlate);
    let mut owner = Operator::owner(&client);
    let now = owner.walk_into_cut();
    // the bit comes 0.3 mm out of its collet; nothing tells it
    machine.hand(Hand::Slip(Length(-300_000)));
    client.act(Act::Stop).unwrap();
    client.until("stopped", |n| stage(n) == Some(Stage::Stopped) && n.machine.motion == Motion::Still);
    client.act(Act::RedButton { pressed: false }).unwrap();
    let sheet = now.sheet.unwrap().id;
    client.act(Act::Decide { sheet: sheet.clone(), decision: Decision::End, line: None }).unwrap();
    owner.walk("the closing touch", |_, n| again(n));

    let aside = client.act(Act::ZeroHere { axis: chargehand_types::act::Axis::Z, above: Length::ZERO }).unwrap_err();
    assert!(aside.detail.contains("from where the zero was touched"), "{aside}");
    client.act(Act::OverSpot).unwrap();
    client.until("over the place", |n| n.machine.motion == Motion::Still);
    for touch in ["first", "second"] {
        test_the_wire(&machine);
        machine.hand(Hand::LayPlate(FACE));
        client.act(Act::TouchPlate).unwrap();
        if touch == "first" {
            let told = client.until("it is to be touched once more", |n| note(n).contains("higher"));
            assert!(note(&told).contains("0.3 mm higher") && note(&told).contains("once more"), "{}", note(&told));
            assert!(!to_know(&told), "that touch was not taken");
            assert!(again(&told), "one touch alone is not believed");
        } else {
            client.until("it is believed", |n| !again(n) && n.machine.motion == Motion::Still);
        }
        machine.hand(Hand::TakePlate);
    }
    let told = client.now();
    assert!(note(&told).contains("too deep") && note(&told).contains("collet"), "{}", note(&told));
    assert!(to_know(&told), "of the step asked now it says nothing");
    assert!(told.calls.iter().any(|c| c.reason == CallReason::Suspect), "{:?}", told.calls);
    owner.walk_sheets(1);
    let record = client.sheet(&sheet.0);
    let [touched] = record.touched_again.as_slice() else { panic!("{record:?}") };
    assert!(touched.suspect && (touched.off - Length(300_000)).abs() < Length(20_000), "{touched:?}");
    let shown = shop.says(&shop.path(""), &["sheet", "show", &sheet.0]);
    assert!(shown.said.contains("touched again") && shown.said.contains("not trusted"), "{shown:?}");

    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    let waits = client.act(Act::TakeSheet { sheet: None }).unwrap_err();
    assert_eq!(waits.kind, ProblemKind::NotPermitted);
    assert!(waits.detail.contains("waits for the owner"), "{waits}");
    client.act(Act::SignOut).unwrap();
    owner.walk("the bit is fitted anew", |_, n| step(n) == "bit-diameter");
}

#[test]
fn a_bit_that_sat_fast_is_told_and_written_down() {
    let mut shop = Workshop::new(20.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk_sheets(1);
    assert!(owner.walked.iter().any(|w| w.contains("over-spot")), "{:#?}", owner.walked);
    let record = &client.history().sheets[0];
    let [touched] = record.touched_again.as_slice() else { panic!("{record:?}") };
    assert_eq!((touched.off, touched.suspect, touched.bit.0.as_str()), (Length::ZERO, false, "c635"));
    assert_eq!(record.grade, Some(Grade::Good));
}
