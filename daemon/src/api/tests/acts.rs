//! Acts, and what only the terminal at the machine may do.

use super::desk::{TOKEN, served};
use serde_json::json;

fn act(act: &serde_json::Value) -> String {
    let mut body = json!({"command_id": "c-1", "terminal": "bench", "seen": 3});
    body["act"] = act.clone();
    body.to_string()
}

#[tokio::test]
async fn acts_need_the_token() {
    let served = served();
    let mut client = served.client().await;
    let start = act(&json!({"act": "cycle-start"}));
    for headers in [&[][..], &[("chargehand-token", "")], &[("chargehand-token", "00112234")]] {
        let told = client.ask("POST /v1/acts", headers, &start).await;
        assert_eq!(told.status, 403);
        assert_eq!(told.json()["type"], "/problems/not-permitted");
        assert!(told.detail().contains("terminal-token"), "{}", told.detail());
    }
    assert!(served.desk.callers.lock().unwrap().is_empty(), "the desk was never asked");

    let told = client.ask("POST /v1/acts", &[("chargehand-token", TOKEN)], &start).await;
    assert_eq!((told.status, &told.json()["said"]), (200, &json!("CycleStart")));
    let caller = served.desk.callers.lock().unwrap().pop().unwrap();
    assert!(caller.token_ok);
    assert_eq!(caller.terminal, Some("bench".into()));
    assert_eq!(caller.peer_uid, Some(rustix::process::getuid().as_raw()));
}

#[tokio::test]
async fn a_backup_needs_the_token() {
    let served = served();
    let mut client = served.client().await;
    assert_eq!(client.ask("GET /v1/backup", &[], "").await.status, 403);
    client.send("GET /v1/backup", &[("chargehand-token", TOKEN)], b"").await;
    assert_eq!(client.head().await.status, 200);
    assert_eq!(client.chunks().await, "one two");
}

#[tokio::test]
async fn hold_and_stop_need_none() {
    let served = served();
    let mut client = served.client().await;
    for word in ["hold", "hold-at-lift", "stop", "trouble"] {
        let told = client.ask("POST /v1/acts", &[], &act(&json!({"act": word}))).await;
        assert_eq!(told.status, 200, "{word}: {}", told.body);
        assert!(!served.desk.callers.lock().unwrap().pop().unwrap().token_ok);
    }
}

/// Every thread that works is at it and takes nothing else: the hold reaches the line all the same.
#[tokio::test]
async fn a_hold_waits_for_nobodys_work() {
    let served = served();
    let socket = served.socket.clone();
    // there before the thread is taken up
    assert_eq!(served.client().await.ask("GET /v1/cards", &[], "").await.status, 200);
    let asks = std::thread::spawn(move || {
        let body = act(&json!({"act": "hold"}));
        let mut stream = std::os::unix::net::UnixStream::connect(socket).unwrap();
        let head = format!("POST /v1/acts HTTP/1.1\r\nhost: x\r\ncontent-length: {}\r\n\r\n", body.len());
        std::io::Write::write_all(&mut stream, (head + &body).as_bytes()).unwrap();
        stream
    });
    let ahead = || served.desk.ahead.lock().unwrap().clone();
    let mut looks = 0;
    // this thread is the only one that works: it lets nobody else on meanwhile
    while ahead().is_empty() && looks < 10_000 {
        std::thread::sleep(std::time::Duration::from_millis(1));
        looks += 1;
    }
    assert_eq!(ahead(), [chargehand_types::act::Act::Hold]);
    assert!(served.desk.callers.lock().unwrap().is_empty(), "it is decided on and written down afterwards");
    drop(asks.join().unwrap());
}

#[tokio::test]
async fn a_client_that_hangs_up_stops_no_command() {
    let served = served();
    let mut client = served.client().await;
    let card = json!({"command_id": "c-1", "files": {"file": "a.toml", "text": "", "programs": {}}});
    client.send("POST /v1/cards", &[], card.to_string().as_bytes()).await;
    served.desk.finished.notified().await;
    drop(client);
    // the daemon takes another request meanwhile, so it has seen the hang-up
    assert_eq!(served.client().await.ask("GET /v1/cards", &[], "").await.status, 200);
    served.desk.go_on.notify_one();
    served.desk.finished.notified().await;
    assert_eq!(crate::api::Desk::last_seq(&*served.desk).0, 1, "the card was taken in");
}

#[tokio::test]
async fn answers_are_json() {
    let served = served();
    let mut client = served.client().await;
    let told = client.ask("GET /v1/cards", &[], "").await;
    assert_eq!(told.headers["content-type"], "application/json");
    assert_eq!(told.json(), json!({"schema": 1, "cards": []}));
    let batch = json!({"command_id": "c", "card": "herb-crate", "sheets": 3}).to_string();
    let told = client.ask("POST /v1/batches", &[], &batch).await;
    assert_eq!(told.json()["said"], "3 sheets of herb-crate.");
}

#[tokio::test]
async fn names_and_queries_reach_the_desk() {
    let served = served();
    let mut client = served.client().await;
    let told = client.ask("GET /v1/cards/seed%20tray?revision=2", &[], "").await;
    assert_eq!((told.status, told.detail()), (404, "seed tray Some(2)".into()));
    let told =
        client.ask("GET /v1/history/sheets?since=2026-05-28T20:26:40Z&bit=v%2090&grade=scrap&newest=7", &[], "").await;
    let read = "Some(2026-05-28T20:26:40Z) None None Some(BitName(\"v 90\")) Some(Scrap) Some(7)";
    assert_eq!(told.detail(), read);
    let told = client.ask("POST /v1/batches/B1/cancel", &[], r#"{"command_id": "c"}"#).await;
    assert_eq!((told.status, told.detail()), (409, "B1 is being cut.".into()));
}
