//! The closing touch, whole: with a plate after the bit was pulled out of its collet, and with paper after a cut in which
//! nothing slipped; what no slip explains; and the bit raised before it is taken out.

use crate::touching::{FACE, at_the_touch, note, test_the_wire, touches};
use chargehand_daemon::practice::Hand;
use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::{Act, Axis};
use chargehand_types::call::CallReason;
use chargehand_types::checklist::{Ask, ListKind, StepAnswer};
use chargehand_types::event::What;
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

    let aside = client.act(Act::ZeroHere { axis: Axis::Z, above: Length::ZERO }).unwrap_err();
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

/// Moves up or down, and waits until it stands.
fn moved(client: &Client, mm: f64) {
    client.act(Act::HandMove { axis: Axis::Z, by: Length::from_mm(mm).unwrap() }).unwrap();
    client.until("it stands", |n| n.machine.motion == Motion::Still);
}

/// How far the bit stands above the face, in mm.
fn above(now: &Now) -> f64 {
    now.machine.at.unwrap().z.mm()
}

/// 39 mm above the wood is in the air, however often it is said, until the owner says so too.
#[test]
fn a_touch_that_no_slip_explains_is_believed_of_the_owner_alone() {
    let mut shop = Workshop::new(20.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk("the closing touch", |_, n| again(n) && n.machine.motion == Motion::Still);
    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    client.act(Act::OverSpot).unwrap();
    client.until("over the place", |n| n.machine.motion == Motion::Still);
    moved(&client, -10.0);
    moved(&client, -10.0);
    assert!((above(&client.now()) - 39.0).abs() < 0.05, "{}", above(&client.now()));
    let touch = || client.act(Act::ZeroHere { axis: Axis::Z, above: Length::ZERO }).unwrap();
    for _ in 0..3 {
        let said = touch().said;
        assert!(
            said.contains("39 mm higher") && said.contains("25.4 mm here") && said.contains("only the owner"),
            "{said}"
        );
        assert!(again(&client.now()), "the zero still counts");
    }
    client.act(Act::SignOut).unwrap();
    Operator::owner(&client).sign_in();
    touch();
    let record = client.sheet(&client.now().sheet.unwrap().id.0);
    let [touched] = record.touched_again.as_slice() else { panic!("{record:?}") };
    assert!(touched.suspect && (touched.off.mm() - 39.0).abs() < 0.05, "{touched:?}");
}

/// What is asked after a closing touch with so much between bit and wood, at a change to another bit.
fn after_the_touch(client: &Client, owner: &mut Operator<'_>, between: f64) -> Now {
    let so = |n: &Now| again(n) && n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Tooling);
    owner.walk("the closing touch at the bit change", |_, n| so(n) && n.machine.motion == Motion::Still);
    client.act(Act::OverSpot).unwrap();
    client.until("over the place", |n| n.machine.motion == Motion::Still);
    let down = |step: f64| {
        while above(&client.now()) > between + step - 0.05 {
            moved(client, -step)
        }
    };
    [50.0, 10.0, 1.0].into_iter().for_each(down);
    client.act(Act::ZeroHere { axis: Axis::Z, above: Length::from_mm(between).unwrap() }).unwrap().now
}

#[test]
fn the_bit_is_raised_before_it_is_taken_out() {
    let mut shop = Workshop::new(40.0);
    shop.edit("label-board.card.toml", |text| {
        let (first, last) = text.rsplit_once("bit = \"c635\"").unwrap();
        format!("{first}bit = \"d635\"{last}")
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let mut owner = Operator::owner(&client);

    let asked = after_the_touch(&client, &mut owner, 0.0);
    let task = asked.task.clone().unwrap();
    assert!(task.step.killer && matches!(task.step.ask, Ask::Raise { leg: Some(_), clear: false }), "{task:?}");
    let looked = || client.act(Act::Answer { step: "raised".into(), answer: StepAnswer::Done }).unwrap();
    assert!(looked().said.contains("stands on the wood"));
    moved(&client, 1.0);
    let said = looked();
    assert!(said.said.contains("1 mm above the wood. Raise it to 20 mm"), "{said:?}");
    assert_eq!((step(&said.now), to_know(&said.now)), ("raised".to_owned(), false));
    client.act(Act::Approach).unwrap();
    let high = client.until("it stands high", |n| n.machine.motion == Motion::Still);
    assert!(matches!(high.task.as_ref().unwrap().step.ask, Ask::Raise { leg: None, clear: true }), "{:?}", high.task);
    assert!(above(&high) > 50.0, "{}", above(&high));
    assert_eq!(client.act(Act::Approach).unwrap_err().kind, ProblemKind::NotNow, "it is there");
    assert_eq!(step(&looked().now), "bit", "now it may be taken out");
    let answers: Vec<bool> = client
        .all_events()
        .into_iter()
        .filter_map(|e| match e.what {
            What::StepAnswered { step, taken, .. } if step == "raised" => Some(taken),
            _ => None,
        })
        .collect();
    assert_eq!(answers, [false, false, true], "each is in the record");
    owner.walk_sheets(1);

    // with as much between as a touch plate leaves, nothing is to be raised
    let asked = after_the_touch(&client, &mut owner, 20.0);
    assert_eq!(step(&asked), "bit-diameter", "{:?}", asked.task);
    assert_eq!(asked.task.unwrap().of, 6, "and no number is left out");
    owner.walk_sheets(1);
}

/// What was compared is written down, and there is nothing to compare it with any more: neither whoever was called away from
/// the list nor a look at the bit once more has it touched again.
#[test]
fn what_was_compared_is_not_asked_for_once_more() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk("the closing touch", |_, n| again(n));
    let now = owner.walk("it is compared", |_, n| stage(n) == Some(Stage::TakingOff) && !again(n) && number(n) > 3);
    client.act(Act::Trouble).unwrap();
    let back = client.now();
    assert!(!again(&back) && step(&back) == step(&now), "{:?}", back.task);
    client.act(Act::BeginList { list: ListKind::Opening }).unwrap();
    let back = owner.walk("the sheet's list", |_, n| n.task.as_ref().is_some_and(|t| t.list == ListKind::TakingOff));
    assert!(matches!(back.task.unwrap().step.ask, Ask::RunDown { .. }));
    owner.walk("on", |_, n| number(n) > 2);
    assert_eq!(step(&client.now()), step(&now));
    owner.walk_sheets(1);
}

fn number(now: &Now) -> u32 {
    now.task.as_ref().map_or(0, |t| t.number)
}
