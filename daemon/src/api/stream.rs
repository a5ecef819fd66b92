//! The event stream: server-sent events (WHATWG HTML, section 9.2), replayed from a place and then live, without a
//! gap and without a repeat.
//!
//! The order that makes it so: subscribe, then read the backlog; whatever is published meanwhile waits in the
//! subscription and is dropped by its sequence if the backlog had it. An event is published only once it can be read.
//! A listener too slow for the subscription is cut off; it comes back with `Last-Event-ID` and misses nothing.
//!
//! May live here: that order and the form of the stream. May not: what events mean.

use super::desk::{Desk, Live};
use super::reply::Http;
use axum::body::Body;
use axum::http::{HeaderValue, Response, header};
use chargehand_types::event::{Event, PositionTick};
use chargehand_types::id::Seq;
use chargehand_types::plan::PlanChanged;
use chargehand_types::problem::Problem;
use futures_util::stream;
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, broadcast, watch};
use tokio::time::sleep;

/// Events read from the backlog at a time.
const BACKLOG_STEP: usize = 100;

/// What a stream needs besides its desk.
pub(super) struct Terms {
    /// After this event; from now on when there is none.
    pub since: Option<Seq>,
    /// A comment is sent when nothing else was for so long, so that a dead listener is noticed.
    pub comment_every: Duration,
    /// True once the daemon ends.
    pub ending: watch::Receiver<bool>,
    /// The stream's place among those allowed at a time.
    pub _place: OwnedSemaphorePermit,
}

/// One listener.
struct Listener<D> {
    desk: Arc<D>,
    live: broadcast::Receiver<Live>,
    cursor: Seq,
    phase: Phase,
    waiting: VecDeque<String>,
    terms: Terms,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Phase {
    Backlog,
    Live,
    Over,
}

/// The stream as an HTTP answer.
pub(super) async fn open<D: Desk>(desk: Arc<D>, terms: Terms) -> Result<Http, Problem> {
    let live = desk.subscribe();
    let last = desk.last_seq();
    let cursor = terms.since.unwrap_or(last);
    let mut listener = Listener { desk, live, cursor, phase: Phase::Backlog, waiting: VecDeque::new(), terms };
    // said at once, so that a listener knows that it is connected
    listener.waiting.push_back(":\n\n".to_owned());
    if cursor > last {
        listener.waiting.push_back(gap(cursor, Seq(1), last));
        listener.cursor = last;
    }
    // the first reading is done here, so that a fault of it is a problem and not a broken stream
    listener.read_backlog().await?;
    let chunks = stream::unfold(listener, |mut listener| async {
        let chunk = listener.next().await?;
        Some((Ok::<_, Infallible>(chunk), listener))
    });
    let mut response = Response::new(Body::from_stream(chunks));
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/event-stream"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

impl<D: Desk> Listener<D> {
    /// The next piece of text; none when the stream ends.
    async fn next(&mut self) -> Option<String> {
        loop {
            if let Some(text) = self.waiting.pop_front() {
                return Some(text);
            }
            match self.phase {
                Phase::Over => return None,
                Phase::Backlog => {
                    if let Err(problem) = self.read_backlog().await {
                        tracing::warn!("an event stream is cut off: {problem}");
                        self.phase = Phase::Over;
                    }
                }
                Phase::Live => self.wait().await,
            }
        }
    }

    /// Reads one step of the backlog; an empty one means that the rest is live.
    async fn read_backlog(&mut self) -> Result<(), Problem> {
        if *self.terms.ending.borrow() {
            self.phase = Phase::Over;
            return Ok(());
        }
        let events = self.desk.events_after(self.cursor, BACKLOG_STEP).await?;
        if events.is_empty() {
            self.phase = Phase::Live;
        }
        for event in events {
            if event.seq.0 > self.cursor.0.saturating_add(1) {
                self.waiting.push_back(gap(self.cursor, event.seq, self.desk.last_seq()));
            }
            self.push(&event);
        }
        Ok(())
    }

    async fn wait(&mut self) {
        tokio::select! {
            _ = self.terms.ending.changed() => self.phase = Phase::Over,
            live = self.live.recv() => match live {
                Ok(Live::Durable(event)) => self.take(&event),
                Ok(Live::Position(tick)) => self.waiting.push_back(position(&tick)),
                Ok(Live::Plan(changed)) => self.waiting.push_back(plan(&changed)),
                Err(broadcast::error::RecvError::Lagged(_) | broadcast::error::RecvError::Closed) => {
                    self.phase = Phase::Over;
                }
            },
            () = sleep(self.terms.comment_every) => self.waiting.push_back(":\n\n".to_owned()),
        }
    }

    /// A published event: dropped when the backlog had it, told when it is the next, read up to when it is not.
    fn take(&mut self, event: &Event) {
        if event.seq <= self.cursor {
            return;
        }
        if event.seq.0 == self.cursor.0.saturating_add(1) {
            self.push(event);
        } else {
            self.phase = Phase::Backlog;
        }
    }

    fn push(&mut self, event: &Event) {
        if event.seq > self.cursor {
            self.cursor = event.seq;
            self.waiting.push_back(durable(event));
        }
    }
}

fn durable(event: &Event) -> String {
    // An event that could be journalled can be written as JSON; a missing kind would only leave the name empty.
    let value = serde_json::to_value(event).unwrap_or_default();
    let kind = value.get("kind").and_then(Value::as_str).unwrap_or_default();
    format!("id: {}\nevent: {kind}\ndata: {value}\n\n", event.seq)
}

fn position(tick: &PositionTick) -> String {
    let value = serde_json::to_value(tick).unwrap_or_default();
    format!("event: position\ndata: {value}\n\n")
}

fn plan(changed: &PlanChanged) -> String {
    let value = serde_json::to_value(changed).unwrap_or_default();
    format!("event: plan\ndata: {value}\n\n")
}

/// Says that what was asked for is not there, and what is.
fn gap(asked: Seq, first: Seq, last: Seq) -> String {
    let value = json!({"asked_after": asked, "first": first, "last": last});
    format!("event: gap\ndata: {value}\n\n")
}
