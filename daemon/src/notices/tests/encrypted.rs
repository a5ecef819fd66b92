//! Encrypted ways: real servers in this process with certificates made here, each of which is right or wrong in one way.

use super::unheard;
use crate::notices::{Patience, Teller, receivers};
use crate::shop::config::{How, Letters, Tls, Way};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chargehand_types::notice::WayTried;
use chrono::Utc;
use rcgen::{CertificateParams, CertifiedKey, KeyPair, date_time_ymd};
use rustls::ServerConfig;
use rustls::pki_types::PrivateKeyDer;
use std::path::Path;
use std::sync::{Arc, Mutex};
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::net::TcpListener;
use tokio_rustls::TlsAcceptor;

const PASSWORD: &str = "open-sesame-4711";

/// A certificate for a name, that signs itself.
fn certificate(name: &str, over: bool) -> CertifiedKey<KeyPair> {
    let mut params = CertificateParams::new(vec![name.to_owned()]).unwrap();
    if over {
        (params.not_before, params.not_after) = (date_time_ymd(2019, 1, 1), date_time_ymd(2020, 1, 1));
    }
    let signing_key = KeyPair::generate().unwrap();
    CertifiedKey { cert: params.self_signed(&signing_key).unwrap(), signing_key }
}

fn acceptor(own: &CertifiedKey<KeyPair>) -> TlsAcceptor {
    let key = PrivateKeyDer::try_from(own.signing_key.serialize_der()).unwrap();
    let config = ServerConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![own.cert.der().clone()], key);
    TlsAcceptor::from(Arc::new(config.unwrap()))
}

/// One try of a way, with the files that it names.
async fn tried(way: Way, files: &[(&str, &str)]) -> WayTried {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let teller = teller(&[way], folder.path());
    assert!(!format!("{teller:?}").contains(PASSWORD), "nobody who prints a receiver prints its password");
    teller.try_all("Router 1").await.pop().unwrap()
}

fn teller(ways: &[Way], folder: &Path) -> Teller {
    let receivers = receivers(ways, folder).unwrap();
    Teller { receivers, unheard: unheard(folder), patience: Patience::default(), clock: Utc::now }
}

/// A web receiver that takes one request over TLS; gives what it read of it, nothing where none came.
async fn web(own: &CertifiedKey<KeyPair>) -> (String, tokio::task::JoinHandle<String>) {
    let (listener, acceptor) = (TcpListener::bind("127.0.0.1:0").await.unwrap(), acceptor(own));
    let url = format!("https://localhost:{}/calls?room=4", listener.local_addr().unwrap().port());
    let taking = tokio::spawn(async move {
        let (stream, _) = listener.accept().await.unwrap();
        let Ok(mut stream) = acceptor.accept(stream).await else { return String::new() };
        let (mut raw, mut piece) = (Vec::new(), [0_u8; 4096]);
        while !String::from_utf8_lossy(&raw).ends_with('}') {
            match stream.read(&mut piece).await {
                Ok(read) if read > 0 => raw.extend_from_slice(&piece[..read]),
                _ => break,
            }
        }
        let _ = stream.write_all(b"HTTP/1.1 204 No Content\r\n\r\n").await;
        let _ = stream.shutdown().await;
        String::from_utf8(raw).unwrap()
    });
    (url, taking)
}

fn hook(url: &str, ca_file: Option<&str>) -> Way {
    let how = How::Webhook { url: url.to_owned(), key_file: None, ca_file: ca_file.map(str::to_owned) };
    Way { name: "phone".to_owned(), how }
}

#[tokio::test]
async fn a_call_goes_encrypted_to_whom_the_shop_trusts() {
    let own = certificate("localhost", false);
    let (url, taking) = web(&own).await;
    let told = tried(hook(&url, Some("ca.pem")), &[("ca.pem", &own.cert.pem())]).await;
    assert!(told.taken, "{told:?}");
    let request = taking.await.unwrap();
    // RFC 9112, 3.2.1 and 3.2: the path with its query, and the host with its port
    assert!(request.starts_with("POST /calls?room=4 HTTP/1.1\r\n"), "{request}");
    assert!(request.contains(&format!("host: {}\r\n", url.split('/').nth(2).unwrap())), "{request}");
    assert!(request.contains("application/cloudevents+json") && request.contains("This is a try"), "{request}");
}

