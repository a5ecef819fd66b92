//! Whom the daemon tells outside the shop, and how: ways, rules, a message broker, the adapter for machine monitoring.
//!
//! May live here: the values, their form and their faults. May not: sending anything.

use crate::shop::check::{Check, Limits};
use crate::shop::text::Path;
use chargehand_types::call::CallReason;
use chrono::NaiveTime;
use serde::Deserialize;
use std::net::SocketAddr;

/// No shop has more ways, rules or addresses.
const MOST: usize = 50;
const MINUTES: Limits = Limits::from(0.0, 1440.0, "minutes");

/// Everything told outside the shop; nothing when unsaid.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Outward {
    /// Ways to tell somebody.
    pub ways: Vec<Way>,
    /// Who is told what, when. None given: every way is told of every call at once.
    pub rules: Vec<Rule>,
    /// A message broker (MQTT 3.1.1).
    pub broker: Option<Broker>,
    /// Where a reader of machine states connects (MTConnect's adapter protocol).
    pub adapter: Option<SocketAddr>,
}

/// A way to tell somebody.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// Its name, for rules.
    pub name: String,
    /// How.
    pub how: How,
}

/// How somebody is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum How {
    /// A request to a web address.
    Webhook {
        /// `http://…`
        url: String,
        /// The file that holds the key it is signed with.
        key_file: Option<String>,
    },
    /// A letter by a mail server of the shop's own network.
    Mail {
        /// Host and port.
        server: String,
        /// From this address.
        from: String,
        /// To these.
        to: Vec<String>,
    },
}

/// Who is told what, when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    /// By these ways.
    pub by: Vec<String>,
    /// Of these reasons; all when empty.
    pub reasons: Vec<CallReason>,
    /// Of a planned time somebody is needed, so many minutes before it.
    pub lead_min: Option<u32>,
    /// Only when nobody answered for so long.
    pub after_min: u32,
    /// Only within these times of day; the second may be the earlier and is then the next day's.
    pub within: Option<(NaiveTime, NaiveTime)>,
}

