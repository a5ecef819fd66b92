//! Who may do what, with the real daemon, its files and the real command line: PINs, lock-out, lapse, refusals.

use chargehand_tests::client::{Client, Token, Told};
use chargehand_tests::workshop::Workshop;
use chargehand_types::act::{Act, ActAnswer};
use chargehand_types::event::What;
use chargehand_types::id::Person;
use chargehand_types::people::{
    ChangePeople, Credential, PeopleChange, PeopleChanged, PeopleList, RefusalKind, RefusalList,
};
use chargehand_types::problem::ProblemKind;
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use std::os::unix::fs::PermissionsExt;

const OWNER: &str = "Solveig";
const HELPER: &str = "Emrik";
/// Found in no other file of a workshop.
const OWNERS_PIN: &str = "730418265";
const HELPERS_PIN: &str = "915027364";
const WRONG_PIN: &str = "604813957";

fn secret(digits: &str) -> Secret {
    Secret::new(digits.to_owned())
}

fn sign_in(client: &Client, who: &str, pin: Option<&str>) -> Told<ActAnswer> {
    client.act(Act::SignIn { who: Person::from(who), pin: pin.map(secret) })
}

fn set_pin(client: &Client, by: Option<(&str, &str)>, who: &str, pin: &str) -> Told<PeopleChanged> {
    let by = by.map(|(who, pin)| Credential { who: Person::from(who), pin: secret(pin) });
    let change = PeopleChange::SetPin { who: Person::from(who), pin: secret(pin) };
    client.post("/v1/people", &ChangePeople { by, change })
}

/// Owner and helper with their PINs.
fn with_pins(client: &Client) {
    set_pin(client, None, OWNER, OWNERS_PIN).unwrap();
    set_pin(client, Some((OWNER, OWNERS_PIN)), HELPER, HELPERS_PIN).unwrap();
}

fn kinds(client: &Client) -> Vec<RefusalKind> {
    let list: RefusalList = client.get("/v1/people/refusals").unwrap();
    list.refusals.iter().map(|r| r.kind).collect()
}

#[test]
fn a_shop_without_a_pin_asks_for_none() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    assert!(!client.now().pins);
    sign_in(&client, HELPER, None).unwrap();
    assert!(!shop.path("store/people.json").exists());
}

#[test]
fn with_one_pin_everybody_needs_one() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    let first = set_pin(&client, None, HELPER, HELPERS_PIN).unwrap_err();
    assert!(first.kind == ProblemKind::NotNow && first.detail.contains("owner's PIN comes first"), "{first:?}");
    set_pin(&client, None, OWNER, OWNERS_PIN).unwrap();
    assert!(client.now().pins);

    let unset = sign_in(&client, HELPER, None).unwrap_err();
    assert!(unset.kind == ProblemKind::NotPermitted && unset.detail.contains("no PIN yet"), "{unset:?}");
    let unproved = set_pin(&client, None, HELPER, HELPERS_PIN).unwrap_err();
    assert_eq!(unproved.kind, ProblemKind::NotPermitted, "from now on an owner's PIN is needed for that");
    set_pin(&client, Some((OWNER, OWNERS_PIN)), HELPER, HELPERS_PIN).unwrap();

    assert_eq!(sign_in(&client, HELPER, None).unwrap_err().kind, ProblemKind::NotPermitted);
    assert_eq!(sign_in(&client, HELPER, Some(OWNERS_PIN)).unwrap_err().kind, ProblemKind::NotPermitted);
    assert!(client.now().people.is_empty(), "nobody came in by that");
    sign_in(&client, HELPER, Some(HELPERS_PIN)).unwrap();
    assert_eq!(client.now().people[0].who, Person::from(HELPER));

    // a helper sets their own PIN and nobody else's
    let other = set_pin(&client, Some((HELPER, HELPERS_PIN)), OWNER, "24681357").unwrap_err();
    assert_eq!(other.kind, ProblemKind::NotPermitted);
    set_pin(&client, Some((HELPER, HELPERS_PIN)), HELPER, "24681357").unwrap();
    assert!(sign_in(&client, HELPER, Some(HELPERS_PIN)).is_err());
    sign_in(&client, HELPER, Some("24681357")).unwrap();
    assert_eq!(kinds(&client).iter().filter(|k| **k == RefusalKind::Role).count(), 1);
}

