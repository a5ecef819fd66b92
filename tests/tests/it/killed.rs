//! A daemon that is killed, or asked to end, in the middle of a cut; and what is on the disk after it.

use chargehand_tests::client::{Client, Token, fresh};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::event::What;
use chargehand_types::now::{LinkNow, Motion, Now, OfferedAct};
use chargehand_types::problem::ProblemKind;
use chargehand_types::stage::{Decision, Grade, Stage, StopCause};
use serde_json::json;
use std::sync::mpsc;
use std::thread;

const RATE: f64 = 20.0;

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

fn shop_in_cut() -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk_into_cut();
    (shop, client)
}

/// The sheet stands stopped after a restart, as the screens must show it.
fn stands_stopped(client: &Client, events_before: usize) -> Now {
    let now = client.until("the line is open again", |n| n.machine.link == LinkNow::Up);
    assert_eq!(stage(&now), Some(Stage::Stopped));
    let stopped = now.sheet.as_ref().unwrap().stopped.as_ref().unwrap();
    assert_eq!(stopped.record.cause, StopCause::DaemonRestarted);
    assert!(!stopped.record.position_known && !now.machine.position_known && !now.machine.zero_confirmed);
    assert!(now.headline.contains("restarted in the middle of a cut"), "{}", now.headline);
    assert!(now.headline.contains("may still run out moves it already holds"), "{}", now.headline);
    assert!(now.people.is_empty(), "whoever was signed in has to look anew");
    let offered: Vec<_> = now.actions.iter().map(|o| o.act).collect();
    for act in [OfferedAct::CycleStart, OfferedAct::Resume] {
        assert!(!offered.contains(&act), "{offered:?}");
    }
    let events = client.all_events();
    let sent = |e: &chargehand_types::event::Event| matches!(e.what, What::OperationStarted { .. });
    assert!(!events[events_before..].iter().any(sent), "nothing is begun by itself");
    now
}

/// From stopped to closed, as the owner does it.
fn owner_restarts(client: &Client) {
    let mut owner = Operator::owner(client);
    let choices =
        |n: &Now| n.sheet.as_ref().and_then(|s| s.stopped.as_ref()).map(|s| s.choices.clone()).unwrap_or_default();
    let found = owner.walk("the way is found again and restart can be chosen", |_, n| {
        n.machine.zero_confirmed && n.machine.position_known && choices(n).contains(&Decision::Restart)
    });
    assert_eq!(stage(&found), Some(Stage::Stopped));
    let id = found.sheet.unwrap().id;
    client.act(Act::Decide { sheet: id, decision: Decision::Restart, line: None }).unwrap();
    let asked = client.now();
    assert_ne!(stage(&asked), Some(Stage::Cutting), "lists come before it cuts again");
    owner.walk_sheets(1);
}

#[test]
fn killed_mid_cut_stands_stopped() {
    let (mut shop, client) = shop_in_cut();
    let before = client.all_events();
    shop.kill();
    let client = shop.start();
    stands_stopped(&client, before.len());
    let kept = client.all_events();
    assert_eq!(kept[..before.len()], before[..], "nothing told before is lost");
    owner_restarts(&client);
    let record = &client.history().sheets[0];
    assert_eq!(record.grade, Some(Grade::Good));
    assert_eq!(record.stops.iter().map(|s| s.cause).collect::<Vec<_>>(), [StopCause::DaemonRestarted]);
    let cut: Vec<_> = record.operations.iter().map(|o| (o.name.as_str(), o.real.is_some())).collect();
    println!("{cut:?}; stop: {:?}", record.stops[0]);
    assert_eq!(cut.last(), Some(&("outlines", true)));
}

#[test]
fn helper_decides_nothing_after_restart() {
    let (mut shop, _) = shop_in_cut();
    shop.kill();
    let client = shop.start();
    let mut helper = Operator::helper(&client);
    helper.walk("the red button was answered", |_, n| {
        n.sheet.as_ref().and_then(|s| s.stopped.as_ref()).is_some_and(|s| s.red_button.is_some())
    });
    let id = client.now().sheet.unwrap().id;
    for decision in [Decision::Restart, Decision::SetAside, Decision::End] {
        let problem = client.act(Act::Decide { sheet: id.clone(), decision, line: None }).unwrap_err();
        assert_eq!((problem.kind, problem.status), (ProblemKind::NotPermitted, 403), "{decision:?}");
        assert!(problem.detail.contains("owner"), "{problem}");
    }
    let now = client.now();
    assert_eq!((stage(&now), now.sheet.unwrap().stopped.unwrap().choices), (Some(Stage::Stopped), Vec::new()));
}

