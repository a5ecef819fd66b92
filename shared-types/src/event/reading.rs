//! Reading an event: its data goes straight into what it is of, since its kind stands before it. (A flattened enum, as
//! the writer has it, would gather every envelope in memory first; a store with years in it is opened by reading them.)
//!
//! May live here: the envelope's fields as they come in. May not: what they mean.

use super::{Actor, Event, What};
use crate::id::{CommandId, Seq, SheetId, TerminalId};
use crate::quantity::Tick;
use chrono::{DateTime, Utc};
use serde::de::value::{MapAccessDeserializer, StrDeserializer};
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, Visitor};
use serde::{Deserialize, de};

#[derive(Deserialize)]
#[serde(field_identifier, rename_all = "snake_case")]
enum Field {
    V,
    Seq,
    Id,
    CommandId,
    At,
    Tick,
    Actor,
    Terminal,
    Sheet,
    Kind,
    Data,
    #[serde(other)]
    Other,
}

impl Field {
    /// Its name, if it is of [`What`].
    const fn of_what(&self) -> Option<&'static str> {
        match self {
            Self::Kind => Some("kind"),
            Self::Data => Some("data"),
            _ => None,
        }
    }
}

/// Everything but kind and data.
#[derive(Default)]
struct Envelope {
    v: Option<u16>,
    seq: Option<Seq>,
    id: Option<String>,
    command_id: Option<CommandId>,
    at: Option<DateTime<Utc>>,
    tick: Option<Tick>,
    actor: Option<Actor>,
    terminal: Option<TerminalId>,
    sheet: Option<SheetId>,
}

impl Envelope {
    fn take<'de, A: MapAccess<'de>>(&mut self, field: &Field, map: &mut A) -> Result<(), A::Error> {
        match field {
            Field::V => self.v = Some(map.next_value()?),
            Field::Seq => self.seq = Some(map.next_value()?),
            Field::Id => self.id = Some(map.next_value()?),
            Field::CommandId => self.command_id = map.next_value()?,
            Field::At => self.at = Some(map.next_value()?),
            Field::Tick => self.tick = Some(map.next_value()?),
            Field::Actor => self.actor = map.next_value()?,
            Field::Terminal => self.terminal = map.next_value()?,
            Field::Sheet => self.sheet = map.next_value()?,
            Field::Kind | Field::Data | Field::Other => drop(map.next_value::<IgnoredAny>()?),
        }
        Ok(())
    }

    fn around<E: de::Error>(self, what: What) -> Result<Event, E> {
        Ok(Event {
            v: self.v.ok_or_else(|| E::missing_field("v"))?,
            seq: self.seq.ok_or_else(|| E::missing_field("seq"))?,
            id: self.id.ok_or_else(|| E::missing_field("id"))?,
            command_id: self.command_id,
            at: self.at.ok_or_else(|| E::missing_field("at"))?,
            tick: self.tick.ok_or_else(|| E::missing_field("tick"))?,
            actor: self.actor,
            terminal: self.terminal,
            sheet: self.sheet,
            what,
        })
    }
}

/// What is left of an event from its kind or data on, as [`What`] reads it: the envelope's fields among it are kept.
struct FromWhat<'e, A> {
    first: Option<&'static str>,
    envelope: &'e mut Envelope,
    map: A,
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for FromWhat<'_, A> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Self::Error> {
        if let Some(first) = self.first.take() {
            return seed.deserialize(StrDeserializer::new(first)).map(Some);
        }
        while let Some(field) = self.map.next_key::<Field>()? {
            match field.of_what() {
                Some(name) => return seed.deserialize(StrDeserializer::new(name)).map(Some),
                None => self.envelope.take(&field, &mut self.map)?,
            }
        }
        Ok(None)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Self::Error> {
        self.map.next_value_seed(seed)
    }
}

struct Events;

