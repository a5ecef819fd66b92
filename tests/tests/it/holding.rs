//! Hold, lift, resume; who may do what; and acts that come twice, late or for another step.

use chargehand_tests::client::{Client, Token, fresh};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::{Act, Axis};
use chargehand_types::call::CallReason;
use chargehand_types::checklist::StepAnswer;
use chargehand_types::event::What;
use chargehand_types::id::Person;
use chargehand_types::now::{Motion, Now};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use chargehand_types::queue::{AddBatch, BatchList, Done};
use chargehand_types::stage::{Grade, HeldBy, Stage};

const RATE: f64 = 20.0;

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

fn held_by(now: &Now) -> Option<HeldBy> {
    now.sheet.as_ref().and_then(|s| s.held.as_ref()).map(|h| h.by)
}

/// A shop with the short card and a batch of it.
fn shop_with_batch(sheets: u32) -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, sheets).unwrap();
    (shop, client)
}

/// Where the bit is in each of the next reports on the stream.
fn next_places(client: &Client, reports: usize) -> Vec<serde_json::Value> {
    let mut stream = client.events(None);
    let mut places = Vec::new();
    while places.len() < reports {
        let message = stream.next_message().expect("the stream goes on");
        if message.event == "position" {
            places.push(message.data["at"].clone());
        }
    }
    places
}

#[test]
fn held_cut_stands_and_goes_on() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    operator.walk_into_cut();
    client.act(Act::Hold).unwrap();
    let held = client.until("held", |n| stage(n) == Some(Stage::Held) && n.machine.motion == Motion::Held);
    assert_eq!(held_by(&held), Some(HeldBy::Person));
    assert!(held.sheet.as_ref().unwrap().held.as_ref().unwrap().bit_in_cut, "it was held in the cut");
    assert!(held.headline.contains("the bit may still turn"), "{}", held.headline);
    let line = held.sheet.unwrap().operation.unwrap().line;
    let places = next_places(&client, 5);
    assert!(places[0].is_array() && places.iter().all(|p| *p == places[0]), "nothing moves: {places:?}");
    let later = client.now();
    assert_eq!((stage(&later), later.sheet.unwrap().operation.unwrap().line), (Some(Stage::Held), line));

    client.act(Act::Resume).unwrap();
    client.until("cutting again", |n| stage(n) == Some(Stage::Cutting) && n.machine.motion == Motion::Moving);
    let places = next_places(&client, 3);
    assert!(places.iter().any(|p| *p != places[0]), "it moves again: {places:?}");
    operator.walk_sheets(1);
    let record = &client.history().sheets[0];
    assert_eq!((record.grade, record.stops.len()), (Some(Grade::Good), 0));
    let slots = &record.operations[0];
    let ratio = slots.real.unwrap().value() / slots.predicted.value();
    println!("held {:.2} s, real over predicted {ratio:.3}", slots.held.value());
    assert!(slots.held.value() > 0.0, "the hold is counted apart");
    assert!((ratio - 1.0).abs() < 0.1, "and not as cutting");
}

#[test]
fn hold_at_lift_waits_for_it() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    operator.walk_into_cut();
    let next_lift = |n: &Now| n.sheet.as_ref().and_then(|s| s.operation.as_ref()).and_then(|o| o.next_lift);
    client.until("the wait for the lift is told", |n| next_lift(n).is_some());
    client.act(Act::HoldAtLift).unwrap();
    let held = client.until("held", |n| stage(n) == Some(Stage::Held));
    assert_eq!(held_by(&held), Some(HeldBy::Lift));
    assert!(held.machine.at.unwrap().z > Length::ZERO, "with the bit out of the wood");
    assert!(!held.sheet.unwrap().held.unwrap().bit_in_cut);
    client.act(Act::Resume).unwrap();
    operator.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn hold_from_afar_waits_for_lift() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    let now = operator.walk_into_cut();
    client.act_with(fresh(), now.version, Act::Hold, Token::NotShown).unwrap();
    let held = client.until("held", |n| stage(n) == Some(Stage::Held));
    assert_eq!(held_by(&held), Some(HeldBy::Lift));
    assert!(held.machine.at.unwrap().z > Length::ZERO);
    assert!(held.calls.iter().any(|c| c.reason == CallReason::HeldFromAfar), "{:?}", held.calls);
    let refused = client.act_with(fresh(), held.version, Act::Resume, Token::NotShown).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotPermitted);
    operator.walk_sheets(1);
}

