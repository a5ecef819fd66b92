//! A daemon for tests: a small HTTP responder on a Unix socket that answers as a test tells it to.
//!
//! May live here: reading one request, writing one answer. May not: any rule of the real daemon.

use super::{Api, Place};
use chargehand_types::act::ActRequest;
use chargehand_types::id::TerminalId;
use chargehand_types::problem::Problem;
use serde::Serialize;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{UnixListener, UnixStream};
use tokio::task::JoinHandle;

/// One request as it came.
#[derive(Debug, Clone)]
pub struct Request {
    /// `GET /v1/now`
    pub line: String,
    /// Header lines.
    pub headers: Vec<String>,
    /// The body.
    pub body: String,
}

impl Request {
    /// A header's value.
    pub fn header(&self, name: &str) -> Option<String> {
        let lower = format!("{name}:");
        let line = self.headers.iter().find(|h| h.to_ascii_lowercase().starts_with(&lower))?;
        Some(line.split_once(':')?.1.trim().to_owned())
    }

    /// The act in it.
    pub fn act(&self) -> ActRequest {
        serde_json::from_str(&self.body).expect("an act")
    }
}

/// What is answered.
pub enum Reply {
    /// A JSON document.
    Json(u16, String),
    /// An event stream: this text, then its end.
    Ends(String),
    /// An event stream: this text, then silence for as long as the client listens.
    Stays(String),
}

impl Reply {
    pub fn ok(body: &impl Serialize) -> Self {
        Self::Json(200, serde_json::to_string(body).expect("plain data"))
    }

    pub fn no(problem: &Problem) -> Self {
        Self::Json(problem.status, serde_json::to_string(problem).expect("plain data"))
    }
}

/// A running fake; it ends with its test.
pub struct Fake {
    folder: tempfile::TempDir,
    /// Every request that came, in order.
    pub seen: Arc<Mutex<Vec<Request>>>,
    task: JoinHandle<()>,
}

impl Fake {
    /// Starts answering.
    pub fn start(answer: impl Fn(&Request) -> Reply + Send + Sync + 'static) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let seen = Arc::new(Mutex::new(Vec::new()));
        let task = serve(folder.path().join("api.sock"), Arc::new(answer), seen.clone());
        Self { folder, seen, task }
    }

    pub fn socket(&self) -> PathBuf {
        self.folder.path().join("api.sock")
    }

    /// Writes the token file beside the socket.
    pub fn with_token(self, token: &str) -> Self {
        crate::outside::write_file(&self.folder.path().join(super::TOKEN_FILE), token.as_bytes()).expect("a file");
        self
    }

    pub fn api(&self) -> Api {
        Api::new(Place::Socket(self.socket()), TerminalId::from("test")).expect("a client")
    }

    /// The acts that came, in order.
    pub fn acts(&self) -> Vec<ActRequest> {
        let seen = self.seen.lock().expect("no panic");
        seen.iter().filter(|r| r.line.starts_with("POST /v1/acts")).map(Request::act).collect()
    }
}

impl Drop for Fake {
    fn drop(&mut self) {
        self.task.abort();
    }
}

type Answer = dyn Fn(&Request) -> Reply + Send + Sync;

fn serve(socket: PathBuf, answer: Arc<Answer>, seen: Arc<Mutex<Vec<Request>>>) -> JoinHandle<()> {
    let listener = UnixListener::bind(socket).expect("a socket");
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            tokio::spawn(one(stream, answer.clone(), seen.clone()));
        }
    })
}

async fn one(stream: UnixStream, answer: Arc<Answer>, seen: Arc<Mutex<Vec<Request>>>) -> Option<()> {
    let mut reader = BufReader::new(stream);
    let request = request(&mut reader).await?;
    seen.lock().expect("no panic").push(request.clone());
    let mut stream = reader.into_inner();
    let (text, stays) = match answer(&request) {
        Reply::Json(status, body) => {
            let length = body.len();
            (format!("HTTP/1.1 {status} x\r\nconnection: close\r\ncontent-length: {length}\r\n\r\n{body}"), false)
        }
        Reply::Ends(body) => (stream_head(&body), false),
        Reply::Stays(body) => (stream_head(&body), true),
    };
    stream.write_all(text.as_bytes()).await.ok()?;
    if stays {
        // reading ends when the client goes away
        let mut rest = Vec::new();
        stream.read_to_end(&mut rest).await.ok()?;
    }
    Some(())
}

fn stream_head(body: &str) -> String {
    format!("HTTP/1.1 200 x\r\nconnection: close\r\ncontent-type: text/event-stream\r\n\r\n{body}")
}

async fn request(reader: &mut BufReader<UnixStream>) -> Option<Request> {
    let mut first = String::new();
    reader.read_line(&mut first).await.ok()?;
    let line = first.trim_end().trim_end_matches(" HTTP/1.1").to_owned();
    let mut headers = Vec::new();
    loop {
        let mut header = String::new();
        reader.read_line(&mut header).await.ok()?;
        if header.trim_end().is_empty() {
            break;
        }
        headers.push(header.trim_end().to_owned());
    }
    let mut request = Request { line, headers, body: String::new() };
    let length = request.header("content-length").and_then(|l| l.parse().ok()).unwrap_or(0);
    let mut body = vec![0; length];
    reader.read_exact(&mut body).await.ok()?;
    request.body = String::from_utf8(body).ok()?;
    Some(request)
}