#[test]
fn wrong_pins_shut_one_person_out_through_a_restart() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    with_pins(&client);
    for _ in 0..3 {
        assert!(sign_in(&client, OWNER, Some(WRONG_PIN)).is_err());
    }
    let shut = sign_in(&client, OWNER, Some(OWNERS_PIN)).unwrap_err();
    assert!(shut.detail.contains("looked at"), "even the right one is not looked at: {shut:?}");
    sign_in(&client, HELPER, Some(HELPERS_PIN)).unwrap();
    let list: PeopleList = client.get("/v1/people").unwrap();
    assert!(list.people.iter().any(|p| p.who.0 == OWNER && p.wrong == 3 && p.locked_for.is_some()), "{list:?}");
    shop.kill();

    let client = shop.start();
    let shut = sign_in(&client, OWNER, Some(OWNERS_PIN)).unwrap_err();
    assert!(shut.detail.contains("looked at"), "a restart gives no free tries: {shut:?}");
    let kinds = kinds(&client);
    assert_eq!(
        kinds.iter().filter(|k| **k == RefusalKind::WrongPin).count(),
        3,
        "refusals outlive the daemon: {kinds:?}"
    );
    assert_eq!(kinds.iter().filter(|k| **k == RefusalKind::LockedOut).count(), 2, "{kinds:?}");
}

#[test]
fn asking_side_by_side_gives_no_more_tries() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    with_pins(&client);
    let looked_at = std::thread::scope(|s| {
        let tries: Vec<_> =
            (0..12).map(|_| s.spawn(|| sign_in(&client, OWNER, Some(WRONG_PIN)).unwrap_err())).collect();
        let told: Vec<_> = tries.into_iter().map(|t| t.join().unwrap().detail).collect();
        told.iter().filter(|t| t.starts_with("That PIN is not right")).count()
    });
    assert_eq!(looked_at, 3);
}

#[test]
fn no_secret_is_in_any_file_event_or_answer() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    with_pins(&client);
    assert!(sign_in(&client, OWNER, Some(WRONG_PIN)).is_err());
    sign_in(&client, OWNER, Some(OWNERS_PIN)).unwrap();
    // a PIN typed where the name goes, and in bodies that are not understood
    assert!(sign_in(&client, WRONG_PIN, Some(OWNERS_PIN)).is_err());
    for path in ["/v1/acts", "/v1/people", "/v1/tokens"] {
        let body = serde_json::json!({ "act": { "act": "sign-in", "who": 5, "pin": OWNERS_PIN }, "pin": OWNERS_PIN });
        let (status, answer) = client.ask("POST", path, Some(&body), Token::Shown).unwrap();
        assert!(status == 400 && !answer.to_string().contains(OWNERS_PIN), "{path}: {answer}");
    }
    for path in ["/v1/now", "/v1/people", "/v1/people/refusals", "/v1/tokens", "/v1/doctor"] {
        let (_, answer) = client.ask("GET", path, None, Token::Shown).unwrap();
        for pin in [OWNERS_PIN, HELPERS_PIN, WRONG_PIN] {
            assert!(!answer.to_string().contains(pin), "{path}: {answer}");
        }
    }
    let events = client.all_events();
    let changes = events.iter().filter(|e| matches!(e.what, What::PeopleChanged { .. })).count();
    assert_eq!(changes, 2, "who got a PIN is in the record");
    shop.end();
    for pin in [OWNERS_PIN, HELPERS_PIN, WRONG_PIN] {
        assert_eq!(shop.files_holding(pin), Vec::<std::path::PathBuf>::new(), "log, journal, index, book");
    }
    assert_eq!(shop.files_holding("$argon2id$").len(), 1);
    for file in ["store/people.json", "store/refusals.jsonl"] {
        let mode = std::fs::metadata(shop.path(file)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{file}");
    }
}

