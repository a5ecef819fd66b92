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
        /// `http://…` or `https://…`
        url: String,
        /// The file that holds the key it is signed with.
        key_file: Option<String>,
        /// The file of the authorities to trust in place of the computer's own.
        ca_file: Option<String>,
    },
    /// A letter by a mail server.
    Mail(Letters),
}

/// A mail server, and whose letters it takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letters {
    /// Host and port.
    pub server: (String, u16),
    /// Whether the conversation is encrypted.
    pub tls: Tls,
    /// A user, and the file that holds the password.
    pub account: Option<(String, String)>,
    /// The file of the authorities to trust in place of the computer's own.
    pub ca_file: Option<String>,
    /// From this address.
    pub from: String,
    /// To these.
    pub to: Vec<String>,
}

/// When a conversation with a mail server is encrypted, in the words of RFC 8314 and RFC 3207.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tls {
    /// Never.
    #[default]
    None,
    /// From its start.
    Implicit,
    /// After the hello.
    Starttls,
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
    /// Whether the connection is encrypted.
    pub tls: bool,
    /// The file of the authorities to trust in place of the computer's own.
    pub ca_file: Option<String>,
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
    ca_file: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawMail {
    name: String,
    server: String,
    #[serde(default)]
    tls: Tls,
    user: Option<String>,
    password_file: Option<String>,
    ca_file: Option<String>,
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
    port: Option<u16>,
    topic: String,
    user: Option<String>,
    password_file: Option<String>,
    #[serde(default)]
    tls: bool,
    ca_file: Option<String>,
}

/// The registered ports of MQTT, in the plain and encrypted (IANA).
const fn usual_port(tls: bool) -> u16 {
    if tls { 8883 } else { 1883 }
}

pub(super) fn judge(check: &mut Check<'_, '_>, at: &Path, raw: RawOutward) -> Outward {
    let mut ways = Vec::new();
    for (i, hook) in raw.webhook.into_iter().enumerate() {
        let path = at.key("webhook").at(i);
        check.name(&path.key("name"), &hook.name);
        if !is_address(&hook.url) {
            check.tell(&path.key("url"), "this is no address to call", "https://HOST/PATH, or http:// within the shop");
        } else if hook.ca_file.is_some() && !hook.url.starts_with("https:") {
            check.tell(&path.key("ca_file"), "nobody is asked for a certificate at this address", "an https address");
        }
        let how = How::Webhook { url: hook.url, key_file: hook.key_file, ca_file: hook.ca_file };
        ways.push((path, Way { name: hook.name, how }));
    }
    for (i, mail) in raw.mail.into_iter().enumerate() {
        let path = at.key("mail").at(i);
        check.name(&path.key("name"), &mail.name);
        let name = mail.name.clone();
        let letters = letters(check, &path, mail);
        ways.push((path, Way { name, how: How::Mail(letters) }));
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

fn letters(check: &mut Check<'_, '_>, path: &Path, raw: RawMail) -> Letters {
    let server = raw.server.rsplit_once(':').filter(|(host, _)| !host.is_empty());
    let server = server.and_then(|(host, port)| Some((host.to_owned(), port.parse().ok()?)));
    if server.is_none() {
        check.tell(&path.key("server"), "this is no server", "HOST:PORT, such as mail.shop.example:465");
    }
    check.no_more_than(&path.key("to"), raw.to.len(), MOST);
    if raw.to.is_empty() {
        check.tell(&path.key("to"), "nobody gets this letter", "at least one address");
    }
    for (key, address) in std::iter::once(("from", &raw.from)).chain(raw.to.iter().map(|address| ("to", address))) {
        if !is_mailbox(address) {
            check.tell(&path.key(key), format!("`{}` is no address", address.escape_debug()), "NAME@HOST");
        }
    }
    let account = account(check, path, raw.user, raw.password_file);
    if raw.tls == Tls::None {
        let needs = "tls = \"implicit\" (port 465) or tls = \"starttls\" (port 587)";
        if account.is_some() {
            check.tell(&path.key("user"), "the password would be sent for everybody to read", needs);
        }
        if raw.ca_file.is_some() {
            check.tell(&path.key("ca_file"), "this server is asked for no certificate", needs);
        }
    }
    let (tls, ca_file, from, to) = (raw.tls, raw.ca_file, raw.from, raw.to);
    Letters { server: server.unwrap_or_default(), tls, account, ca_file, from, to }
}

/// A user with a password, or neither.
fn account(
    check: &mut Check<'_, '_>,
    path: &Path,
    user: Option<String>,
    password_file: Option<String>,
) -> Option<(String, String)> {
    if user.is_some() != password_file.is_some() {
        check.tell(path, "a user without a password, or the other way round", "both `user` and `password_file`");
    }
    if let Some(user) = &user {
        check.words(&path.key("user"), user);
    }
    user.zip(password_file)
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
    let user = account(check, path, raw.user, raw.password_file);
    if raw.ca_file.is_some() && !raw.tls {
        check.tell(&path.key("ca_file"), "this broker is asked for no certificate", "tls = true");
    }
    let port = raw.port.unwrap_or(usual_port(raw.tls));
    Broker { host: raw.host, port, topic: raw.topic, user, tls: raw.tls, ca_file: raw.ca_file }
}

fn is_address(url: &str) -> bool {
    url.strip_prefix("https://").or_else(|| url.strip_prefix("http://")).is_some_and(|rest| {
        let host = rest.split(['/', '?']).next().unwrap_or_default();
        !host.is_empty()
            && !host.contains('@')
            && rest.chars().all(|c| c.is_ascii_graphic() && c != '"' && c != '\\')
            && host
                .rsplit_once(':')
                .is_none_or(|(name, port)| !name.is_empty() && (port.ends_with(']') || port.parse::<u16>().is_ok()))
    })
}

/// As much of an address (RFC 5321) as keeps a letter's commands whole.
fn is_mailbox(address: &str) -> bool {
    address.split_once('@').is_some_and(|(name, host)| !name.is_empty() && !host.is_empty())
        && address.chars().all(|c| c.is_ascii_graphic() && !"<>()[],;:\\\"".contains(c))
        && address.matches('@').count() == 1
        && address.len() <= 254
}
