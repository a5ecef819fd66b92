//! The lists of the day through the real daemon: due, walked, put down and taken up again, and who may begin without.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::{Ask, DayListNow, ListKind, StepAnswer};
use chargehand_types::event::What;
use chargehand_types::now::Now;
use chargehand_types::problem::ProblemKind;
use chargehand_types::stage::Stage;

const RATE: f64 = 60.0;

fn shop_with_a_sheet() -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    (shop, client)
}

fn standing(now: &Now, list: ListKind) -> DayListNow {
    now.lists.iter().find(|l| l.list == list).cloned().unwrap()
}

fn is_due(now: &Now, list: ListKind) -> bool {
    standing(now, list).due.is_some()
}

/// The step asked now, as its id and its number.
fn step(now: &Now) -> (String, u32) {
    now.task.as_ref().map(|t| (t.step.id.clone(), t.number)).unwrap()
}

fn begin(client: &Client, list: ListKind) -> Now {
    client.act(Act::BeginList { list }).unwrap_or_else(|p| panic!("{p}")).now
}

fn choose(client: &Client, key: &str) -> Now {
    let step = client.now().task.unwrap().step.id;
    client.act(Act::Answer { step, answer: StepAnswer::Choice { key: key.to_owned() } }).unwrap().now
}

/// The answer that lets the step go on.
fn go_on(client: &Client) -> Now {
    let now = client.until("the run-down is over", |n| match n.task.as_ref().map(|t| &t.step.ask) {
        Some(Ask::RunDown { left, .. }) => *left <= 0.0,
        _ => true,
    });
    let task = now.task.unwrap();
    let answer = match task.step.ask {
        Ask::Choose { options } => StepAnswer::Choice { key: options[0].key.clone() },
        Ask::RunDown { .. } => StepAnswer::Still,
        _ => StepAnswer::Done,
    };
    client.act(Act::Answer { step: task.step.id, answer }).unwrap_or_else(|p| panic!("{p}")).now
}

fn finish(client: &Client) -> Now {
    let mut now = client.now();
    while now.task.as_ref().is_some_and(|t| t.list.is_of_day()) {
        now = go_on(client);
    }
    now
}

#[test]
fn a_helper_begins_nothing_before_the_shop_is_open() {
    let (mut shop, client) = shop_with_a_sheet();
    assert!(is_due(&client.now(), ListKind::Opening));
    let refused = client.act(Act::BeginList { list: ListKind::Opening }).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotPermitted, "nobody is signed in: {refused}");
    Operator::helper(&client).sign_in();
    let refused = client.act(Act::TakeSheet { sheet: None }).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotPermitted);
    assert!(refused.detail.contains("owner, who may begin without it"), "{refused}");

    let now = begin(&client, ListKind::Opening);
    assert_eq!(step(&now), ("red-button".to_owned(), 1));
    let now = choose(&client, "fails");
    assert_eq!(step(&now), ("red-button".to_owned(), 1), "the list does not go on");
    assert!(now.task.unwrap().note.unwrap().contains("main plug"));
    choose(&client, "works");
    assert_eq!(step(&go_on(&client)), ("board".to_owned(), 3));
    // put down: the place is kept, through a restart of the daemon too
    let now = client.act(Act::LeaveList).unwrap().now;
    assert_eq!((now.task.is_none(), standing(&now, ListKind::Opening).left_off), (true, Some([2, 7])));
    shop.kill();
    let client = shop.start();
    Operator::helper(&client).sign_in();
    let now = begin(&client, ListKind::Opening);
    assert_eq!(step(&now), ("board".to_owned(), 3));
    assert!(now.task.unwrap().note.unwrap().contains("Look at this step again"));
    // somebody else does not go on with what another looked at
    client.act(Act::SignOut).unwrap();
    Operator::owner(&client).sign_in();
    assert_eq!(step(&begin(&client, ListKind::Opening)), ("red-button".to_owned(), 1));
    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    begin(&client, ListKind::Opening);
    let now = finish(&client);
    let opening = standing(&now, ListKind::Opening);
    assert_eq!((opening.due, opening.by.map(|p| p.0)), (None, Some("Emrik".to_owned())));
    client.act(Act::TakeSheet { sheet: None }).unwrap();

    let events = client.all_events();
    let signed = events.iter().find(|e| e.what == What::DaySigned { list: ListKind::Opening }).unwrap();
    assert_eq!(signed.actor.as_ref().map(|a| a.who.0.as_str()), Some("Emrik"));
    let answered: Vec<_> = events
        .iter()
        .filter(|e| matches!(&e.what, What::StepAnswered { list: ListKind::Opening, .. }))
        .map(|e| (e.sheet.is_none(), e.actor.is_some()))
        .collect();
    assert!(answered.len() >= 10 && answered.iter().all(|a| *a == (true, true)), "{answered:?}");
    assert!(events.iter().all(|e| !matches!(e.what, What::DayPassedOver { .. })), "nobody passed anything over");
}

