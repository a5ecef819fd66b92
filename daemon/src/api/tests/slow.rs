//! Clients that are slow on purpose: what they may keep, and for how long.

use super::desk::Served;
use crate::api::Limits;
use std::io::{ErrorKind, Read, Write};
use std::os::unix::net::UnixStream;
use std::time::Duration;

/// Short ones, so that the end comes within a test.
fn short() -> Limits {
    Limits { head: Duration::from_millis(300), taken: Duration::from_millis(300), ..Limits::default() }
}

/// Reads until the other end hangs up; panics when it never does.
fn hung_up_on(mut stream: UnixStream) -> String {
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let mut bytes = Vec::new();
    match stream.read_to_end(&mut bytes) {
        Err(e) if e.kind() != ErrorKind::ConnectionReset => panic!("not hung up on: {e}"),
        _ => String::from_utf8_lossy(&bytes).into_owned(),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_head_that_does_not_end_is_not_waited_for() {
    let served = Served::start(short(), 16);
    let socket = served.socket.clone();
    let told = tokio::task::spawn_blocking(move || {
        ["", "GET /v1/no", "GET /v1/now HTTP/1.1\r\nhost: x\r\nslow: "].map(|part| {
            let mut stream = UnixStream::connect(&socket).unwrap();
            stream.write_all(part.as_bytes()).unwrap();
            hung_up_on(stream)
        })
    });
    for answer in told.await.unwrap() {
        assert!(!answer.contains("200 OK"), "{answer}");
    }
}

/// More than there is room for: the next one is answered all the same, once they were hung up on.
#[tokio::test(flavor = "multi_thread")]
async fn silent_clients_do_not_keep_the_others_out() {
    let served = Served::start(short(), 16);
    let socket = served.socket.clone();
    let answered = tokio::task::spawn_blocking(move || {
        let silent: Vec<UnixStream> = (0..300).map(|_| UnixStream::connect(&socket).unwrap()).collect();
        let mut stream = UnixStream::connect(&socket).unwrap();
        stream.write_all(b"GET /v1/now HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n").unwrap();
        let answer = hung_up_on(stream);
        drop(silent);
        answer
    });
    assert!(answered.await.unwrap().starts_with("HTTP/1.1 200"));
}
