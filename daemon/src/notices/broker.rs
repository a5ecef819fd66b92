//! A message broker (MQTT 3.1.1): what is true until replaced is retained, what happened is not. `online` is 1 while the
//! daemon runs; the broker itself says 0 when it is gone (last will). Nothing is taken from the broker.

use super::secret::Secret;
use super::standing::Standing;
use super::wire::Trust;
use crate::api::desk::Desk;
use crate::shop::config::Broker;
use chargehand_types::id::Seq;
use chargehand_types::now::Now;
use rumqttc::{
    AsyncClient, Event, EventLoop, LastWill, MqttOptions, Packet, PublishOptions, QoS, TlsConfiguration, Transport,
};
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::sleep;

/// The broker takes the daemon for dead after one and a half times this.
const KEEP_ALIVE_S: u16 = 30;
/// Before the next try to reach it.
const AGAIN: Duration = Duration::from_secs(5);
/// Events read at a time.
const STEP: usize = 100;
/// Without an event, they are looked for that often.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// What a broker is met with.
#[derive(Debug, Clone, Default)]
pub struct BrokerKeys {
    password: Option<Secret>,
    trust: Option<Trust>,
}

impl BrokerKeys {
    /// Reads them from the files that config names, from a folder where their paths are relative.
    ///
    /// # Errors
    /// With the file and why it cannot be read.
    pub fn read(broker: &Broker, folder: &Path) -> Result<Self, String> {
        let password = broker.user.as_ref().map(|(_, file)| Secret::read(&folder.join(file))).transpose()?;
        let file = broker.ca_file.as_ref().map(|f| folder.join(f));
        let trust = broker.tls.then(|| Trust::of(file.as_deref())).transpose()?;
        Ok(Self { password, trust })
    }
}

/// Publishes until the daemon ends. Events are told from where they stood at the start, and from where they were left
/// when the broker was away.
pub async fn publish<D: Desk>(desk: Arc<D>, mut standing: Standing, broker: Broker, keys: BrokerKeys) {
    let topic = |name: &str| format!("{}/{name}", broker.topic);
    let id: String = broker.topic.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let mut options = MqttOptions::new(format!("chargehand-{id}"), (broker.host.clone(), broker.port));
    options.set_keep_alive(KEEP_ALIVE_S);
    options.set_last_will(LastWill::new(topic("online"), "0", QoS::AtLeastOnce, true));
    if let Some(((user, _), password)) = broker.user.as_ref().zip(keys.password) {
        options.set_credentials(user.clone(), password.plain().to_owned().into_bytes());
    }
    if let Some(trust) = keys.trust {
        options.set_transport(Transport::Tls(TlsConfiguration::Rustls(trust.config())));
    }
    let (client, events) = AsyncClient::builder(options).capacity(32).build();
    let (connected, mut connections) = watch::channel(0_u64);
    let polling = tokio::spawn(poll(events, connected));
    let mut cursor = desk.last_seq();
    let (mut connection, mut state, mut attention) = (0, Value::Null, Value::Null);
    loop {
        let current = *connections.borrow_and_update();
        if current != connection {
            connection = current;
            (state, attention) = (Value::Null, Value::Null);
            if current > 0 && put(&client, topic("online"), "1".to_owned(), true).await.is_err() {
                break;
            }
        }
        if connection > 0 {
            let now = standing.borrow_and_update().clone();
            if let Some(now) = now {
                let (new_state, new_attention) = (state_of(&now), attention_of(&now));
                if new_state != state && put(&client, topic("state"), new_state.to_string(), true).await.is_ok() {
                    state = new_state;
                }
                if new_attention != attention
                    && put(&client, topic("attention"), new_attention.to_string(), true).await.is_ok()
                {
                    attention = new_attention;
                }
            }
            cursor = tell_events(&*desk, &client, &topic("event"), cursor).await;
        }
        tokio::select! {
            changed = standing.changed() => if changed.is_err() { break },
            _ = connections.changed() => {}
            () = sleep(LOOK_EVERY) => {}
        }
    }
    let _ = put(&client, topic("online"), "0".to_owned(), true).await;
    let _ = client.disconnect().await;
    let _ = tokio::time::timeout(Duration::from_secs(1), polling).await;
}

async fn tell_events<D: Desk>(desk: &D, client: &AsyncClient, topic: &str, mut cursor: Seq) -> Seq {
    while let Ok(events) = desk.events_after(cursor, STEP).await {
        if events.is_empty() {
            break;
        }
        for event in events {
            let whole = serde_json::to_value(&event).unwrap_or_default();
            let kind = whole.get("kind").and_then(Value::as_str).unwrap_or("unknown");
            // the envelope alone: data may be as long as a program
            let told = json!({"id": event.id, "seq": event.seq, "at": event.at, "kind": kind, "sheet": event.sheet});
            if put(client, format!("{topic}/{kind}"), told.to_string(), false).await.is_err() {
                return cursor;
            }
            cursor = event.seq;
        }
    }
    cursor
}

async fn put(client: &AsyncClient, topic: String, text: String, retained: bool) -> Result<(), rumqttc::ClientError> {
    client.publish(topic, text.into_bytes(), PublishOptions::at_least_once().retain(retained)).await
}

/// Keeps the connection; counts the times it came up, 0 while it is down for the first time.
async fn poll(mut events: EventLoop, connected: watch::Sender<u64>) {
    loop {
        match events.poll().await {
            Ok(Event::Incoming(Packet::ConnAck(_))) => connected.send_modify(|n| *n += 1),
            Ok(Event::Outgoing(rumqttc::Outgoing::Disconnect)) => return,
            Ok(_) => {}
            Err(e) => {
                tracing::warn!("the message broker: {e}");
                if connected.is_closed() {
                    return;
                }
                sleep(AGAIN).await;
            }
        }
    }
}

fn state_of(now: &Now) -> Value {
    let sheet = now.sheet.as_ref();
    json!({
        "machine": now.machine.name,
        "link": now.machine.link,
        "headline": now.headline,
        "sheet": sheet.map(|s| &s.id),
        "card": sheet.map(|s| &s.card),
        "stage": sheet.map(|s| s.stage),
        "operation": sheet.and_then(|s| s.operation.as_ref()).map(|o| &o.name),
        "waiting": now.waiting,
    })
}

fn attention_of(now: &Now) -> Value {
    json!({"calls": now.calls, "needed": !now.calls.is_empty()})
}
