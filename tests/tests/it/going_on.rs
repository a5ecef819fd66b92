//! A stopped cut goes on at its line: proposed, refused where it would not be safe, and cut to the end.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::event::What;
use chargehand_types::id::SheetId;
use chargehand_types::now::Now;
use chargehand_types::problem::ProblemKind;
use chargehand_types::stage::{Decision, Grade, Stage, StopCause};

const RATE: f64 = 20.0;

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

fn re_enter(client: &Client, sheet: &SheetId, line: Option<u32>) -> Result<String, ProblemKind> {
    let act = Act::Decide { sheet: sheet.clone(), decision: Decision::ReEnter, line };
    client.act(act).map(|a| a.said).map_err(|p| p.kind)
}

/// The lines at which operations were begun.
fn first_lines(client: &Client) -> Vec<(String, u32)> {
    let begun = |what| match what {
        What::OperationStarted { operation, from_line, .. } => Some((operation, from_line)),
        _ => None,
    };
    client.all_events().into_iter().filter_map(|e| begun(e.what)).collect()
}

/// In the cut, some lines on.
fn some_way_in(client: &Client, operator: &mut Operator) {
    operator.walk_into_cut();
    client.until("some lines are done", |n| {
        n.sheet.as_ref().and_then(|s| s.operation.as_ref()).is_some_and(|o| o.line.is_some_and(|line| line > 12))
    });
}

/// Stopped and asked the first question.
fn stopped(client: &Client, operator: &mut Operator) -> (SheetId, u32) {
    let asked = operator.walk("the first question is answered", |_, n| {
        n.sheet.as_ref().and_then(|s| s.stopped.as_ref()).is_some_and(|s| s.choices.contains(&Decision::ReEnter))
    });
    let sheet = asked.sheet.unwrap();
    let done = sheet.stopped.unwrap().record.last_line_done.expect("some line is done");
    println!("stopped after line {done}, {} events", client.all_events().len());
    (sheet.id, done)
}

#[test]
fn a_stopped_cut_goes_on_where_it_was() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    some_way_in(&client, &mut owner);
    client.act(Act::Stop).unwrap();
    let (id, done) = stopped(&client, &mut owner);
    let shown = client.now().sheet.unwrap().stopped.unwrap();
    assert_eq!(shown.enter_line, Some(done + 1), "proposed on the screen");
    assert!(shown.enter_at.is_some_and(|at| at.x.mm() > 0.0 && at.y.mm() > 0.0), "and on its map: {shown:?}");
    assert_eq!(re_enter(&client, &id, Some(done + 2)), Err(ProblemKind::StartCondition), "that was not certainly cut");
    assert_eq!(re_enter(&client, &id, Some(0)), Err(ProblemKind::StartCondition));
    let said = re_enter(&client, &id, None).unwrap();
    assert!(said.contains(&format!("line {}", done + 1)), "{said}");
    assert_ne!(stage(&client.now()), Some(Stage::Cutting), "the lists come first");
    owner.walk_sheets(1);
    let begun = first_lines(&client);
    assert_eq!(begun.iter().map(|(_, line)| *line).collect::<Vec<_>>()[..2], [1, done + 1], "{begun:?}");
    assert_eq!(begun[0].0, begun[1].0);
    assert!(begun[2..].iter().all(|(_, line)| *line == 1), "the next operation begins at its start: {begun:?}");
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn a_killed_daemon_finds_home_before_it_goes_on() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    some_way_in(&client, &mut Operator::owner(&client));
    shop.kill();
    let client = shop.start();
    let mut owner = Operator::owner(&client);
    let (id, done) = stopped(&client, &mut owner);
    let line = done.saturating_sub(3).max(1);
    re_enter(&client, &id, Some(line)).unwrap();
    let from = client.all_events().len();
    owner.walk_sheets(1);
    let after = &client.all_events()[from..];
    let at = |wanted: fn(&What) -> bool| after.iter().position(|e| wanted(&e.what));
    let begun = at(|w| matches!(w, What::OperationStarted { .. }));
    assert_eq!(first_lines(&client).get(1).map(|(_, l)| *l), Some(line));
    let all = client.all_events();
    let homed = all.iter().rposition(|e| matches!(e.what, What::MachineHomed)).unwrap();
    let zero = all.iter().rposition(|e| matches!(e.what, What::ZeroConfirmed)).unwrap();
    assert!(homed < zero && zero < from + begun.unwrap(), "home, then zero, then the cut");
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn a_decision_to_go_on_outlives_the_daemon() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    some_way_in(&client, &mut owner);
    client.act(Act::Stop).unwrap();
    let (id, done) = stopped(&client, &mut owner);
    re_enter(&client, &id, None).unwrap();
    shop.kill();
    let client = shop.start();
    Operator::owner(&client).walk_sheets(1);
    let begun = first_lines(&client);
    assert_eq!(begun.iter().map(|(_, line)| *line).collect::<Vec<_>>()[..2], [1, done + 1], "{begun:?}");
}

