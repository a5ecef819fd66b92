//! A letter by SMTP (RFC 5321) in the plain: for a mail server of the shop's own network that takes letters from the
//! daemon without a password.
//!
//! May live here: the letter and the conversation. May not: who gets one.

use super::envelope::Notice;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chrono::{DateTime, Utc};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::TcpStream;

/// A reply has no more lines.
const LINES_MOST: usize = 100;
/// A line of a reply has no more bytes (RFC 5321, 4.5.3.1.5 says 512).
const LINE_MOST: u64 = 1024;

/// The letter's text (RFC 5322), lines ended by CRLF, without the last dot.
pub(super) fn letter(notice: &Notice, from: &str, to: &[String], sent: DateTime<Utc>) -> String {
    let host = from.split_once('@').map_or("localhost", |(_, host)| host);
    let id: String = notice.id.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' }).collect();
    let mut lines = vec![
        format!("Date: {}", sent.to_rfc2822()),
        format!("From: <{from}>"),
        format!("To: {}", to.iter().map(|t| format!("<{t}>")).collect::<Vec<_>>().join(",\r\n ")),
        format!("Subject: {}", word(&notice.title())),
        format!("Message-ID: <{id}@{host}>"),
        // RFC 3834, 5: so that no absence note is sent back
        "Auto-Submitted: auto-generated".to_owned(),
        "MIME-Version: 1.0".to_owned(),
        "Content-Type: text/plain; charset=utf-8".to_owned(),
        "Content-Transfer-Encoding: base64".to_owned(),
        String::new(),
    ];
    let body = format!("{}\r\n\r\nIt happened at {}.\r\n", notice.text, notice.at.format("%Y-%m-%d %H:%M:%S UTC"));
    let coded = STANDARD.encode(body);
    // RFC 2045, 6.8: lines of at most 76 characters
    for piece in coded.as_bytes().chunks(76) {
        lines.push(String::from_utf8_lossy(piece).into_owned());
    }
    lines.join("\r\n") + "\r\n"
}

/// A heading's text: as it is when plain, else encoded words (RFC 2047), each of at most 75 characters.
fn word(text: &str) -> String {
    if text.chars().all(|c| (' '..='~').contains(&c)) && text.len() < 900 {
        return text.to_owned();
    }
    let (mut words, mut piece) = (Vec::new(), String::new());
    for c in text.chars().map(|c| if c.is_control() { ' ' } else { c }) {
        if piece.len() + c.len_utf8() > 42 {
            words.push(std::mem::take(&mut piece));
        }
        piece.push(c);
    }
    words.push(piece);
    let coded: Vec<String> = words.iter().map(|w| format!("=?utf-8?B?{}?=", STANDARD.encode(w))).collect();
    coded.join("\r\n ")
}

/// Hands a letter over. The text has no line that begins with a dot: its body is base64.
pub(super) async fn post(server: &str, from: &str, to: &[String], text: &str) -> Result<(), String> {
    let stream = TcpStream::connect(server).await.map_err(|e| format!("{server} does not answer: {e}"))?;
    let mut stream = BufReader::new(stream);
    said(&mut stream, 220).await?;
    ask(&mut stream, "EHLO chargehand.localdomain", 250).await?;
    ask(&mut stream, &format!("MAIL FROM:<{from}>"), 250).await?;
    for address in to {
        ask(&mut stream, &format!("RCPT TO:<{address}>"), 250).await?;
    }
    ask(&mut stream, "DATA", 354).await?;
    ask(&mut stream, &format!("{text}."), 250).await?;
    // the letter is handed over; how the conversation ends changes nothing
    let _ = ask(&mut stream, "QUIT", 221).await;
    Ok(())
}

async fn ask(stream: &mut BufReader<TcpStream>, line: &str, wanted: u16) -> Result<(), String> {
    let sent = stream.write_all(format!("{line}\r\n").as_bytes()).await;
    sent.map_err(|e| format!("the mail server hung up: {e}"))?;
    said(stream, wanted).await
}

/// Reads one reply, of one or more lines (RFC 5321, 4.2.1).
async fn said(stream: &mut BufReader<TcpStream>, wanted: u16) -> Result<(), String> {
    for _ in 0..LINES_MOST {
        let mut line = Vec::new();
        let mut bounded = (&mut *stream).take(LINE_MOST);
        bounded.read_until(b'\n', &mut line).await.map_err(|e| format!("the mail server hung up: {e}"))?;
        let line = String::from_utf8_lossy(&line).trim_end().to_owned();
        if line.is_empty() {
            return Err("the mail server hung up".to_owned());
        }
        if line.as_bytes().get(3) == Some(&b'-') {
            continue;
        }
        let code = line.get(..3).and_then(|c| c.parse::<u16>().ok());
        return if code == Some(wanted) { Ok(()) } else { Err(format!("the mail server said: {line}")) };
    }
    Err("the mail server does not come to an end".to_owned())
}
