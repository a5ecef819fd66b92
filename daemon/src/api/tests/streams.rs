//! The event stream on the wire.

use super::client::Stream;
use super::desk::{Served, event, served};
use crate::api::{Limits, Live};
use chargehand_types::event::PositionTick;
use chargehand_types::plan::{Change, PlanChanged};
use chargehand_types::quantity::{Seconds, Tick};
use serde_json::Value;
use std::sync::Arc;
use std::time::Duration;

async fn listen(served: &Served, path: &str) -> Stream {
    Stream::open(served.client().await, path, &[]).await
}

#[tokio::test]
async fn replay_goes_over_into_live() {
    let served = served();
    for n in 1..=5 {
        served.desk.happen(&format!("event {n}"));
    }
    let mut stream = listen(&served, "/v1/events?since=2").await;
    assert_eq!(stream.ids(3).await, [3, 4, 5]);
    served.desk.happen("six\nwith a line end");
    let block = stream.event().await.unwrap();
    assert_eq!((block["id"].as_str(), block["event"].as_str()), ("6", "link.up"));
    let data: Value = serde_json::from_str(&block["data"]).unwrap();
    assert_eq!(data["data"]["note"], "six\nwith a line end");
    assert_eq!(data, serde_json::to_value(event(6, "six\nwith a line end")).unwrap());
}