#[tokio::test]
async fn a_wrong_certificate_is_refused_in_a_sentence_and_hears_nothing() {
    let right = certificate("localhost", false);
    let cases = [
        (certificate("localhost", false), Some(right.cert.pem()), "nobody trusted here has signed"),
        (certificate("localhost", false), None, "nobody trusted here has signed"),
        (certificate("other.example", false), Some(String::new()), "made out for another name"),
        (certificate("localhost", true), Some(String::new()), "whose time is over"),
    ];
    for (own, trusted, words) in cases {
        let (url, taking) = web(&own).await;
        // an empty text stands for the server's own certificate
        let pem = trusted.map(|t| if t.is_empty() { own.cert.pem() } else { t });
        let told = tried(hook(&url, pem.as_ref().map(|_| "ca.pem")), &[("ca.pem", &pem.unwrap_or_default())]).await;
        assert!(!told.taken && told.text.contains(words) && told.text.contains("Nothing was sent"), "{told:?}");
        assert_eq!(taking.await.unwrap(), "", "{words}");
    }
}

#[tokio::test]
async fn a_port_without_tls_is_told() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("https://127.0.0.1:{}/", listener.local_addr().unwrap().port());
    tokio::spawn(async move {
        let (mut stream, _) = listener.accept().await.unwrap();
        stream.write_all(b"HTTP/1.1 400 Bad Request\r\n\r\n").await.unwrap();
        let _ = stream.read(&mut [0_u8; 4096]).await;
    });
    let told = tried(hook(&url, Some("ca.pem")), &[("ca.pem", &certificate("localhost", false).cert.pem())]).await;
    assert!(!told.taken && told.text.contains("Is its port one that speaks TLS?"), "{told:?}");
}

#[test]
fn a_file_of_authorities_that_is_none_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let way = hook("https://localhost:1/", Some("ca.pem"));
    let said = || receivers(std::slice::from_ref(&way), folder.path()).unwrap_err().to_string();
    assert!(said().contains("ca.pem"), "{}", said());
    std::fs::write(folder.path().join("ca.pem"), "no certificate\n").unwrap();
    assert!(said().contains("there is no certificate in it"), "{}", said());
}

/// How a mail server is.
#[derive(Clone, Copy)]
struct Sort {
    tls: Tls,
    /// What it offers once encrypted.
    offers: &'static str,
    /// Its answer to the last line of signing in.
    answer: &'static str,
    /// What it says with its answer to STARTTLS, in the plain.
    smuggles: &'static str,
}

const KIND: Sort = Sort { tls: Tls::Implicit, offers: "AUTH LOGIN PLAIN", answer: "235 come in", smuggles: "" };

/// Answers until the client is done, or wants to go on encrypted; whether it wants to.
async fn converse(
    stream: &mut (impl AsyncRead + AsyncWrite + Unpin),
    offers: &str,
    sort: Sort,
    heard: &Mutex<Vec<String>>,
) -> bool {
    let mut stream = BufReader::new(stream);
    let (mut data, mut login) = (false, 0);
    loop {
        let mut line = String::new();
        if stream.read_line(&mut line).await.unwrap_or(0) == 0 {
            return false;
        }
        let line = line.trim_end().to_owned();
        if data {
            data = line != ".";
            if !data {
                stream.write_all(b"250 taken\r\n").await.unwrap();
            }
            continue;
        }
        heard.lock().unwrap().push(line.clone());
        let answer = match line.split(' ').next().unwrap() {
            "EHLO" => format!("250-sink\r\n250-{offers}\r\n250 8BITMIME"),
            "STARTTLS" => {
                let said = format!("220 go on\r\n{}", sort.smuggles);
                stream.write_all(said.as_bytes()).await.unwrap();
                return true;
            }
            "AUTH" if line == "AUTH LOGIN" => {
                login = 2;
                "334 VXNlcm5hbWU6".to_owned()
            }
            // says the line back, as some do
            "AUTH" => format!("{} {line}", sort.answer),
            _ if login == 2 => {
                login = 1;
                "334 UGFzc3dvcmQ6".to_owned()
            }
            _ if login == 1 => {
                login = 0;
                sort.answer.to_owned()
            }
            "DATA" => {
                data = true;
                "354 go on".to_owned()
            }
            "QUIT" => "221 bye".to_owned(),
            _ => "250 ok".to_owned(),
        };
        if stream.write_all(format!("{answer}\r\n").as_bytes()).await.is_err() {
            return false;
        }
    }
}

