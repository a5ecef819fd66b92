//! A letter, taken by a real server in this process that keeps to RFC 5321.

use super::unheard;
use crate::notices::{Patience, Teller, receivers};
use crate::shop::config::{How, Letters, Tls, Way};
use base64::Engine as _;
use chrono::Utc;
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::TcpListener;

/// Takes one letter; gives its commands and its text.
async fn sink(listener: TcpListener, refuse: bool) -> (Vec<String>, String) {
    let (stream, _) = listener.accept().await.unwrap();
    let mut stream = BufReader::new(stream);
    stream.write_all(b"220-hello\r\n220 sink\r\n").await.unwrap();
    let (mut commands, mut text, mut data) = (Vec::new(), String::new(), false);
    loop {
        let mut line = String::new();
        if stream.read_line(&mut line).await.unwrap() == 0 {
            return (commands, text);
        }
        assert!(line.ends_with("\r\n"), "{line:?}");
        if data {
            if line == ".\r\n" {
                data = false;
                stream.write_all(b"250 taken\r\n").await.unwrap();
            } else {
                text.push_str(&line);
            }
            continue;
        }
        let answer = match line.get(..4).unwrap_or_default() {
            "EHLO" => "250-sink\r\n250 8BITMIME",
            "RCPT" if refuse => "550 no such person",
            "MAIL" | "RCPT" => "250 ok",
            "DATA" => {
                data = true;
                "354 go on"
            }
            "QUIT" => "221 bye",
            other => panic!("{other}"),
        };
        commands.push(line.trim_end().to_owned());
        stream.write_all(format!("{answer}\r\n").as_bytes()).await.unwrap();
    }
}

async fn post(machine: &str, refuse: bool) -> (chargehand_types::notice::WayTried, Vec<String>, String) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let server = ("127.0.0.1".to_owned(), listener.local_addr().unwrap().port());
    let to = vec!["owner@shop.example".to_owned(), "helper@shop.example".to_owned()];
    let letters =
        Letters { server, tls: Tls::None, account: None, ca_file: None, from: "router@shop.example".to_owned(), to };
    let way = Way { name: "post".to_owned(), how: How::Mail(letters) };
    let folder = tempfile::tempdir().unwrap();
    let teller = Teller {
        receivers: receivers(&[way], folder.path()).unwrap(),
        unheard: unheard(folder.path()),
        patience: Patience::default(),
        clock: Utc::now,
    };
    let taking = tokio::spawn(sink(listener, refuse));
    let tried = teller.try_all(machine).await.pop().unwrap();
    let (commands, text) = taking.await.unwrap();
    (tried, commands, text)
}

#[tokio::test]
async fn a_letter_is_handed_over_whole() {
    let (tried, commands, text) = post("Fräse 1", false).await;
    assert!(tried.taken, "{tried:?}");
    assert_eq!(
        commands[1..4],
        ["MAIL FROM:<router@shop.example>", "RCPT TO:<owner@shop.example>", "RCPT TO:<helper@shop.example>"]
    );
    let (head, body) = text.split_once("\r\n\r\n").unwrap();
    // RFC 3834, 5; RFC 5322, 3.6: Date and From are a must
    for header in ["Auto-Submitted: auto-generated", "Date: ", "From: <router@shop.example>", "Message-ID: <try-"] {
        assert!(head.contains(header), "{head}");
    }
    assert!(text.is_ascii() && text.lines().all(|l| l.len() <= 78), "{text}");
    // RFC 2047: the heading is in encoded words
    let subject = head.split_once("Subject: =?utf-8?B?").unwrap().1.split_once("?=").unwrap().0;
    let read = |coded: &str| {
        let whole: String = coded.split_whitespace().collect();
        String::from_utf8(base64::engine::general_purpose::STANDARD.decode(whole).unwrap()).unwrap()
    };
    assert!(read(subject).starts_with("Fräse 1"), "{subject}");
    assert!(read(body).contains("This is a try"));
}

#[tokio::test]
async fn a_letter_refused_is_told_in_the_servers_words() {
    let (tried, _, text) = post("Router 1", true).await;
    assert!(!tried.taken && tried.text.contains("550 no such person") && text.is_empty(), "{tried:?}");
}
