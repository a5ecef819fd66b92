//! What goes wrong is always a problem with a sentence.

use super::desk::{Served, TOKEN, served};
use crate::api::{BODY_MOST, Limits, NAME_MOST};
use std::time::Duration;

#[tokio::test]
async fn no_such_route() {
    let served = served();
    let mut client = served.client().await;
    for (line, said) in [
        ("GET /cards", "There is no route GET /cards."),
        ("GET /v1/nowhere?x=1", "There is no route GET /v1/nowhere."),
        ("POST /v2/acts", "There is no route POST /v2/acts."),
    ] {
        let told = client.ask(line, &[], "").await;
        assert_eq!((told.status, told.detail()), (404, said.to_owned()));
        assert_eq!(told.json()["type"], "/problems/not-found");
    }
}

#[tokio::test]
async fn no_such_method() {
    let served = served();
    let told = served.client().await.ask("DELETE /v1/cards", &[], "").await;
    assert_eq!((told.status, told.detail()), (405, "DELETE is not a way to use /v1/cards.".into()));
    // RFC 9110 section 15.5.6: an answer with 405 must say what is allowed
    let allowed = &told.headers["allow"];
    assert!(allowed.contains("GET") && allowed.contains("POST"), "{allowed}");
}

#[tokio::test]
async fn bad_json_is_shown_where_it_is() {
    let served = served();
    let mut client = served.client().await;
    let token = [("chargehand-token", TOKEN)];
    let told = client.ask("POST /v1/batches", &token, "{\n  \"command_id\": \"c\",\n  \"card\": }").await;
    let said = told.detail();
    assert_eq!(told.status, 400);
    assert!(said.contains("line 3 column 11") && said.contains(r#""  \"card\": }""#), "{said}");

    let told = client.ask("POST /v1/batches", &token, r#"{"command_id": "c"}"#).await;
    assert!(told.detail().contains("missing field `card`"), "{}", told.detail());
    let told = client.ask("POST /v1/acts", &token, "").await;
    assert_eq!(told.detail(), "The body is empty; JSON is wanted here.");
    let act = r#"{"command_id": "c", "terminal": "t", "act": {"act": "dance"}}"#;
    let told = client.ask("POST /v1/acts", &token, act).await;
    assert!(told.detail().contains("line 1, column"), "{}", told.detail());
    assert!(!told.detail().contains("dance"), "an act may hold a PIN: {}", told.detail());
    let told = client.ask("POST /v1/acts", &token, "\u{ff}\u{fe}").await;
    assert_eq!(told.status, 400);
}

#[tokio::test]
async fn too_large_a_body_is_refused() {
    let served = served();
    let body = " ".repeat(BODY_MOST + 1);
    let told = served.client().await.ask("POST /v1/acts", &[], &body).await;
    assert_eq!(told.status, 413);
    assert!(told.detail().contains("65536 bytes"), "{}", told.detail());
    // a card may be larger: this one is read to its end and found to be no JSON
    let told = served.client().await.ask("POST /v1/check", &[], &body).await;
    assert_eq!(told.status, 400);
}

#[tokio::test]
async fn bad_queries_and_names_are_refused() {
    let served = served();
    let mut client = served.client().await;
    for line in [
        "GET /v1/cards/a?revision=two",
        "GET /v1/cards/a?revison=2",
        "GET /v1/history/sheets?since=yesterday",
        "GET /v1/history/sheets?grade=fine",
        "GET /v1/history/bits?maker=any",
        "GET /v1/events?since=-1",
        "GET /v1/cards/%FF",
    ] {
        let told = client.ask(line, &[], "").await;
        assert_eq!(told.status, 400, "{line}");
        assert!(!told.detail().is_empty());
    }
    let long = "x".repeat(NAME_MOST + 1);
    let told = client.ask(&format!("GET /v1/sheets/{long}"), &[], "").await;
    assert_eq!(told.detail(), "A name of 201 bytes is asked for; none has more than 200.");
}

#[tokio::test]
async fn a_fault_of_the_program_is_told() {
    let served = served();
    let body = r#"{"files": {"file": "a.toml", "text": "", "programs": {}}}"#;
    let told = served.client().await.ask("POST /v1/check", &[], body).await;
    assert_eq!((told.status, told.json()["type"].as_str()), (500, Some("/problems/our-fault")));
    // and the daemon goes on
    assert_eq!(served.client().await.ask("GET /v1/cards", &[], "").await.status, 200);
}

#[tokio::test]
async fn no_answer_in_time_is_told() {
    let limits = Limits { answer: Duration::from_millis(5), ..Limits::default() };
    let served = Served::start(limits, 16);
    let told = served.client().await.ask("GET /v1/doctor", &[], "").await;
    assert_eq!((told.status, told.json()["type"].as_str()), (503, Some("/problems/missing-or-busy")));
}
