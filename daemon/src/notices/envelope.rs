//! What is told, once: its id, its sentence, and its form as CloudEvents 1.0 JSON (structured mode).

use chargehand_types::call::CallReason;
use chrono::{DateTime, SecondsFormat, Utc};
use serde_json::{Value, json};

/// Something to be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// The same at every try; receivers drop repeats by it.
    pub id: String,
    /// What kind of event it is, such as `call.raised`.
    pub kind: &'static str,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// The machine, for people.
    pub machine: String,
    /// Why somebody is called, if that is it.
    pub reason: Option<CallReason>,
    /// What happened and what to do.
    pub text: String,
}

impl Notice {
    /// One line for a heading.
    #[must_use]
    pub fn title(&self) -> String {
        let what = match self.kind {
            "call.answered" => "answered",
            "person.needed" => "somebody is needed soon",
            "notice.tried" => "a try",
            _ => "somebody is called",
        };
        format!("{}: {what}", self.machine)
    }

    /// CloudEvents 1.0, 3: the required attributes, with the data beside them. No person is named in it.
    #[must_use]
    pub fn cloud_event(&self) -> Value {
        let source: String = self
            .machine
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
            .collect();
        json!({
            "specversion": "1.0",
            "id": self.id,
            "source": format!("/machines/{source}"),
            "type": self.kind,
            "time": self.at.to_rfc3339_opts(SecondsFormat::Millis, true),
            "datacontenttype": "application/json",
            "data": {"title": self.title(), "text": self.text, "reason": self.reason},
        })
    }
}
