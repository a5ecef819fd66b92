//! The bit brought over known places by the operator's key, through the real daemon and the practice machine: the mark, the
//! sheet's corner, and the place where a stopped cut goes on.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::{Act, Axis};
use chargehand_types::checklist::{Ask, OFF_THE_MARK, StepAnswer};
use chargehand_types::event::What;
use chargehand_types::now::{Motion, Now, OfferedAct};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Spot;
use chargehand_types::stage::{Decision, Grade, Stage};

fn asks(now: &Now, step: &str) -> bool {
    now.task.as_ref().is_some_and(|t| t.step.id == step)
}

fn answer(client: &Client, step: &str, answer: StepAnswer) -> Result<String, ProblemKind> {
    client.act(Act::Answer { step: step.into(), answer }).map(|a| a.said).map_err(|p| p.kind)
}

/// Presses the key until the bit is there; the axes it moved along, in order, and where it was sent.
fn bring(client: &Client) -> (Vec<Axis>, Spot) {
    let mut axes = Vec::new();
    loop {
        let now = client.until("it stands", |n| n.machine.motion == Motion::Still);
        let Some(Ask::Hover { at, leg, there }) = now.task.map(|t| t.step.ask) else { panic!("no step for it") };
        let Some(leg) = leg else {
            assert!(there);
            return (axes, at);
        };
        assert!(!there && axes.len() < 5, "{axes:?}");
        axes.push(leg.axis);
        client.act(Act::Approach).unwrap();
    }
}

/// How far the bit stands beside a place, and how high above the sheet's face.
fn beside(client: &Client, at: Spot) -> (f64, f64) {
    let here = client.now().machine.at.unwrap();
    ((here.x - at.x).mm().hypot((here.y - at.y).mm()), here.z.mm())
}

#[test]
fn the_zero_is_looked_at_over_the_mark() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk("the mark is asked for", |_, n| asks(n, "mark") && n.machine.motion == Motion::Still);
    let said = answer(&client, "mark", StepAnswer::Done).unwrap();
    assert!(said.contains("not over it yet") && asks(&client.now(), "mark"), "{said}");
    let (axes, at) = bring(&client);
    assert_eq!((axes, at.x.mm(), at.y.mm()), (vec![Axis::Z, Axis::X, Axis::Y, Axis::Z], 5.0, 5.0));
    let (off, high) = beside(&client, at);
    assert!(off < 0.05 && (high - 10.0).abs() < 0.05, "{off} mm beside it, {high} mm above the face");
    assert_eq!(client.act(Act::Approach).unwrap_err().kind, ProblemKind::NotNow, "it is there");

    // eyes count more than reports: nothing is cut before home was found and everything was asked anew
    let said = answer(&client, "mark", StepAnswer::Choice { key: OFF_THE_MARK.into() }).unwrap();
    assert!(said.contains("find home"), "{said}");
    let now = client.now();
    assert!(!now.machine.position_known && !now.machine.zero_confirmed && asks(&now, "off"), "{:?}", now.task);
    assert!(now.task.unwrap().note.unwrap().contains("find home"));
    let refused = client.all_events().into_iter().any(
        |e| matches!(e.what, What::StepAnswered { step, taken: false, answer: StepAnswer::Choice { .. }, .. } if step == "mark"),
    );
    assert!(refused, "it is in the record");
    assert!(now.actions.iter().any(|o| o.act == OfferedAct::BitFree));
    assert!(client.act(Act::CycleStart).is_err());

    owner.walked.clear();
    owner.walk_sheets(1);
    let walked = |owner: &Operator, step: &str| owner.walked.iter().filter(|w| w.contains(step)).count();
    assert!(walked(&owner, "tooling/mark: approach") >= 3, "{:#?}", owner.walked);
    assert_eq!(
        (walked(&owner, "tooling/mark: answer"), walked(&owner, "tooling/corner")),
        (1, 0),
        "{:#?}",
        owner.walked
    );
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
    owner.walked.clear();
    owner.walk_sheets(1);
    assert!(owner.walked.iter().all(|w| !w.contains("approach")), "a repeat has no such step: {:#?}", owner.walked);
}

#[test]
fn a_shop_without_a_mark_looks_over_the_corner() {
    let mut shop = Workshop::new(60.0);
    shop.edit("daemon.toml", |t| t.replace("mark = [5.0, 5.0]", ""));
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk_sheets(1);
    assert!(owner.walked.iter().all(|w| !w.contains("/mark")) && owner.walked.iter().any(|w| w.contains("/corner")));
}

#[test]
fn a_stopped_cut_goes_on_only_after_a_look_over_its_edge() {
    let mut shop = Workshop::new(20.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk_into_cut();
    client.until("some lines are done", |n| {
        n.sheet.as_ref().and_then(|s| s.operation.as_ref()).is_some_and(|o| o.line.is_some_and(|line| line > 12))
    });
    client.act(Act::Stop).unwrap();
    let now = owner.walk("it can go on", |_, n| {
        n.sheet.as_ref().and_then(|s| s.stopped.as_ref()).is_some_and(|s| s.choices.contains(&Decision::ReEnter))
    });
    let enter = now.sheet.as_ref().unwrap().stopped.as_ref().unwrap().enter_at.unwrap();
    let sheet = now.sheet.unwrap().id;
    client.act(Act::Decide { sheet, decision: Decision::ReEnter, line: None }).unwrap();
    owner.walked.clear();
    owner.walk("the edge is asked for", |_, n| asks(n, "entry") && n.machine.motion == Motion::Still);
    let (_, at) = bring(&client);
    assert_eq!((at.x, at.y), (enter.x, enter.y), "where the screen showed it");
    assert!(beside(&client, at).0 < 0.05);
    assert_ne!(client.now().sheet.unwrap().stage, Stage::Cutting);
    owner.walk_sheets(1);
    assert!(owner.walked.iter().any(|w| w.contains("tooling/entry: answer")), "{:#?}", owner.walked);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}
