//! The client against a fake daemon.

use super::fake::{Fake, Reply};
use super::*;
use chargehand_types::problem::ProblemKind;
use chargehand_types::queue::CardList;

fn empty_list() -> Reply {
    Reply::ok(&CardList { schema: 1, cards: Vec::new() })
}

#[tokio::test]
async fn an_answer_is_read() {
    let fake = Fake::start(|_| empty_list());
    assert_eq!(fake.api().cards().await.unwrap().cards, []);
    assert_eq!(fake.seen.lock().unwrap()[0].line, "GET /v1/cards");
}

#[tokio::test]
async fn names_are_written_safely_into_paths() {
    let fake = Fake::start(|_| Reply::no(&Problem::new(ProblemKind::NotFound, "no such card")));
    let fault = fake.api().card(&CardName::from("a/b ?"), Some(3)).await.unwrap_err();
    assert_eq!(fault.exit(), 5);
    assert_eq!(fake.seen.lock().unwrap()[0].line, "GET /v1/cards/a%2Fb%20%3F?revision=3");
}

#[tokio::test]
async fn acts_carry_token_terminal_and_what_was_seen() {
    let fake = Fake::start(|_| Reply::no(&Problem::new(ProblemKind::SeenIsOld, "look again"))).with_token("ab12\n");
    let fault = fake.api().act(Act::CycleStart, Some(StageVersion(9))).await.unwrap_err();
    assert_eq!((fault.exit(), fault.to_string().as_str()), (4, "look again"));
    let request = fake.seen.lock().unwrap()[0].clone();
    assert_eq!(request.header(TOKEN_HEADER).as_deref(), Some("ab12"));
    let act = request.act();
    assert_eq!((act.terminal.0.as_str(), act.seen), ("test", Some(StageVersion(9))));
}

#[tokio::test]
async fn a_missing_token_is_named() {
    let fake = Fake::start(|_| Reply::no(&Problem::new(ProblemKind::NotPermitted, "Not from here.")));
    let fault = fake.api().act(Act::CycleStart, None).await.unwrap_err();
    assert!(fault.to_string().contains(TOKEN_FILE), "{fault}");
}

#[tokio::test]
async fn nobody_there_is_exit_three() {
    let folder = tempfile::tempdir().unwrap();
    let api = Api::new(Place::Socket(folder.path().join("api.sock")), TerminalId::from("t")).unwrap();
    let fault = api.now().await.unwrap_err();
    assert!(fault.is_unreachable());
    assert_eq!(fault.exit(), crate::exit::NO_DAEMON);
}

#[tokio::test]
async fn babble_is_told_as_babble() {
    let fake = Fake::start(|_| Reply::Json(200, "{\"schema\": 2}".into()));
    assert!(matches!(fake.api().cards().await, Err(ClientFault::Garbled { .. })));
    let fake = Fake::start(|_| Reply::Json(502, "oops".into()));
    assert!(fake.api().cards().await.unwrap_err().to_string().contains("502"));
}

#[tokio::test]
async fn the_stream_comes_back_after_its_last_id() {
    let fake = Fake::start(|request| match request.header("last-event-id").as_deref() {
        Some("4") => Reply::Ends("id: 5\nevent: machine.homed\ndata: {}\n\n".into()),
        Some("5") => Reply::Stays("event: gap\ndata: {}\n\n".into()),
        other => panic!("asked after {other:?}"),
    });
    let mut stream = fake.api().events(Some(Seq(4)));
    assert!(matches!(stream.next().await, Heard::Open));
    let Heard::Event(told) = stream.next().await else { panic!("no event") };
    assert_eq!((told.seq, told.kind.as_str()), (Seq(5), "machine.homed"));
    assert!(matches!(stream.next().await, Heard::Lost(_)));
    assert!(matches!(stream.next().await, Heard::Open));
    assert!(matches!(stream.next().await, Heard::Gap));
    assert_eq!(stream.last(), None);
}

#[tokio::test]
async fn a_told_event_is_brought_up_to_date() {
    let json = r#"{"v":0,"seq":7,"id":"e7","command_id":null,"at":"2026-03-01T09:00:00Z","tick":5,
        "actor":{"name":"Ada","role":"helper"},"terminal":null,"sheet":null,"kind":"machine.homed"}"#;
    let told = Told { seq: Seq(7), kind: "machine.homed".into(), json: json.into() };
    assert_eq!(told.event().unwrap().actor.unwrap().who.0, "Ada");
}
