//! Receivers: a way of config made ready, with its key read, and one try at telling it something.

use super::envelope::Notice;
use super::secret::Secret;
use super::signing::Key;
use super::wire::Trust;
use super::{letter, mail, web};
use crate::shop::config::{How, Tls, Way};
use chrono::{DateTime, Utc};
use hyper::{StatusCode, Uri};
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
    Webhook { url: Uri, key: Option<Key>, trust: Option<Trust> },
    Mail { server: mail::Server, from: String, to: Vec<String> },
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
/// A key, a password or a certificate that cannot be read.
pub fn receivers(ways: &[Way], folder: &Path) -> Result<Vec<Receiver>, WayFault> {
    ways.iter().map(|way| receiver(way, folder).map_err(|why| WayFault(way.name.clone(), why))).collect()
}

fn receiver(way: &Way, folder: &Path) -> Result<Receiver, String> {
    let trust = |file: &Option<String>| Trust::of(file.as_ref().map(|f| folder.join(f)).as_deref());
    let kind = match &way.how {
        How::Webhook { url, key_file, ca_file } => {
            let key = match key_file {
                Some(file) => {
                    let path = folder.join(file);
                    #[allow(clippy::disallowed_methods, reason = "the key's file")]
                    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
                    Some(Key::read(&text).map_err(|e| format!("{}: {e}", path.display()))?)
                }
                None => None,
            };
            let url: Uri = url.parse().map_err(|_| "its address cannot be read".to_owned())?;
            let trust = if url.scheme_str() == Some("https") { Some(trust(ca_file)?) } else { None };
            Kind::Webhook { url, key, trust }
        }
        How::Mail(letters) => {
            let security = match letters.tls {
                Tls::None => mail::Security::Never,
                Tls::Implicit => mail::Security::FromTheStart(trust(&letters.ca_file)?),
                Tls::Starttls => mail::Security::AfterHello(trust(&letters.ca_file)?),
            };
            let account = match &letters.account {
                Some((user, file)) => Some((user.clone(), Secret::read(&folder.join(file))?)),
                None => None,
            };
            let (host, port) = letters.server.clone();
            let server = mail::Server { host, port, security, account };
            Kind::Mail { server, from: letters.from.clone(), to: letters.to.clone() }
        }
    };
    Ok(Receiver { name: way.name.clone(), kind })
}

impl Receiver {
    /// One try.
    pub(super) async fn tell(&self, notice: &Notice, now: DateTime<Utc>) -> Tried {
        let trying = async {
            match &self.kind {
                Kind::Webhook { url, key, trust } => call(url, trust.as_ref(), key.as_ref(), notice, now).await,
                Kind::Mail { server, from, to } => {
                    let text = letter::letter(notice, from, to, now);
                    mail::post(server, from, to, &text).await.map_or_else(Tried::Later, |()| Tried::Taken)
                }
            }
        };
        let late = |_| Tried::Later(format!("no answer within {} s", WITHIN.as_secs()));
        tokio::time::timeout(WITHIN, trying).await.unwrap_or_else(late)
    }
}

async fn call(url: &Uri, trust: Option<&Trust>, key: Option<&Key>, notice: &Notice, now: DateTime<Utc>) -> Tried {
    let body = notice.cloud_event().to_string().into_bytes();
    let mut headers = vec![
        ("content-type", "application/cloudevents+json; charset=utf-8".to_owned()),
        ("webhook-id", notice.id.clone()),
        ("webhook-timestamp", now.timestamp().to_string()),
    ];
    if let Some(key) = key {
        headers.push(("webhook-signature", key.signature(&notice.id, now.timestamp(), &body)));
    }
    match web::post(url, trust, &headers, body).await {
        Ok(status) if status.is_success() => Tried::Taken,
        // Standard Webhooks: 410 says that this receiver is gone for good
        Ok(StatusCode::GONE) => Tried::Never("the receiver says that it is gone for good (410)".to_owned()),
        Ok(status) => Tried::Later(format!("the receiver said {status}")),
        Err(why) => Tried::Later(why),
    }
}
