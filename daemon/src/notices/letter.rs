//! A letter's text (RFC 5322): pure.
//!
//! May live here: its form. May not: handing it over, who gets one.

use super::envelope::Notice;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chrono::{DateTime, Utc};

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