/// A letter to such a server: how it ended, what was heard in the plain and what encrypted.
async fn post(sort: Sort, wanted: Tls) -> (WayTried, Vec<String>, Vec<String>) {
    let own = certificate("localhost", false);
    let (listener, acceptor) = (TcpListener::bind("127.0.0.1:0").await.unwrap(), acceptor(&own));
    let port = listener.local_addr().unwrap().port();
    let heard: Arc<[Mutex<Vec<String>>; 2]> = Arc::default();
    let serving = tokio::spawn({
        let heard = Arc::clone(&heard);
        async move {
            let (mut stream, _) = listener.accept().await.unwrap();
            if sort.tls != Tls::Implicit {
                stream.write_all(b"220 sink\r\n").await.unwrap();
                let offers = if sort.tls == Tls::Starttls { "STARTTLS" } else { "SIZE 1000000" };
                if !converse(&mut stream, offers, sort, &heard[0]).await {
                    return;
                }
            }
            let Ok(mut stream) = acceptor.accept(stream).await else { return };
            if sort.tls == Tls::Implicit {
                stream.write_all(b"220 sink\r\n").await.unwrap();
            }
            converse(&mut stream, sort.offers, sort, &heard[1]).await;
        }
    });
    let letters = Letters {
        server: ("localhost".to_owned(), port),
        tls: wanted,
        account: Some(("router".to_owned(), "mail.password".to_owned())),
        ca_file: Some("ca.pem".to_owned()),
        from: "router@shop.example".to_owned(),
        to: vec!["owner@shop.example".to_owned()],
    };
    let way = Way { name: "post".to_owned(), how: How::Mail(letters) };
    let password = format!("{PASSWORD}\n");
    let told = tried(way, &[("ca.pem", &own.cert.pem()), ("mail.password", &password)]).await;
    serving.await.unwrap();
    let both = [&heard[0], &heard[1]].map(|h| h.lock().unwrap().clone());
    let [plain, encrypted] = both;
    (told, plain, encrypted)
}

#[tokio::test]
async fn a_letter_is_handed_over_encrypted_by_whoever_may() {
    let plain_word = STANDARD.encode(format!("\0router\0{PASSWORD}"));
    for sort in [KIND, Sort { tls: Tls::Starttls, ..KIND }] {
        let (told, plain, encrypted) = post(sort, sort.tls).await;
        assert!(told.taken, "{told:?}");
        // RFC 3207, 4.2: the hello again, once encrypted
        let before: &[&str] =
            if sort.tls == Tls::Starttls { &["EHLO chargehand.localdomain", "STARTTLS"] } else { &[] };
        assert_eq!(plain, before);
        assert_eq!(
            encrypted,
            [
                "EHLO chargehand.localdomain",
                &format!("AUTH PLAIN {plain_word}"),
                "MAIL FROM:<router@shop.example>",
                "RCPT TO:<owner@shop.example>",
                "DATA",
                "QUIT"
            ]
        );
    }
}

#[tokio::test]
async fn where_only_login_is_offered_it_is_used() {
    let (told, _, encrypted) = post(Sort { offers: "AUTH LOGIN", ..KIND }, Tls::Implicit).await;
    assert!(told.taken, "{told:?}");
    assert_eq!(encrypted[1..4], ["AUTH LOGIN".to_owned(), STANDARD.encode("router"), STANDARD.encode(PASSWORD)]);
}

#[tokio::test]
async fn the_password_is_never_sent_in_the_plain() {
    for (sort, words) in [
        (Sort { tls: Tls::None, ..KIND }, "offers no STARTTLS"),
        // RFC 3207, 6: what somebody slipped in before the encrypted part is not taken for the server's word
        (Sort { tls: Tls::Starttls, smuggles: "250-sink\r\n250 AUTH PLAIN\r\n", ..KIND }, "more than it may"),
    ] {
        let (told, plain, encrypted) = post(sort, Tls::Starttls).await;
        assert!(!told.taken && told.text.contains(words), "{told:?}");
        assert!(!plain.iter().any(|l| l.starts_with("AUTH") || l.starts_with("MAIL")), "{plain:?}");
        assert_eq!(encrypted, [""; 0]);
    }
}

#[tokio::test]
async fn a_refused_password_is_told_without_it() {
    for (offers, answer, words) in [
        ("AUTH PLAIN", "535 no:", "does not take `router` with this password (it said 535)"),
        ("AUTH OTHER", "", "no way to sign in that is known here"),
    ] {
        let (told, _, encrypted) = post(Sort { offers, answer, ..KIND }, Tls::Implicit).await;
        assert!(!told.taken && told.text.contains(words), "{told:?}");
        assert!(!told.text.contains(PASSWORD), "{told:?}");
        assert!(!told.text.contains(&STANDARD.encode(format!("\0router\0{PASSWORD}"))), "{told:?}");
        assert!(!encrypted.iter().any(|l| l.starts_with("MAIL")), "{encrypted:?}");
    }
}
