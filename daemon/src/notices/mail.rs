//! Handing a letter to a mail server: SMTP (RFC 5321) in the plain, encrypted from its start (RFC 8314, 3.3) or after the
//! hello (STARTTLS, RFC 3207), signed in with a password where one is given (RFC 4954).
//!
//! May live here: the conversation. May not: the letter, who gets one.

use super::secret::Secret;
use super::wire::{Trust, Wire, connect};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};

/// A reply has no more lines.
const LINES_MOST: usize = 100;
/// A line of a reply has no more bytes (RFC 5321, 4.5.3.1.5 says 512).
const LINE_MOST: u64 = 1024;
const HELLO: &str = "EHLO chargehand.localdomain";

/// A mail server, made ready.
#[derive(Debug, Clone)]
pub(super) struct Server {
    pub host: String,
    pub port: u16,
    pub security: Security,
    /// A user and the password.
    pub account: Option<(String, Secret)>,
}

/// When it is gone on encrypted, and whom it is believed.
#[derive(Debug, Clone)]
pub(super) enum Security {
    Never,
    FromTheStart(Trust),
    AfterHello(Trust),
}

/// Why a letter was not handed over.
#[derive(Debug, thiserror::Error)]
enum Fault {
    #[error("{0}")]
    Wire(String),
    #[error("the mail server hung up{0}")]
    HungUp(String),
    #[error("the mail server said: {code} {text}")]
    Said { code: String, text: String },
    #[error("the mail server does not come to an end")]
    Endless,
    #[error("the mail server offers no STARTTLS, and nothing was sent in the plain")]
    NoStartTls,
    #[error("the mail server said more than it may before going on encrypted; nothing was sent")]
    Mixed,
    #[error("the mail server offers no way to sign in that is known here (PLAIN or LOGIN)")]
    NoWayIn,
    // what it said is left out: some say the password back
    #[error("the mail server does not take `{user}` with this password (it said {code})")]
    NotSignedIn { user: String, code: String },
}

/// Hands a letter over. The text has no line that begins with a dot: its body is base64.
pub(super) async fn post(server: &Server, from: &str, to: &[String], text: &str) -> Result<(), String> {
    hand_over(server, from, to, text).await.map_err(|fault| fault.to_string())
}

async fn hand_over(server: &Server, from: &str, to: &[String], text: &str) -> Result<(), Fault> {
    let at_once = match &server.security {
        Security::FromTheStart(trust) => Some(trust),
        _ => None,
    };
    let mut talk = Talk::over(connect(&server.host, server.port, at_once).await.map_err(Fault::Wire)?);
    talk.said("220").await?;
    let mut offers = talk.ask(HELLO, "250").await?;
    if let Security::AfterHello(trust) = &server.security {
        if !offers.iter().any(|o| o.eq_ignore_ascii_case("STARTTLS")) {
            return Err(Fault::NoStartTls);
        }
        talk.ask("STARTTLS", "220").await?;
        talk = Talk::over(trust.wrap(talk.plain()?, &server.host).await.map_err(Fault::Wire)?);
        // RFC 3207, 4.2: what was offered before counts no longer
        offers = talk.ask(HELLO, "250").await?;
    }
    if let Some((user, password)) = &server.account {
        sign_in(&mut talk, &offers, user, password).await?;
    }
    talk.ask(&format!("MAIL FROM:<{from}>"), "250").await?;
    for address in to {
        talk.ask(&format!("RCPT TO:<{address}>"), "250").await?;
    }
    talk.ask("DATA", "354").await?;
    talk.ask(&format!("{text}."), "250").await?;
    // the letter is handed over; how the conversation ends changes nothing
    let _ = talk.ask("QUIT", "221").await;
    Ok(())
}

/// PLAIN (RFC 4616), or LOGIN where that alone is offered.
async fn sign_in(talk: &mut Talk, offers: &[String], user: &str, password: &Secret) -> Result<(), Fault> {
    let ways: Vec<String> = offers
        .iter()
        .filter_map(|o| o.get(..5).filter(|w| w.eq_ignore_ascii_case("AUTH ")).and(o.get(5..)))
        .flat_map(|ways| ways.split_whitespace().map(str::to_ascii_uppercase))
        .collect();
    let coded = |text: &str| STANDARD.encode(text);
    let steps = if ways.iter().any(|w| w == "PLAIN") {
        vec![(format!("AUTH PLAIN {}", coded(&format!("\0{user}\0{}", password.plain()))), "235")]
    } else if ways.iter().any(|w| w == "LOGIN") {
        vec![("AUTH LOGIN".to_owned(), "334"), (coded(user), "334"), (coded(password.plain()), "235")]
    } else {
        return Err(Fault::NoWayIn);
    };
    for (line, wanted) in steps {
        talk.ask(&line, wanted).await.map_err(|fault| match fault {
            Fault::Said { code, .. } => Fault::NotSignedIn { user: user.to_owned(), code },
            other => other,
        })?;
    }
    Ok(())
}

/// The conversation.
struct Talk(BufReader<Box<dyn Wire>>);

impl Talk {
    fn over(wire: Box<dyn Wire>) -> Self {
        Self(BufReader::new(wire))
    }

    /// The connection alone. What was said in the plain ahead of its time is never taken for something said encrypted.
    fn plain(self) -> Result<Box<dyn Wire>, Fault> {
        if self.0.buffer().is_empty() { Ok(self.0.into_inner()) } else { Err(Fault::Mixed) }
    }

    async fn ask(&mut self, line: &str, wanted: &str) -> Result<Vec<String>, Fault> {
        let hung_up = |e: std::io::Error| Fault::HungUp(format!(": {e}"));
        self.0.write_all(format!("{line}\r\n").as_bytes()).await.map_err(hung_up)?;
        self.0.flush().await.map_err(hung_up)?;
        self.said(wanted).await
    }

    /// Reads one reply, of one or more lines (RFC 5321, 4.2.1); gives their texts.
    async fn said(&mut self, wanted: &str) -> Result<Vec<String>, Fault> {
        let mut texts = Vec::new();
        for _ in 0..LINES_MOST {
            let mut line = Vec::new();
            let mut bounded = (&mut self.0).take(LINE_MOST);
            bounded.read_until(b'\n', &mut line).await.map_err(|e| Fault::HungUp(format!(": {e}")))?;
            let line = String::from_utf8_lossy(&line).trim_end().to_owned();
            if line.is_empty() {
                return Err(Fault::HungUp(String::new()));
            }
            let (code, rest) = line.split_at_checked(3).unwrap_or((line.as_str(), ""));
            texts.push(rest.get(1..).unwrap_or_default().to_owned());
            if rest.starts_with('-') {
                continue;
            }
            let text = || rest.trim_start().to_owned();
            return if code == wanted { Ok(texts) } else { Err(Fault::Said { code: code.to_owned(), text: text() }) };
        }
        Err(Fault::Endless)
    }
}