#[test]
fn ended_mid_cut_stands_stopped() {
    let (mut shop, client) = shop_in_cut();
    let before = client.all_events();
    let status = shop.end();
    assert!(status.success(), "an asked-for end is no failure: {status:?}");
    assert!(!shop.socket().exists(), "the socket is taken away");
    let client = shop.start();
    stands_stopped(&client, before.len());
    owner_restarts(&client);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn killed_while_held_stands_stopped() {
    let (mut shop, client) = shop_in_cut();
    client.act(Act::Hold).unwrap();
    client.until("held", |n| n.machine.motion == Motion::Held && stage(n) == Some(Stage::Held));
    let before = client.all_events();
    shop.kill();
    let client = shop.start();
    stands_stopped(&client, before.len());
}

#[test]
fn killed_between_lists_goes_on() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let at = Operator::owner(&client).walk("tooling", |_, n| stage(n) == Some(Stage::Tooling));
    shop.kill();
    let client = shop.start();
    let now = client.until("the line is open again", |n| n.machine.link == LinkNow::Up);
    assert_eq!((stage(&now), now.sheet.unwrap().thickness), (Some(Stage::Tooling), at.sheet.unwrap().thickness));
    assert!(!now.machine.position_known);
    Operator::owner(&client).walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

/// Writes until the daemon is gone; the ids of commands that were answered.
fn write_on(client: &Client, answered: &mpsc::Sender<String>) {
    for n in 0.. {
        let id = fresh();
        let body = if n % 3 == 2 {
            json!({"command_id": id, "card": CARD, "sheets": 1})
        } else {
            json!({"command_id": id, "terminal": "t", "act": {"act": "note", "text": format!("note {n}")}})
        };
        let path = if n % 3 == 2 { "/v1/batches" } else { "/v1/acts" };
        match client.ask("POST", path, Some(&body), Token::Shown) {
            Ok((200, _)) => {
                if answered.send(id.0).is_err() {
                    return;
                }
            }
            Ok((status, told)) => panic!("{status} {told}"),
            Err(_) => return,
        }
    }
}

#[test]
fn answered_commands_outlive_kills() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    let mut all_answered: Vec<String> = Vec::new();
    for after in [1, 4, 9, 17, 31] {
        let client = if all_answered.is_empty() { client.clone() } else { shop.start() };
        let (tell, told) = mpsc::channel();
        let writers: Vec<_> = (0..2)
            .map(|_| {
                let (client, tell) = (client.clone(), tell.clone());
                thread::spawn(move || write_on(&client, &tell))
            })
            .collect();
        drop(tell);
        all_answered.extend(told.iter().take(after));
        shop.kill();
        for writer in writers {
            writer.join().unwrap();
        }
        all_answered.extend(told.try_iter());
    }
    let client = shop.start();
    let events = client.all_events();
    assert!(events.iter().zip(1..).all(|(e, n)| e.seq.0 == n), "without a gap over every kill");
    let written: Vec<_> = events.iter().filter_map(|e| e.command_id.as_ref()).collect();
    println!("{} commands answered, {} events, 5 kills", all_answered.len(), events.len());
    for id in &all_answered {
        assert_eq!(
            written.iter().filter(|w| w.0 == *id).count(),
            1,
            "the answered command {id} is in the journal once"
        );
    }
}

#[test]
fn batches_added_at_once_are_apart() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    let adding: Vec<_> = (0..4)
        .map(|_| {
            let client = client.clone();
            thread::spawn(move || (0..5).map(|_| client.add_batch(CARD, 1).unwrap().id.unwrap()).collect::<Vec<_>>())
        })
        .collect();
    let mut ids: Vec<String> = adding.into_iter().flat_map(|a| a.join().unwrap()).collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), 20, "no id is given twice");
}

#[test]
fn killed_under_load_nothing_is_lost_or_doubled() {
    let told = chargehand_tests::kills::run(20, 7, |_| ()).unwrap_or_else(|why| panic!("{why}"));
    println!("{told:?}");
    assert!(told.kills == 20 && told.found > 20 && told.programs > 2, "it was under load: {told:?}");
}

#[test]
fn power_cuts_lose_nothing() {
    if let Some(why) = chargehand_tests::power::missing() {
        println!("Not tried here: {why}.");
        return;
    }
    for (seed, kind) in (1..).zip(chargehand_tests::power::KINDS.into_iter().take(2)) {
        let told = chargehand_tests::power::run(kind, seed).unwrap_or_else(|why| panic!("{kind:?}: {why}"));
        println!("{kind:?}: {told:?}");
        assert!(told.found > 0, "{kind:?} was under load: {told:?}");
    }
}