impl<'de> Visitor<'de> for Events {
    type Value = Event;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("an event")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Event, A::Error> {
        let mut envelope = Envelope::default();
        while let Some(field) = map.next_key::<Field>()? {
            let Some(first) = field.of_what() else {
                envelope.take(&field, &mut map)?;
                continue;
            };
            let from_here = FromWhat { first: Some(first), envelope: &mut envelope, map };
            let what = What::deserialize(MapAccessDeserializer::new(from_here))?;
            return envelope.around(what);
        }
        Err(A::Error::missing_field("kind"))
    }
}

impl<'de> Deserialize<'de> for Event {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(Events)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    /// The envelope as the writer has it, read by what the writer's form gives by itself.
    #[derive(Deserialize)]
    struct Flat {
        v: u16,
        seq: Seq,
        id: String,
        command_id: Option<CommandId>,
        at: DateTime<Utc>,
        tick: Tick,
        actor: Option<Actor>,
        terminal: Option<TerminalId>,
        sheet: Option<SheetId>,
        #[serde(flatten)]
        what: What,
    }

    fn flat(text: &str) -> Result<Event, serde_json::Error> {
        let Flat { v, seq, id, command_id, at, tick, actor, terminal, sheet, what } = serde_json::from_str(text)?;
        Ok(Event { v, seq, id, command_id, at, tick, actor, terminal, sheet, what })
    }

    const WHATS: [&str; 4] = [
        r#""kind":"machine.homed""#,
        r#""kind":"person.came","data":{"who":"Ada","role":"owner"}"#,
        r#""data":{"who":"Ada","role":"owner"},"kind":"person.came""#,
        r#""kind":"sheet.stage","data":{"from":"ready","to":"cutting","version":7,"operation":1,"held":null,"stopped":null,"floor":{"a":[1,2.5,null]}}"#,
    ];
    const ENVELOPE: [&str; 6] = [
        r#""v":1,"seq":12"#,
        r#""id":"beef-12","command_id":null"#,
        r#""at":"2027-01-14T08:00:00.25Z","tick":9"#,
        r#""actor":{"who":"Ada","role":"helper"}"#,
        r#""terminal":"t1""#,
        r#""sheet":"B1-1","of a later build":[{}]"#,
    ];

    #[test]
    fn it_reads_what_the_writers_form_reads_wherever_the_kind_stands() {
        for what in WHATS {
            for at in 0..=ENVELOPE.len() {
                let mut parts = ENVELOPE.to_vec();
                parts.insert(at, what);
                let text = format!("{{{}}}", parts.join(","));
                let read: Event = serde_json::from_str(&text).unwrap();
                assert_eq!(read, flat(&text).unwrap(), "{text}");
                // a tree of values has its own order
                let tree: Value = serde_json::from_str(&text).unwrap();
                assert_eq!(serde_json::from_value::<Event>(tree).unwrap(), read, "{text}");
                let written = serde_json::to_string(&read).unwrap();
                assert_eq!(serde_json::from_str::<Event>(&written).unwrap(), read, "{written}");
            }
        }
    }

    #[test]
    fn what_is_missing_or_wrong_is_refused() {
        let whole =
            json!({"v": 1, "seq": 1, "id": "e", "at": "2027-01-14T08:00:00Z", "tick": 1, "kind": "machine.homed"});
        assert!(serde_json::from_value::<Event>(whole.clone()).is_ok());
        for name in ["v", "seq", "id", "at", "tick", "kind"] {
            let mut less = whole.clone();
            less.as_object_mut().unwrap().remove(name);
            let told = serde_json::from_value::<Event>(less).unwrap_err().to_string();
            assert!(told.contains(name), "{told}");
        }
        for wrong in [json!({"kind": "no.such"}), json!({"kind": "person.came"}), json!([1]), json!({"kind": 3})] {
            let mut event = whole.clone();
            match wrong.as_object() {
                Some(parts) => event.as_object_mut().unwrap().extend(parts.clone()),
                None => event = wrong.clone(),
            }
            assert!(serde_json::from_value::<Event>(event).is_err(), "{wrong}");
        }
        let twice = r#"{"kind":"machine.homed","kind":"machine.homed","v":1}"#;
        assert!(serde_json::from_str::<Event>(twice).is_err());
    }
}
