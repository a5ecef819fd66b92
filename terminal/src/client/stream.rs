//! The event stream: durable events without a gap, positions as they come, and coming back after a loss.
//!
//! May live here: connecting, waiting, remembering the last id. May not: what is done about an event.

use super::sse::{Frame, Frames};
use super::{Api, ClientFault, refusal};
use chargehand_types::event::{Event, PositionTick, upcast};
use chargehand_types::id::Seq;
use chargehand_types::plan::PlanChanged;
use reqwest::{Method, Response};
use std::collections::VecDeque;
use std::time::Duration;
use tokio::time::Instant;

/// The daemon says something every 15 s; twice that and a bit without a byte is a lost link.
const SILENCE_AT_MOST: Duration = Duration::from_secs(40);
/// First and longest wait before the daemon is tried again.
const RETRY: [Duration; 2] = [Duration::from_millis(200), Duration::from_secs(2)];

/// What the stream says next.
#[derive(Debug, Clone)]
pub enum Heard {
    /// The stream is open, for the first time or again.
    Open,
    /// It is lost; it is being tried again. Told once a loss.
    Lost(ClientFault),
    /// A durable event.
    Event(Told),
    /// Where the machine is.
    Position(PositionTick),
    /// The plan of the day came out otherwise.
    Plan(PlanChanged),
    /// Events are missing here: look at everything anew.
    Gap,
}

/// A durable event as it was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its place in the journal.
    pub seq: Seq,
    /// Its kind, such as `sheet.stage`.
    pub kind: String,
    /// The event as JSON.
    pub json: String,
}

impl Told {
    /// The event itself.
    ///
    /// # Errors
    /// When it was written by another build in a form this one does not know.
    pub fn event(&self) -> Result<Event, ClientFault> {
        let garbled = |why: String| ClientFault::Garbled { why };
        let value = serde_json::from_str(&self.json).map_err(|e| garbled(e.to_string()))?;
        let value = upcast(value).map_err(|e| garbled(e.to_string()))?;
        serde_json::from_value(value).map_err(|e| garbled(e.to_string()))
    }
}

/// The event stream of one daemon.
#[derive(Debug)]
pub struct Stream {
    api: Api,
    last: Option<Seq>,
    open: Option<Response>,
    frames: Frames,
    ready: VecDeque<Heard>,
    wait: Duration,
    retry_at: Option<Instant>,
    lost: bool,
}

impl Stream {
    pub(super) fn new(api: Api, since: Option<Seq>) -> Self {
        Self {
            api,
            last: since,
            open: None,
            frames: Frames::default(),
            ready: VecDeque::new(),
            wait: RETRY[0],
            retry_at: None,
            lost: false,
        }
    }

    /// The last durable event heard.
    #[must_use]
    pub const fn last(&self) -> Option<Seq> {
        self.last
    }

    /// Waits for the next thing. Cancelling the wait loses nothing.
    pub async fn next(&mut self) -> Heard {
        loop {
            if let Some(heard) = self.ready.pop_front() {
                return heard;
            }
            match self.open.as_mut() {
                None => self.connect().await,
                Some(response) => match tokio::time::timeout(SILENCE_AT_MOST, response.chunk()).await {
                    Ok(Ok(Some(bytes))) => self.take(&bytes),
                    Ok(Ok(None)) => self.lose("the daemon ended the stream"),
                    Ok(Err(e)) => self.lost_by(ClientFault::unreachable(self.api.place(), &e)),
                    Err(_) => self.lose("nothing is heard any more"),
                },
            }
        }
    }

    async fn connect(&mut self) {
        if let Some(at) = self.retry_at {
            tokio::time::sleep_until(at).await;
        }
        let mut request = self.api.request(Method::GET, "/v1/events");
        if let Some(Seq(seq)) = self.last {
            // the standard way to come back; the daemon takes it as it takes `?since=`
            request = request.header("Last-Event-ID", seq);
        }
        match request.send().await {
            Ok(response) if response.status().is_success() => {
                self.frames = Frames::default();
                self.open = Some(response);
                self.wait = RETRY[0];
                self.retry_at = None;
                self.lost = false;
                self.ready.push_back(Heard::Open);
            }
            Ok(response) => {
                let status = response.status().as_u16();
                let body = super::bytes(self.api.place(), response).await.unwrap_or_default();
                self.lost_by(refusal(status, &body));
            }
            Err(e) => self.lost_by(ClientFault::unreachable(self.api.place(), &e)),
        }
    }

    fn lose(&mut self, why: &str) {
        self.lost_by(ClientFault::Unreachable { place: self.api.place().to_string(), why: why.to_owned() });
    }

    fn lost_by(&mut self, fault: ClientFault) {
        self.open = None;
        self.retry_at = Some(Instant::now() + self.wait);
        self.wait = (self.wait * 2).min(RETRY[1]);
        if !std::mem::replace(&mut self.lost, true) {
            self.ready.push_back(Heard::Lost(fault));
        }
    }

    fn take(&mut self, bytes: &[u8]) {
        let mut frames = Vec::new();
        let verdict = self.frames.feed(bytes, &mut frames);
        for frame in frames {
            self.hear(frame);
        }
        if let Err(e) = verdict {
            self.lose(&e.to_string());
        }
    }

    fn hear(&mut self, frame: Frame) {
        match frame.event.as_str() {
            // what cannot be read is no position; the next one follows in a moment
            "position" => self.ready.extend(serde_json::from_str(&frame.data).ok().map(Heard::Position)),
            "plan" => self.ready.extend(serde_json::from_str(&frame.data).ok().map(Heard::Plan)),
            "gap" => {
                self.last = frame.id.as_deref().and_then(|id| id.parse().ok()).map(Seq);
                self.ready.push_back(Heard::Gap);
            }
            kind => {
                let Some(seq) = frame.id.as_deref().and_then(|id| id.parse().ok()).map(Seq) else { return };
                self.last = Some(seq);
                self.ready.push_back(Heard::Event(Told { seq, kind: kind.to_owned(), json: frame.data }));
            }
        }
    }
}