/// A shop whose config was changed before the daemon starts.
fn shop_with(edit: impl Fn(String) -> String) -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    shop.edit("daemon.toml", edit);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    (shop, client)
}

#[test]
fn a_pulled_cable_stops_and_the_cut_goes_on() {
    let unplugged = "seed = 1\nfaults = [{ line = 90, what = \"unplug\", back_ms = 4000 }]";
    let (_shop, client) = shop_with(|text| text.replace("seed = 1", unplugged));
    let mut owner = Operator::owner(&client);
    let (id, done) = stopped(&client, &mut owner);
    let record = client.now().sheet.unwrap().stopped.unwrap().record;
    assert_eq!(record.cause, StopCause::LinkLost);
    re_enter(&client, &id, None).unwrap();
    owner.walk_sheets(1);
    let begun = first_lines(&client);
    assert_eq!(begun.iter().filter(|(_, line)| *line == done + 1).count(), 1, "{begun:?}");
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

/// Where no byte acts at once a hold waits for what the controller already has, and everybody is told how long.
#[test]
fn a_hold_behind_the_buffer_is_told() {
    let (_shop, client) = shop_with(|text| text.replace("[machine]", "[machine]\nprofile = \"numbered-checksum\""));
    let mut owner = Operator::owner(&client);
    some_way_in(&client, &mut owner);
    let now = client.until("how long is told", |n| n.machine.stops_after.is_some());
    assert!(now.notices.iter().any(|n| n.contains("holds only once it has run out")), "{:?}", now.notices);
    let predicted = now.sheet.unwrap().operation.unwrap().predicted;
    let most = now.machine.stops_after.unwrap();
    // two lines in flight and 16 that it has planned, of a program of some 60
    assert!(most.value() > 0.0 && most.value() < predicted.value() / 2.0, "{most:?} of {predicted:?}");
    client.act(Act::Override { feed: Some(50), rapid: None }).unwrap();
    client.until("feeds are changed by a line", |n| n.machine.per_cent == Some([50, 100]));
    let answer = client.act(Act::Hold).unwrap();
    assert!(answer.now.headline.contains("it stops after about"), "{}", answer.now.headline);
    let held = client.until("held", |n| stage(n) == Some(Stage::Held));
    assert_eq!(held.machine.stops_after, None, "nothing is waited for any more");
    client.act(Act::Resume).unwrap();
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn a_sheet_is_cut_over_numbered_lines() {
    let (_shop, client) = shop_with(|text| {
        let text = text.replace("[machine]", "[machine]\nprofile = \"numbered-checksum\"");
        // one line in the middle is damaged on the way, and asked for again
        text.replace("seed = 1", "seed = 1\nfaults = [{ line = 40, what = \"garble-line\" }]")
    });
    let mut owner = Operator::owner(&client);
    owner.walk_sheets(1);
    let record = &client.history().sheets[0];
    assert_eq!((record.grade, record.stops.len()), (Some(Grade::Good), 0));
}