#[tokio::test]
async fn without_a_place_it_begins_now() {
    let served = served();
    served.desk.happen("before");
    let mut stream = listen(&served, "/v1/events").await;
    served.desk.happen("after");
    assert_eq!(stream.ids(1).await, [2]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_listener_sees_a_gap_or_a_repeat() {
    const EVENTS: u64 = 3_000;
    let served = Arc::new(Served::start(Limits::default(), 8_192));
    let happening = Arc::clone(&served);
    let publisher = tokio::spawn(async move {
        for n in 1..=EVENTS {
            happening.desk.happen("tick");
            if n % 10 == 0 {
                tokio::task::yield_now().await;
            }
        }
    });
    let mut listeners = Vec::new();
    for since in [0, 1, 7, 99, 100, 101, 499, 500, 501, 900] {
        while crate::api::Desk::last_seq(&*served.desk).0 < since {
            tokio::task::yield_now().await;
        }
        let served = Arc::clone(&served);
        listeners.push(tokio::spawn(async move {
            let mut stream = listen(&served, &format!("/v1/events?since={since}")).await;
            let ids = stream.ids(usize::try_from(EVENTS - since).unwrap()).await;
            assert!(ids.iter().copied().eq(since + 1..=EVENTS), "since {since}");
        }));
    }
    publisher.await.unwrap();
    for listener in listeners {
        listener.await.unwrap();
    }
}

#[tokio::test]
async fn an_event_published_ahead_is_read_up_to() {
    let served = served();
    let mut stream = listen(&served, "/v1/events?since=0").await;
    served.desk.store_only("one, its publishing still to come");
    served.desk.happen("two");
    served.desk.tell(Live::Durable(Arc::new(event(1, "one, late"))));
    served.desk.happen("three");
    assert_eq!(stream.ids(3).await, [1, 2, 3]);
}

#[tokio::test]
async fn the_last_event_id_is_the_newer_word() {
    let served = served();
    for _ in 0..60 {
        served.desk.happen("x");
    }
    let headers = [("last-event-id", "41")];
    let mut stream = Stream::open(served.client().await, "/v1/events?since=3", &headers).await;
    assert_eq!(stream.ids(1).await, [42]);
    let told = served.client().await.ask("GET /v1/events", &[("last-event-id", "x")], "").await;
    assert_eq!(told.status, 400);
    assert!(told.detail().contains("\"x\""), "{}", told.detail());
}

#[tokio::test]
async fn a_place_beyond_the_last_event_is_a_gap() {
    let served = served();
    served.desk.happen("one");
    let mut stream = listen(&served, "/v1/events?since=40").await;
    let gap = stream.event().await.unwrap();
    assert_eq!(gap["event"], "gap");
    assert!(!gap.contains_key("id"), "nobody shall come back to it");
    let data: Value = serde_json::from_str(&gap["data"]).unwrap();
    assert_eq!((&data["asked_after"], &data["last"]), (&Value::from(40), &Value::from(1)));
    served.desk.happen("two");
    assert_eq!(stream.ids(1).await, [2]);
}

#[tokio::test]
async fn positions_carry_no_id() {
    let served = served();
    let mut stream = listen(&served, "/v1/events").await;
    let tick = PositionTick { tick: Tick(9), at: None, line: Some(4), done: 0.5, left: Seconds::of(3.0) };
    served.desk.tell(Live::Position(tick.clone()));
    let block = stream.event().await.unwrap();
    assert_eq!(block["event"], "position");
    assert!(!block.contains_key("id"));
    assert_eq!(serde_json::from_str::<PositionTick>(&block["data"]).unwrap(), tick);
}

#[tokio::test]
async fn a_plan_that_came_out_otherwise_is_told_and_never_replayed() {
    let served = served();
    let mut stream = listen(&served, "/v1/events").await;
    let at = chrono::DateTime::from_timestamp(0, 0).unwrap();
    let told = PlanChanged { at, changes: vec![Change::New { sheet: "B2-1".into() }] };
    served.desk.tell(Live::Plan(Arc::new(told.clone())));
    let block = stream.event().await.unwrap();
    assert_eq!(block["event"], "plan");
    assert!(!block.contains_key("id"));
    assert_eq!(serde_json::from_str::<PlanChanged>(&block["data"]).unwrap(), told);
    let mut later = listen(&served, "/v1/events").await;
    served.desk.happen("one");
    assert_eq!(later.ids(1).await, [1]);
}

#[tokio::test]
async fn a_quiet_stream_has_comments() {
    let limits = Limits { comment_every: Duration::from_millis(1), ..Limits::default() };
    let served = Served::start(limits, 16);
    let mut stream = listen(&served, "/v1/events").await;
    for _ in 0..3 {
        assert!(stream.block().await.unwrap().contains_key(""));
    }
    served.desk.happen("one");
    assert_eq!(stream.ids(1).await, [1]);
}

#[tokio::test]
async fn a_listener_that_lags_is_cut_off_and_misses_nothing() {
    let served = Served::start(Limits::default(), 4);
    let mut stream = listen(&served, "/v1/events").await;
    assert!(stream.block().await.unwrap().contains_key(""), "it is live");
    served.desk.happen("one");
    assert_eq!(stream.ids(1).await, [1]);
    // far more than is kept for whoever does not read: the listener reads nothing meanwhile
    let much = "x".repeat(20_000);
    for _ in 0..400 {
        served.desk.happen(&much);
    }
    let heard = stream.ids(400).await;
    assert!(heard.len() < 400, "the stream ends");
    assert!(heard.iter().copied().eq((2..).take(heard.len())), "without a gap");
    let last = heard.last().copied().unwrap_or(1);
    let again = last.to_string();
    let mut stream = Stream::open(served.client().await, "/v1/events", &[("last-event-id", again.as_str())]).await;
    assert!(stream.ids(usize::try_from(401 - last).unwrap()).await.into_iter().eq(last + 1..=401));
}

#[tokio::test]
async fn streams_are_counted() {
    let limits = Limits { streams: 1, ..Limits::default() };
    let served = Served::start(limits, 16);
    let _first = listen(&served, "/v1/events").await;
    let told = served.client().await.ask("GET /v1/events", &[], "").await;
    assert_eq!(told.status, 503);
    assert!(told.detail().starts_with("1 event streams are open"), "{}", told.detail());
}

#[tokio::test]
async fn the_end_of_the_daemon_ends_the_stream() {
    let mut served = served();
    let mut stream = listen(&served, "/v1/events").await;
    served.end();
    assert!(stream.event().await.is_none());
    served.ended().await;
}
