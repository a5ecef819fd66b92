//! The terminal at the machine on a pseudo-terminal, with the real daemon: whole work by keys, wrong turns, and how it
//! leaves the line behind.

mod person;

use chargehand_tests::at_line::Screen;
use chargehand_tests::client::Client;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::StepAnswer;
use chargehand_types::event::What;
use chargehand_types::now::Now;
use chargehand_types::queue::SheetList;
use chargehand_types::stage::{Grade, Stage};
use chrono::TimeDelta;
use person::{enter_until, type_value, work};
use rustix::process::Signal;
use std::process::Command;

/// Machine seconds to a real one: quicker, half a second of the machine is too short on a computer that does much else.
const RATE: f64 = 20.0;

fn shop() -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    (shop, client)
}

fn step(now: &Now) -> String {
    now.task.as_ref().map_or_else(String::new, |t| t.step.id.clone())
}

/// Answers that the daemon wrote down as not taken.
fn refused(client: &Client) -> Vec<String> {
    let events = client.all_events().into_iter();
    events
        .filter_map(|e| match e.what {
            What::StepAnswered { step, taken: false, .. } => Some(step),
            _ => None,
        })
        .collect()
}

#[test]
fn a_batch_is_worked_by_keys_alone() {
    let (shop, client) = shop();
    client.add_batch(CARD, 2).unwrap();
    let mut screen = Screen::open(&shop.socket(), 80, 24);
    let keys = work(&mut screen, &client, "both sheets are done", |text| text.contains("The queue is empty"));
    println!("{} presses for two sheets: {}", keys.len(), keys.join(", "));
    let rows: SheetList = client.get("/v1/sheets").unwrap();
    assert_eq!(rows.sheets.len(), 2);
    assert!(rows.sheets.iter().all(|r| r.stage == Stage::Closed && r.grade == Some(Grade::Good)), "{rows:?}");
    assert_eq!(refused(&client), Vec::<String>::new(), "nothing was answered wrongly");
    let lots: Vec<Option<String>> = client.history().sheets.into_iter().map(|sheet| sheet.lot).collect();
    assert_eq!(lots, [Some("W-2611".to_owned()), Some("W-2611".to_owned())], "typed on the first sheet alone");
    // a clean end by a key leaves the line as it was
    assert!(screen.is_raw());
    screen.press("q");
    assert!(screen.ended().success());
    screen.assert_restored();
    assert!(screen.text().contains("The screens are closed"), "{}", screen.text());
}

#[test]
fn wrong_turns_are_found_and_cost_nothing() {
    let (shop, client) = shop();
    client.add_batch(CARD, 1).unwrap();
    let mut screen = Screen::open(&shop.socket(), 80, 24);

    // a wrong thickness: it cannot be, the list says so and waits at the same step
    work(&mut screen, &client, "a thickness is asked", |text| text.contains("You read:"));
    let asked = step(&client.now());
    type_value(&mut screen, "99");
    enter_until(&mut screen, "Not yet:");
    assert_eq!((step(&client.now()), refused(&client)), (asked.clone(), vec![asked.clone()]));

    // walked away with half a value typed: nothing is answered, nothing is lost, and a hold still holds
    type_value(&mut screen, "12");
    let left = client.now().at;
    let now = client.until("some time has gone by", |n| n.at - left > TimeDelta::seconds(3));
    assert_eq!(step(&now), asked, "time answers nothing");
    screen.until("You read: 12_");

    // meanwhile somebody answers at a second terminal: the first shows the next step, and what was typed is gone
    let other = Client::at(&shop.socket()).unwrap();
    other.act(Act::Answer { step: asked.clone(), answer: StepAnswer::Value { value: 12.0 } }).unwrap();
    screen.until_so("the next step, with nothing typed", |text| text.contains("You read: _") && !text.contains("12_"));
    let next = step(&client.now());
    assert_ne!(next, asked);
    let taken = client.all_events().len();
    screen.press("\r?");
    screen.until("Now, Sheets, Day, History, Shop");
    assert_eq!((step(&client.now()), client.all_events().len()), (next, taken), "an Enter meant for the old step");
    screen.press("?");

    // a wrong bit: its diameter gives it away
    work(&mut screen, &client, "the bit is read back", |_| step(&client.now()) == "bit-diameter");
    type_value(&mut screen, "3.175");
    enter_until(&mut screen, "Not yet:");
    assert_eq!(step(&client.now()), "bit-diameter");
    let stage = client.now().sheet.unwrap().stage;
    assert_eq!(stage, Stage::Tooling, "no bit, no cut");

    work(&mut screen, &client, "the sheet is done all the same", |text| text.contains("The queue is empty"));
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn a_lost_daemon_is_said_and_found_again() {
    let (mut shop, _client) = shop();
    let screen = Screen::open(&shop.socket(), 80, 24);
    screen.until("Sign in at the machine");
    shop.kill();
    screen.until("THE DAEMON IS NOT HEARD");
    shop.start();
    screen.until_so("it is heard again", |text| !text.contains("NOT HEARD") && text.contains("Sign in at the machine"));
}

#[test]
fn the_line_is_restored_after_the_system_ends_it() {
    let (shop, _client) = shop();
    for signal in [Signal::TERM, Signal::HUP, Signal::INT] {
        let mut screen = Screen::open(&shop.socket(), 80, 24);
        screen.until("Sign in at the machine");
        assert!(screen.is_raw());
        screen.signal(signal);
        assert!(screen.ended().success(), "{signal:?}");
        screen.assert_restored();
        assert!(screen.text().contains("The screens are closed"), "{signal:?}: {}", screen.text());
    }
}

#[test]
fn the_line_is_restored_after_a_panic() {
    let (shop, _client) = shop();
    let mut command = Command::new(env!("CARGO_BIN_EXE_panic-at-the-screen"));
    command.arg(shop.socket());
    let mut screen = Screen::run(command, 80, 24);
    screen.until("Sign in at the machine");
    assert!(screen.is_raw());
    screen.signal(Signal::USR1);
    assert!(!screen.ended().success());
    screen.assert_restored();
    assert!(screen.text().contains("on purpose"), "what went wrong can be read: {}", screen.text());
}

#[test]
fn the_screens_speak_the_language_that_was_asked_for() {
    let (shop, _client) = shop();
    let mut command = Command::new(chargehand_tests::workshop::command_line());
    command.args(["--language", "es", "--socket"]).arg(shop.socket());
    let screen = Screen::run(command, 80, 24);
    screen.until("el BOTÓN ROJO si hay peligro");
    let unknown = shop.says(&shop.path("."), &["--language", "xx", "sheet", "list"]);
    assert_eq!(unknown.code, Some(0), "the command line speaks English whatever is asked: {unknown:?}");
}
