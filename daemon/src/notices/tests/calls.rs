//! Calls by a real web receiver.

use super::{called, still, unheard};
use crate::api::tests::desk::TestDesk;
use crate::notices::signing::Key;
use crate::notices::{Patience, Teller, receivers, tell_calls};
use crate::shop::config::{How, Rule, Way};
use chrono::Utc;
use chrono_tz::Tz;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};
use tokio::time::timeout;

const KEY: &str = "whsec_MDEyMzQ1Njc4OWFiY2RlZjAxMjM0NTY3";
const SOON: Duration = Duration::from_secs(20);

struct Got {
    headers: BTreeMap<String, String>,
    body: Vec<u8>,
}

/// A receiver that gives these answers one after the other, the last for ever.
async fn receiver(answers: &'static [&'static str]) -> (String, mpsc::UnboundedReceiver<Got>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (told, got) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        let mut n = 0;
        loop {
            let (mut stream, _) = listener.accept().await.unwrap();
            let (mut raw, mut piece) = (Vec::new(), [0_u8; 4096]);
            let got = loop {
                let read = stream.read(&mut piece).await.unwrap();
                assert!(read > 0, "the caller hung up");
                raw.extend_from_slice(&piece[..read]);
                let text = String::from_utf8_lossy(&raw).into_owned();
                let Some((head, body)) = text.split_once("\r\n\r\n") else { continue };
                let headers: BTreeMap<String, String> = head
                    .lines()
                    .skip(1)
                    .filter_map(|l| l.split_once(": "))
                    .map(|(n, v)| (n.to_lowercase(), v.to_owned()))
                    .collect();
                if body.len() >= headers["content-length"].parse::<usize>().unwrap() {
                    break Got { headers, body: body.as_bytes().to_vec() };
                }
            };
            let answer = answers[n.min(answers.len() - 1)];
            n += 1;
            let said = format!("HTTP/1.1 {answer}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
            stream.write_all(said.as_bytes()).await.unwrap();
            let _ = told.send(got);
        }
    });
    (format!("http://{address}/calls"), got)
}

fn hook(name: &str, url: &str, key_file: Option<&str>) -> Way {
    let how = How::Webhook { url: url.to_owned(), key_file: key_file.map(str::to_owned), ca_file: None };
    Way { name: name.to_owned(), how }
}

fn teller(ways: &[Way], folder: &Path, waits: &[u64]) -> Teller {
    Teller {
        receivers: receivers(ways, folder).unwrap(),
        unheard: unheard(folder),
        patience: Patience(waits.iter().copied().map(Duration::from_millis).collect()),
        clock: Utc::now,
    }
}

async fn next(got: &mut mpsc::UnboundedReceiver<Got>) -> (Got, Value) {
    let got = timeout(SOON, got.recv()).await.expect("a request comes").unwrap();
    let body = serde_json::from_slice(&got.body).unwrap();
    (got, body)
}

#[tokio::test]
async fn a_call_is_signed_tried_again_and_followed_by_its_answer() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("phone.key"), KEY).unwrap();
    let (url, mut got) = receiver(&["503 Service Unavailable", "204 No Content"]).await;
    let teller = teller(&[hook("phone", &url, Some("phone.key"))], folder.path(), &[0, 300, 300]);
    let list = teller.unheard.clone();
    let (told, standing) = watch::channel(Some(Arc::new(called(7))));
    tokio::spawn(tell_calls(Arc::new(TestDesk::new(8)), standing, teller, Vec::new(), Tz::UTC));
    let (first, event) = next(&mut got).await;
    // CloudEvents 1.0, 3.1: the required attributes
    assert_eq!(
        (&event["specversion"], &event["type"], &event["id"]),
        (&"1.0".into(), &"call.raised".into(), &"call-7".into())
    );
    assert!(event["source"].as_str().is_some_and(|s| s.starts_with('/')));
    assert_eq!(event["data"]["reason"], "stopped");
    let kept = loop {
        if let Some(kept) = list.all().pop() {
            break kept;
        }
        tokio::time::sleep(Duration::from_millis(5)).await;
    };
    assert_eq!((kept.way.as_str(), kept.tries, kept.given_up), ("phone", 1, false));
    let (second, again) = next(&mut got).await;
    assert_eq!(
        (&first.headers["webhook-id"], again["id"].as_str().unwrap()),
        (&second.headers["webhook-id"], "call-7")
    );
    for one in [&first, &second] {
        // Standard Webhooks 1.0.0: id.timestamp.body, as it was sent
        let stamp = one.headers["webhook-timestamp"].parse().unwrap();
        let signature = Key::read(KEY).unwrap().signature("call-7", stamp, &one.body);
        assert_eq!(one.headers["webhook-signature"], signature);
    }
    told.send(Some(Arc::new(still()))).unwrap();
    let (_, over) = next(&mut got).await;
    assert_eq!((&over["type"], &over["id"]), (&"call.answered".into(), &"call-7-answered".into()));
    assert_eq!(list.all(), [], "what got through after all is no longer told");
}

