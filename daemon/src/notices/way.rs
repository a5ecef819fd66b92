//! Receivers: a way of config made ready, with its key read, and one try at telling it something.

use super::envelope::Notice;
use super::letter;
use super::signing::Key;
use crate::shop::config::{How, Way};
use chrono::{DateTime, Utc};
use std::path::Path;
use std::time::Duration;

/// A receiver has so long to take it (Standard Webhooks advises 15 to 30 s).
const WITHIN: Duration = Duration::from_secs(15);

/// A way that cannot be made ready.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the way `{0}` cannot be used: {1}")]
pub struct WayFault(String, String);

/// A way made ready.
#[derive(Debug, Clone)]
pub struct Receiver {
    /// Its name in config.
    pub name: String,
    kind: Kind,
}

#[derive(Debug, Clone)]
enum Kind {
    Webhook { url: String, key: Option<Key>, client: reqwest::Client },
    Mail { server: String, from: String, to: Vec<String> },
}

/// How a try ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Tried {
    /// The receiver took it.
    Taken,
    /// It may go better later.
    Later(String),
    /// The receiver wants nothing any more.
    Never(String),
}

/// Makes the ways of config ready; keys are read from files, from a folder where their paths are relative.
///
/// # Errors
/// A key that cannot be read.
pub fn receivers(ways: &[Way], folder: &Path) -> Result<Vec<Receiver>, WayFault> {
    ways.iter().map(|way| receiver(way, folder).map_err(|why| WayFault(way.name.clone(), why))).collect()
}

fn receiver(way: &Way, folder: &Path) -> Result<Receiver, String> {
    let kind = match &way.how {
        How::Webhook { url, key_file } => {
            let key = match key_file {
                Some(file) => {
                    let path = folder.join(file);
                    #[allow(clippy::disallowed_methods, reason = "the key's file")]
                    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
                    Some(Key::read(&text).map_err(|e| format!("{}: {e}", path.display()))?)
                }
                None => None,
            };
            let client = reqwest::Client::builder()
                .timeout(WITHIN)
                .redirect(reqwest::redirect::Policy::none())
                .build()
                .map_err(|e| e.to_string())?;
            Kind::Webhook { url: url.clone(), key, client }
        }
        How::Mail { server, from, to } => Kind::Mail { server: server.clone(), from: from.clone(), to: to.clone() },
    };
    Ok(Receiver { name: way.name.clone(), kind })
}

impl Receiver {
    /// One try.
    pub(super) async fn tell(&self, notice: &Notice, now: DateTime<Utc>) -> Tried {
        match &self.kind {
            Kind::Webhook { url, key, client } => call(client, url, key.as_ref(), notice, now).await,
            Kind::Mail { server, from, to } => {
                let text = letter::letter(notice, from, to, now);
                match tokio::time::timeout(WITHIN, letter::post(server, from, to, &text)).await {
                    Ok(Ok(())) => Tried::Taken,
                    Ok(Err(why)) => Tried::Later(why),
                    Err(_) => Tried::Later(format!("no answer within {} s", WITHIN.as_secs())),
                }
            }
        }
    }
}

async fn call(client: &reqwest::Client, url: &str, key: Option<&Key>, notice: &Notice, now: DateTime<Utc>) -> Tried {
    let body = notice.cloud_event().to_string().into_bytes();
    let mut request = client
        .post(url)
        .header("content-type", "application/cloudevents+json; charset=utf-8")
        .header("webhook-id", &notice.id)
        .header("webhook-timestamp", now.timestamp());
    if let Some(key) = key {
        request = request.header("webhook-signature", key.signature(&notice.id, now.timestamp(), &body));
    }
    match request.body(body).send().await {
        Ok(answer) if answer.status().is_success() => Tried::Taken,
        // Standard Webhooks: 410 says that this receiver is gone for good
        Ok(answer) if answer.status() == reqwest::StatusCode::GONE => {
            Tried::Never("the receiver says that it is gone for good (410)".to_owned())
        }
        Ok(answer) => Tried::Later(format!("the receiver said {}", answer.status())),
        Err(e) if e.is_timeout() => Tried::Later(format!("no answer within {} s", WITHIN.as_secs())),
        Err(e) => Tried::Later(format!("{e}")),
    }
}