#[test]
fn a_book_that_stands_open_is_closed_and_a_broken_one_stops_the_start() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    with_pins(&client);
    shop.end();
    let book = shop.path("store/people.json");
    std::fs::set_permissions(&book, std::fs::Permissions::from_mode(0o644)).unwrap();
    let client = shop.start();
    assert!(client.now().pins);
    assert_eq!(std::fs::metadata(&book).unwrap().permissions().mode() & 0o777, 0o600);
    assert!(shop.log().contains("stood open"), "{}", shop.log());
    shop.end();
    shop.write("store/people.json", b"{\"v\":1,");
    shop.run_to_end(&[]).refused(5, &["people.json", "Restore it from a copy"]);
}

#[test]
fn the_command_line_sets_pins_and_tells_of_refusals() {
    let mut shop = Workshop::new(1.0);
    let _client = shop.start();
    let said = |ended: &chargehand_tests::workshop::Ended| {
        assert_eq!(ended.code, Some(0), "{ended:?}");
        ended.said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let line = |pin: &str| format!("{pin}\n");
    assert!(said(&shop.says_typing(&["people", "list"], "")).contains("Nobody has a PIN"));
    said(&shop.says_typing(&["people", "pin", OWNER], &line(OWNERS_PIN)));
    let both = format!("{OWNERS_PIN}\n{HELPERS_PIN}\n");
    said(&shop.says_typing(&["people", "add", "Wren", "--role", "helper"], &both));
    shop.says_typing(&["people", "pin", HELPER], "1111\n1111\n").refused(4, &["not right"]);
    let plain = format!("{OWNERS_PIN}\n1111\n");
    shop.says_typing(&["people", "pin", HELPER], &plain).refused(2, &["tried first"]);
    let listed = said(&shop.says_typing(&["people", "list"], ""));
    assert!(
        listed.contains("Wren helper set people add") && listed.contains("Emrik helper none daemon.toml"),
        "{listed}"
    );
    let refusals = said(&shop.says_typing(&["people", "refusals"], ""));
    assert!(refusals.contains("wrong PIN: set a PIN; Solveig, from user"), "{refusals}");
    shop.says_typing(&["people", "remove", OWNER], &line(OWNERS_PIN)).refused(4, &["last owner's PIN"]);
    said(&shop.says_typing(&["people", "remove", "Wren"], &line(OWNERS_PIN)));
    assert!(said(&shop.says_typing(&["people", "remove", OWNER], &line(OWNERS_PIN))).contains("asks for none"));
}

/// Ten minutes of machine time, in which nobody does anything and nothing moves.
#[test]
fn a_sign_in_lapses_when_nobody_does_anything() {
    let mut shop = Workshop::new(1000.0);
    let client = shop.start();
    with_pins(&client);
    let came = sign_in(&client, OWNER, Some(OWNERS_PIN)).unwrap().now.seq;
    client.until("the sign-in lapses", |now| now.people.is_empty());
    let left = client.all_events().into_iter().find(|e| e.seq > came && matches!(e.what, What::PersonLeft { .. }));
    let left = left.expect("it is in the record");
    assert!(left.actor.is_none() && left.command_id.is_none(), "nobody did it: {left:?}");
}

#[test]
fn acts_from_afar_and_above_ones_role_are_written_down() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    with_pins(&client);
    let seen = client.now().version;
    let afar = client.act_with(chargehand_tests::client::fresh(), seen, Act::Home, Token::NotShown).unwrap_err();
    assert_eq!(afar.kind, ProblemKind::NotPermitted);
    sign_in(&client, HELPER, Some(HELPERS_PIN)).unwrap();
    let sign = Act::SignFinding { fingerprint: "f".into() };
    assert_eq!(client.act(sign).unwrap_err().kind, ProblemKind::NotPermitted);
    let list: RefusalList = client.get("/v1/people/refusals").unwrap();
    let found: Vec<_> = list.refusals.iter().map(|r| (r.kind, r.asked.as_str(), r.who.as_deref())).collect();
    assert_eq!(
        found,
        [(RefusalKind::FromAfar, "home", None), (RefusalKind::Role, "sign-finding", Some(HELPER))],
        "what, by whom"
    );
    assert!(list.refusals[0].from.starts_with("user "), "{list:?}");
    let role = client.get::<PeopleList>("/v1/people").unwrap();
    assert!(role.people.iter().any(|p| p.role == Role::Owner && p.pin));
}