#[test]
fn the_owner_may_begin_without_and_it_is_written_down() {
    let (_shop, client) = shop_with_a_sheet();
    Operator::owner(&client).sign_in();
    client.act(Act::TakeSheet { sheet: None }).unwrap();
    let passed = What::DayPassedOver { lists: vec![ListKind::Opening] };
    let events = client.all_events();
    let event = events.iter().find(|e| e.what == passed).unwrap();
    assert_eq!(event.actor.as_ref().map(|a| a.who.0.as_str()), Some("Solveig"));
}

#[test]
fn closing_ends_at_the_wall_switch_and_a_warm_slot_holds_it() {
    let (_shop, client) = shop_with_a_sheet();
    Operator::helper(&client).sign_in();
    begin(&client, ListKind::Opening);
    finish(&client);
    begin(&client, ListKind::Closing);
    while step(&client.now()).0 != "slots" {
        go_on(&client);
    }
    let now = choose(&client, "warm");
    assert_eq!(step(&now).0, "slots");
    assert!(now.task.unwrap().note.unwrap().starts_with("Stay with it."));
    while step(&client.now()).0 != "wall-switch" {
        go_on(&client);
    }
    let now = go_on(&client);
    assert!(now.task.is_none() && is_due(&now, ListKind::Opening), "closed: it is to be opened again");
}

#[test]
fn whoever_comes_takes_the_machine_over_by_value() {
    let (_shop, client) = shop_with_a_sheet();
    Operator::helper(&client).sign_in();
    begin(&client, ListKind::Opening);
    finish(&client);
    client.act(Act::SignOut).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk("the sheet is secured", |_, n| n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Tooling));
    assert!(!is_due(&client.now(), ListKind::HandOver), "it is the owner's own sheet");
    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    assert!(is_due(&client.now(), ListKind::HandOver));
    begin(&client, ListKind::HandOver);
    go_on(&client);
    let now = choose(&client, "moving");
    assert!(now.task.unwrap().note.unwrap().contains("The controller says otherwise"));
    choose(&client, "still");
    let value = |value: f64| {
        let step = client.now().task.unwrap().step;
        let Ask::Value { expect, .. } = step.ask else { panic!("{step:?}") };
        assert_eq!(expect, None, "what proves a look is not shown");
        client.act(Act::Answer { step: step.id, answer: StepAnswer::Value { value } }).unwrap().now
    };
    assert!(value(7.0).task.unwrap().note.is_some(), "another sheet's label");
    value(1.0);
    assert_eq!(step(&value(0.0)).0, "told");
    let now = finish(&client);
    assert!(!is_due(&now, ListKind::HandOver));
    let mut helper = Operator::helper(&client);
    helper.walk_sheets(1);
}

/// A list of the day has the router switched off, which is counted out anew: the sheet's list asks for the look once more, or
/// no later step of it could be done.
#[test]
fn a_list_of_the_day_that_switches_the_spindle_off_has_the_sheets_list_look_at_the_bit_again() {
    let (_shop, client) = shop_with_a_sheet();
    let mut owner = Operator::owner(&client);
    let touches = |now: &Now| now.task.as_ref().is_some_and(|t| matches!(t.step.ask, Ask::TouchAgain { .. }));
    let left = owner.walk("the closing touch", |_, n| touches(n));
    begin(&client, ListKind::Opening);
    let now = finish(&client);
    let task = now.task.unwrap();
    assert!(matches!(task.step.ask, Ask::RunDown { .. }) && task.number < left.task.unwrap().number, "{:?}", task.step);
    let note = task.note.unwrap();
    assert!(task.to_know && note.contains("the bit may have turned"), "{note}");
    owner.walk_sheets(1);
}

#[test]
fn after_a_cut_that_broke_off_its_list_is_due() {
    let (mut shop, client) = shop_with_a_sheet();
    Operator::owner(&client).walk_into_cut();
    let refused = client.act(Act::BeginList { list: ListKind::Closing }).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotNow, "not while it cuts: {refused}");
    assert!(!is_due(&client.now(), ListKind::AfterPowerCut));
    shop.kill();
    let client = shop.start();
    Operator::owner(&client).sign_in();
    client.until("the line is open", |n| n.machine.link == chargehand_types::now::LinkNow::Up);
    assert!(is_due(&client.now(), ListKind::AfterPowerCut));
    let now = begin(&client, ListKind::AfterPowerCut);
    assert!(now.task.unwrap().step.caution.is_some());
    let now = finish(&client);
    assert!(!is_due(&now, ListKind::AfterPowerCut));
}
