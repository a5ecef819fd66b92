//! The first good sheet of a revision through the real daemon: its joints measured, its approval by the owner alone.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::StepAnswer;
use chargehand_types::event::What;
use chargehand_types::now::OfferedAct;
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use serde_json::Value;

/// What the floor last wrote down of the sheet on the machine.
fn approval(client: &Client) -> Value {
    let events = client.all_events();
    let floor = events.iter().rev().find_map(|e| match &e.what {
        What::SheetStage { floor, .. } => Some(floor["sheet"]["approval"].clone()),
        _ => None,
    });
    floor.unwrap()
}

#[test]
fn the_owner_approves_the_first_article() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    assert_eq!(client.now().to_approve, None, "nothing was cut yet");
    let mut owner = Operator::owner(&client);
    owner.walk_sheets(1);
    let first = client.now().to_approve.unwrap();
    assert_eq!((first.sheet.0.as_str(), first.card.0.as_str(), first.revision), ("B1-1", CARD, 1));
    owner.walk("the second sheet is on the machine", |_, n| n.sheet.is_some());
    assert_eq!(approval(&client), "Awaited");

    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    let offered = client.now().actions.into_iter().find(|o| o.act == OfferedAct::ApproveArticle).unwrap();
    assert!(offered.refused.unwrap().contains("owner"));
    let approve = |sheet: &str| client.act(Act::ApproveArticle { sheet: sheet.into() });
    let refused = approve("B1-1").unwrap_err();
    assert_eq!((refused.kind, refused.status), (ProblemKind::NotPermitted, 403), "{refused}");
    client.act(Act::SignOut).unwrap();
    Operator::owner(&client).sign_in();
    assert_eq!(approve("B1-2").unwrap_err().kind, ProblemKind::NotNow, "it was not cut yet");
    approve("B1-1").unwrap();
    assert_eq!((approval(&client), client.now().to_approve), ("Given".into(), None));
    assert_eq!(approve("B1-1").unwrap_err().kind, ProblemKind::NotNow, "once is enough");
    let event = client.all_events().into_iter().find(|e| matches!(e.what, What::ArticleApproved { .. })).unwrap();
    assert_eq!((event.actor.unwrap().who.0.as_str(), event.sheet.unwrap().0.as_str()), ("Solveig", "B1-1"));
    // it is kept, and asked no second time
    shop.kill();
    let client = shop.start();
    assert_eq!(client.now().to_approve, None);
}

#[test]
fn joints_are_measured_on_a_first_sheet_alone() {
    let mut shop = Workshop::new(60.0);
    let fit = "\n[[fit]]\nname = \"shelf slot\"\nwidth = 12.2\nmate = \"shelf\"\nclearance = [0.1, 0.3]\n";
    shop.edit("label-board.card.toml", |t| t + fit);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let mut owner = Operator::owner(&client);
    let now = owner.walk("the joint is asked for", |_, n| n.task.as_ref().is_some_and(|t| t.step.id == "joint-1"));
    assert!(now.task.unwrap().step.help.unwrap().contains("0.1 to 0.3 mm of play"));
    let read = |value| client.act(Act::Answer { step: "joint-1".into(), answer: StepAnswer::Value { value } }).unwrap();
    let answer = read(6.35);
    assert_eq!(answer.now.task.unwrap().step.id, "joint-1", "that was another slot");
    let answer = read(12.05);
    assert!(answer.said.contains("too tight by 0.05 mm") && answer.said.contains("owner"), "{}", answer.said);
    owner.walk("it is closed", |_, n| n.sheet.is_none());
    let joints = client.sheet("B1-1").joints;
    assert_eq!(joints.len(), 1);
    let mm = |value| Length::from_mm(value).unwrap();
    assert_eq!((joints[0].measured, joints[0].mate, joints[0].play()), (mm(12.05), Some(mm(12.0)), Some(mm(0.05))));
    owner.walked.clear();
    let now = owner.walk("the second one is secured", |_, n| n.task.is_some());
    let changed = now.task.unwrap().changed.unwrap();
    assert_eq!(changed, "Since sheet B1-1 nothing changed but the sheet itself.");
    owner.walk_sheets(1);
    assert!(owner.walked.iter().all(|w| !w.contains("joint-")), "{:#?}", owner.walked);
}