/// A message broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broker {
    /// Its host.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// What all topics begin with.
    pub topic: String,
    /// A user, and the file that holds the password.
    pub user: Option<(String, String)>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawOutward {
    webhook: Vec<RawWebhook>,
    mail: Vec<RawMail>,
    rule: Vec<RawRule>,
    broker: Option<RawBroker>,
    adapter: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawWebhook {
    name: String,
    url: String,
    key_file: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawMail {
    name: String,
    server: String,
    from: String,
    to: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRule {
    by: Vec<String>,
    #[serde(default)]
    reasons: Vec<CallReason>,
    lead_min: Option<u32>,
    #[serde(default)]
    after_min: u32,
    from: Option<String>,
    to: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBroker {
    host: String,
    #[serde(default = "usual_port")]
    port: u16,
    topic: String,
    user: Option<String>,
    password_file: Option<String>,
}

const fn usual_port() -> u16 {
    1883
}

pub(super) fn judge(check: &mut Check<'_, '_>, at: &Path, raw: RawOutward) -> Outward {
    let mut ways = Vec::new();
    for (i, hook) in raw.webhook.into_iter().enumerate() {
        let path = at.key("webhook").at(i);
        check.name(&path.key("name"), &hook.name);
        if !is_address(&hook.url) {
            check.tell(&path.key("url"), "this is no address to call", "http://HOST/PATH; https is not spoken yet");
        }
        ways.push((path, Way { name: hook.name, how: How::Webhook { url: hook.url, key_file: hook.key_file } }));
    }
    for (i, mail) in raw.mail.into_iter().enumerate() {
        let path = at.key("mail").at(i);
        check.name(&path.key("name"), &mail.name);
        if mail.server.rsplit_once(':').is_none_or(|(h, p)| h.is_empty() || p.parse::<u16>().is_err()) {
            check.tell(&path.key("server"), "this is no server", "HOST:PORT, such as mail.shop.example:25");
        }
        check.no_more_than(&path.key("to"), mail.to.len(), MOST);
        if mail.to.is_empty() {
            check.tell(&path.key("to"), "nobody gets this letter", "at least one address");
        }
        for (key, address) in std::iter::once(("from", &mail.from)).chain(mail.to.iter().map(|address| ("to", address)))
        {
            if !is_mailbox(address) {
                check.tell(&path.key(key), format!("`{}` is no address", address.escape_debug()), "NAME@HOST");
            }
        }
        let how = How::Mail { server: mail.server, from: mail.from, to: mail.to };
        ways.push((path, Way { name: mail.name, how }));
    }
    check.no_more_than(at, ways.len(), MOST);
    check.once("way", ways.iter().map(|(path, way)| (path.key("name"), way.name.as_str())));
    let names: Vec<String> = ways.iter().map(|(_, way)| way.name.clone()).collect();
    check.no_more_than(&at.key("rule"), raw.rule.len(), MOST);
    let rules = raw.rule.into_iter().enumerate().map(|(i, r)| rule(check, &at.key("rule").at(i), r, &names)).collect();
    let broker = raw.broker.map(|b| broker(check, &at.key("broker"), b));
    let adapter = raw.adapter.and_then(|text| {
        let address = text.parse().ok();
        if address.is_none() {
            check.tell(&at.key("adapter"), "this is no address to listen on", "IP:PORT, such as 127.0.0.1:7878");
        }
        address
    });
    Outward { ways: ways.into_iter().map(|(_, way)| way).collect(), rules, broker, adapter }
}

fn rule(check: &mut Check<'_, '_>, path: &Path, raw: RawRule, names: &[String]) -> Rule {
    if raw.by.is_empty() {
        check.tell(&path.key("by"), "nobody is told by this rule", "names of ways");
    }
    for name in &raw.by {
        check.one_of(&path.key("by"), "way", name, names);
    }
    check.number(&path.key("after_min"), f64::from(raw.after_min), MINUTES);
    check.number_if(&path.key("lead_min"), raw.lead_min.map(f64::from), MINUTES);
    let within = match (raw.from, raw.to) {
        (None, None) => None,
        (Some(from), Some(to)) => time(check, &path.key("from"), &from).zip(time(check, &path.key("to"), &to)),
        _ => {
            check.tell(path, "only one end of the times is given", "both `from` and `to`, or neither");
            None
        }
    };
    Rule { by: raw.by, reasons: raw.reasons, lead_min: raw.lead_min, after_min: raw.after_min, within }
}

fn time(check: &mut Check<'_, '_>, path: &Path, text: &str) -> Option<NaiveTime> {
    let time = NaiveTime::parse_from_str(text, "%H:%M").ok();
    if time.is_none() {
        check.tell(path, format!("`{}` is no time of day", text.escape_debug()), "HH:MM, 00:00 to 23:59");
    }
    time
}

fn broker(check: &mut Check<'_, '_>, path: &Path, raw: RawBroker) -> Broker {
    check.words(&path.key("host"), &raw.host);
    let topic = &raw.topic;
    if topic.is_empty()
        || topic.starts_with(['/', '$'])
        || topic.ends_with('/')
        || topic.chars().any(|c| c == '+' || c == '#' || c.is_control())
        || topic.len() > 200
    {
        check.tell(&path.key("topic"), "this is no beginning of topics", "words with / between, such as shop/router-1");
    }
    let user = match (raw.user, raw.password_file) {
        (Some(user), Some(file)) => Some((user, file)),
        (None, None) => None,
        _ => {
            check.tell(path, "a user without a password, or the other way round", "both `user` and `password_file`");
            None
        }
    };
    Broker { host: raw.host, port: raw.port, topic: raw.topic, user }
}

fn is_address(url: &str) -> bool {
    url.strip_prefix("http://").is_some_and(|rest| {
        let host = rest.split(['/', '?']).next().unwrap_or_default();
        !host.is_empty() && rest.chars().all(|c| c.is_ascii_graphic() && c != '"' && c != '\\') && !host.contains('@')
    })
}

/// As much of an address (RFC 5321) as keeps a letter's commands whole.
fn is_mailbox(address: &str) -> bool {
    address.split_once('@').is_some_and(|(name, host)| !name.is_empty() && !host.is_empty())
        && address.chars().all(|c| c.is_ascii_graphic() && !"<>()[],;:\\\"".contains(c))
        && address.matches('@').count() == 1
        && address.len() <= 254
}