#[tokio::test]
async fn a_dead_receiver_delays_no_other_and_is_remembered() {
    let folder = tempfile::tempdir().unwrap();
    let (url, mut got) = receiver(&["200 OK"]).await;
    // nobody listens on this port any more
    let gone = TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap();
    // and this one takes connections and never answers
    let mute = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let silent = format!("http://{}/", mute.local_addr().unwrap());
    let ways = [hook("mute", &silent, None), hook("gone", &format!("http://{gone}/"), None), hook("phone", &url, None)];
    let teller = teller(&ways, folder.path(), &[0, 10]);
    let list = teller.unheard.clone();
    let (told, standing) = watch::channel(Some(Arc::new(called(1))));
    tokio::spawn(tell_calls(Arc::new(TestDesk::new(8)), standing, teller, Vec::new(), Tz::UTC));
    for number in 1..=20 {
        told.send(Some(Arc::new(called(number)))).unwrap();
        loop {
            if next(&mut got).await.1["id"] == format!("call-{number}") {
                break;
            }
        }
    }
    let gave_up = || list.all().iter().any(|l| l.way == "gone" && l.id == "call-1" && l.given_up);
    for _ in 0..400 {
        if gave_up() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    assert!(gave_up(), "{:?}", list.all());
    // a restart forgets none of it
    let kept = unheard(folder.path()).all();
    assert!(kept.iter().any(|l| l.way == "gone" && l.text.contains("The sheet stopped")), "{kept:?}");
}

#[tokio::test]
async fn rules_choose_the_way_and_410_is_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let (wanted, mut got) = receiver(&["410 Gone"]).await;
    let (other, mut none) = receiver(&["200 OK"]).await;
    let teller = teller(&[hook("a", &wanted, None), hook("b", &other, None)], folder.path(), &[0, 1, 1]);
    let list = teller.unheard.clone();
    let rule = |by: &str, after_min| Rule {
        by: vec![by.to_owned()],
        reasons: Vec::new(),
        lead_min: None,
        after_min,
        within: None,
    };
    let (_told, standing) = watch::channel(Some(Arc::new(called(3))));
    tokio::spawn(tell_calls(Arc::new(TestDesk::new(8)), standing, teller, vec![rule("a", 0), rule("b", 10)], Tz::UTC));
    next(&mut got).await;
    for _ in 0..400 {
        if list.all().len() == 1 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    let kept = list.all().pop().unwrap();
    assert_eq!((kept.tries, kept.given_up), (1, true));
    assert!(timeout(Duration::from_millis(200), got.recv()).await.is_err(), "after 410 nothing is tried again");
    assert!(none.try_recv().is_err(), "escalation waits for ten minutes");
}

#[test]
fn a_key_that_cannot_be_read_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let way = hook("phone", "http://127.0.0.1:1/", Some("missing.key"));
    let said = receivers(&[way], folder.path()).unwrap_err().to_string();
    assert!(said.contains("phone") && said.contains("missing.key"), "{said}");
}