#[test]
fn repeated_act_is_done_once() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    operator.walk_into_cut();
    client.act(Act::Hold).unwrap();
    let held = client.until("held", |n| n.machine.motion == Motion::Held && stage(n) == Some(Stage::Held));
    let resume = fresh();
    let first = client.act_with(resume.clone(), held.version, Act::Resume, Token::Shown).unwrap();
    client.until("cutting again", |n| n.machine.motion == Motion::Moving);
    client.act(Act::Hold).unwrap();
    let held = client.until("held again", |n| n.machine.motion == Motion::Held && stage(n) == Some(Stage::Held));
    let again = client.act_with(resume, held.version, Act::Resume, Token::Shown).unwrap();
    assert_eq!(again.said, first.said, "a repeated act gets the first answer");
    let places = next_places(&client, 3);
    assert!(places.iter().all(|p| *p == places[0]), "and does nothing: {places:?}");
    assert_eq!(stage(&client.now()), Some(Stage::Held));
    operator.walk_sheets(1);
}

/// Hold and stop go to the line before anything else; a repeated one must not.
#[test]
fn repeated_hold_holds_once() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    let now = operator.walk_into_cut();
    let hold = fresh();
    let first = client.act_with(hold.clone(), now.version, Act::Hold, Token::Shown).unwrap();
    let held = client.until("held", |n| n.machine.motion == Motion::Held && stage(n) == Some(Stage::Held));
    client.act_seen(held.version, Act::Resume).unwrap();
    client.until("cutting again", |n| n.machine.motion == Motion::Moving);
    let again = client.act_with(hold, now.version, Act::Hold, Token::Shown).unwrap();
    assert_eq!(again.said, first.said);
    let line = client.now().sheet.unwrap().operation.unwrap().line;
    let moved = |n: &Now| n.sheet.as_ref().is_none_or(|s| s.operation.as_ref().is_none_or(|o| o.line > line));
    let now = client.until("some lines further, or held", |n| moved(n) || stage(n) == Some(Stage::Held));
    assert_eq!(stage(&now), Some(Stage::Cutting), "a repeated hold holds nothing");
}

#[test]
fn repeated_batch_adds_nothing() {
    let (_shop, client) = shop_with_batch(1);
    let request = AddBatch { command_id: fresh(), card: CARD.into(), sheets: 3, due: None, weight: None };
    let _: Done = client.post("/v1/batches", &request).unwrap();
    let _: Done = client.post("/v1/batches", &request).unwrap();
    let list: BatchList = client.get("/v1/batches").unwrap();
    assert_eq!(list.batches.len(), 2);
}

#[test]
fn repeated_batch_gets_first_answer() {
    let (_shop, client) = shop_with_batch(1);
    let request = AddBatch { command_id: fresh(), card: CARD.into(), sheets: 3, due: None, weight: None };
    let first: Done = client.post("/v1/batches", &request).unwrap();
    let again: Done = client.post("/v1/batches", &request).unwrap();
    assert_eq!(again, first);
}

#[test]
fn late_confirmation_is_refused() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    let seen = operator.walk("the first step", |_, n| n.task.is_some());
    let step = seen.task.clone().unwrap().step.id;
    let answer = |step: &str| Act::Answer { step: step.to_owned(), answer: StepAnswer::Done };
    client.act_seen(seen.version, answer(&step)).unwrap();
    let after = client.now();
    assert_ne!(after.version, seen.version);
    for act in [answer(&step), Act::CycleStart, Act::Resume, Act::Home, Act::SignFinding { fingerprint: "f".into() }] {
        let problem = client.act_seen(seen.version, act).unwrap_err();
        assert_eq!((problem.kind, problem.status), (ProblemKind::SeenIsOld, 412));
    }
    // the right version, and yet another step than the one asked
    let problem = client.act_seen(after.version, answer(&step)).unwrap_err();
    assert_eq!((problem.kind, problem.status), (ProblemKind::SeenIsOld, 412));
    assert!(problem.detail.contains(&after.task.clone().unwrap().step.id), "{problem}");
    let now = client.now();
    assert_eq!((now.seq, now.version), (after.seq, after.version), "nothing was written down");
}

#[test]
fn moving_needs_the_token() {
    let (_shop, client) = shop_with_batch(1);
    let mut operator = Operator::owner(&client);
    let seen = operator.walk("a list", |_, n| n.task.is_some());
    let by = Length::from_mm(-0.1).unwrap();
    let acts = [
        Act::SignIn { who: Person::from("Solveig"), pin: None },
        Act::SignOut,
        Act::TakeSheet { sheet: None },
        Act::CycleStart,
        Act::Resume,
        Act::Raise,
        Act::Home,
        Act::ConfirmZero,
        Act::HandMove { axis: Axis::Z, by },
        Act::ZeroHere { axis: Axis::Z, above: Length::ZERO },
    ];
    for act in acts {
        let problem = client.act_with(fresh(), seen.version, act.clone(), Token::NotShown).unwrap_err();
        assert_eq!((problem.kind, problem.status), (ProblemKind::NotPermitted, 403), "{act:?}");
    }
    let now = client.now();
    assert_eq!((now.seq, now.version), (seen.seq, seen.version), "nothing happened");
}

