//! The event stream as a listener reads it: server-sent events (WHATWG HTML, section 9.2).
//!
//! May live here: reading it. May not: what events come to.

use crate::http::Opened;
use chargehand_types::event::Event;
use serde_json::Value;
use std::io::{self, BufRead, BufReader};

/// An open stream.
pub struct EventStream {
    from: BufReader<Opened>,
}

/// One message of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// The event's place, for events that are kept.
    pub id: Option<u64>,
    /// What kind.
    pub event: String,
    /// The data.
    pub data: Value,
}

impl EventStream {
    /// Of an answer whose body is a stream.
    #[must_use]
    pub fn of(answer: Opened) -> Self {
        Self { from: BufReader::new(answer) }
    }

    /// The next message, comments left out; none when the stream ends. A stream that says nothing at all for the
    /// longest time an answer may take is a failure.
    pub fn next_message(&mut self) -> Option<Message> {
        self.read().unwrap_or_else(|e| panic!("the event stream: {e}"))
    }

    /// The same for a listener who does not mind a daemon that is gone in the middle of it.
    ///
    /// # Errors
    /// When the stream is cut off.
    pub fn read(&mut self) -> io::Result<Option<Message>> {
        let (mut id, mut event, mut data) = (None, String::new(), String::new());
        loop {
            let mut line = String::new();
            if self.from.read_line(&mut line)? == 0 {
                return Ok(None);
            }
            let line = line.trim_end_matches(['\r', '\n']);
            match line.split_once(": ") {
                Some(("id", value)) => id = value.parse().ok(),
                Some(("event", value)) => value.clone_into(&mut event),
                Some(("data", value)) => data.push_str(value),
                _ if line.is_empty() && !data.is_empty() => {
                    let data = serde_json::from_str(&data).unwrap_or_else(|e| panic!("{e}: {data}"));
                    return Ok(Some(Message { id, event, data }));
                }
                _ => {}
            }
        }
    }

    /// The next event that is kept. Its message's id and kind must be its own.
    pub fn next_event(&mut self) -> Event {
        loop {
            let message = self.next_message().expect("the stream goes on");
            assert_ne!(message.event, "gap", "a gap: {}", message.data);
            if !matches!(message.event.as_str(), "position" | "plan") {
                assert_eq!(message.data["kind"], message.event.as_str());
                let event: Event = serde_json::from_value(message.data).unwrap_or_else(|e| panic!("{e}"));
                assert_eq!(message.id, Some(event.seq.0));
                return event;
            }
        }
    }
}