#[test]
fn only_the_owner_signs_findings() {
    let mut shop = Workshop::new(RATE);
    // a feed that this machine has not proved itself at asks for the owner's signature
    shop.edit("label-board-slots.nc", |t| t.replace("G1 X85 F2700", "G1 X85 F3300"));
    let client = shop.start();
    let added = client.add_card(&shop.card()).unwrap();
    assert!(!added.findings.is_empty());
    client.add_batch(CARD, 1).unwrap();
    let now = Operator::helper(&client).walk("a sheet is on the machine", |_, n| n.sheet.is_some());
    let finding = now.sheet.as_ref().unwrap().to_sign[0].fingerprint.clone();
    let problem = client.act(Act::SignFinding { fingerprint: finding.clone() }).unwrap_err();
    assert_eq!((problem.kind, problem.status), (ProblemKind::NotPermitted, 403));
    assert!(problem.detail.contains("owner"), "{problem}");
    client.act(Act::SignOut).unwrap();
    let owner = Operator::owner(&client);
    owner.sign_in();
    client.act(Act::SignFinding { fingerprint: finding }).unwrap();
    assert!(client.now().sheet.unwrap().to_sign.is_empty());
    let signed = client.all_events().into_iter().find(|e| matches!(e.what, What::FindingSigned { .. })).unwrap();
    assert_eq!(signed.actor.unwrap().who.0, "Solveig");
}

#[test]
fn unread_confirmation_is_refused() {
    let mut shop = Workshop::new(RATE);
    shop.edit("daemon.toml", |t| t.replace("scripted_operator = true", "scripted_operator = false"));
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).sign_in();
    client.act(Act::TakeSheet { sheet: None }).unwrap();
    let step = client.now().task.unwrap().step.id;
    let problem = client.act(Act::Answer { step, answer: StepAnswer::Done }).unwrap_err();
    assert_eq!((problem.kind, problem.status), (ProblemKind::NotNow, 409));
    assert!(problem.detail.contains("Read the step"), "{problem}");
}

#[test]
fn feeds_are_slower_or_faster_within_what_a_person_may() {
    let (_shop, client) = shop_with_batch(1);
    let helper = Operator::helper(&client);
    let feed = |feed| client.act(Act::Override { feed: Some(feed), rapid: None });
    // nobody is at the machine yet
    let refused = client.act(Act::Override { feed: Some(80), rapid: None }).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotPermitted, "{refused:?}");
    let mut owner = Operator::owner(&client);
    owner.walk_into_cut();
    feed(150).unwrap();
    client.until("what the controller says", |n| n.machine.per_cent == Some([150, 100]));
    for (wrong, word) in [(95, "tens"), (10_000, "200"), (0, "10 to 200")] {
        let refused = feed(wrong).unwrap_err();
        assert_eq!(refused.kind, ProblemKind::BadRequest, "{refused:?}");
        assert!(format!("{refused:?}").contains(word), "{refused:?}");
    }
    let refused = client.act(Act::Override { feed: None, rapid: Some(60) }).unwrap_err();
    assert!(format!("{refused:?}").contains("25, 50 or 100"), "{refused:?}");
    client.act(Act::Override { feed: None, rapid: Some(25) }).unwrap();
    client.until("rapids too", |n| n.machine.per_cent == Some([150, 25]));
    client.act(Act::SignOut).unwrap();
    helper.sign_in();
    let refused = feed(120).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotPermitted, "{refused:?}");
    assert!(format!("{refused:?}").contains("50 to 110"), "{refused:?}");
    feed(110).unwrap();
    client.until("a helper's", |n| n.machine.per_cent == Some([110, 25]));
    // from afar nothing is made faster
    let afar =
        client.act_with(fresh(), client.now().version, Act::Override { feed: Some(50), rapid: None }, Token::NotShown);
    assert_eq!(afar.unwrap_err().kind, ProblemKind::NotPermitted);
    let sheet = client.now().sheet.unwrap().id;
    assert_eq!(
        client.sheet(&sheet.0).overrides,
        [[Some(150), None], [None, Some(25)], [Some(110), None]],
        "written down, the refused ones not"
    );
    client.act(Act::Hold).unwrap();
}

#[test]
fn the_next_chain_begins_as_it_is_written() {
    let (_shop, client) = shop_with_batch(2);
    let mut operator = Operator::owner(&client);
    operator.walk_into_cut();
    client.act(Act::Override { feed: Some(200), rapid: None }).unwrap();
    client.until("faster", |n| n.machine.per_cent == Some([200, 100]));
    operator.walk_sheets(1);
    operator.walk_into_cut();
    client.until("as written", |n| n.machine.per_cent == Some([100, 100]));
    client.act(Act::Hold).unwrap();
}
