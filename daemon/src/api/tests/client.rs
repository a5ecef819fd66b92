//! HTTP/1.1 by hand, so that what is on the wire is what is tested.

use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::UnixStream;

pub struct Client {
    socket: UnixStream,
    raw: Vec<u8>,
}

#[derive(Debug)]
pub struct Told {
    pub status: u16,
    pub headers: BTreeMap<String, String>,
    pub body: String,
}

impl Told {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }

    pub fn detail(&self) -> String {
        assert_eq!(self.headers["content-type"], "application/problem+json");
        assert_eq!(self.json()["status"], self.status);
        self.json()["detail"].as_str().unwrap().to_owned()
    }
}

impl Client {
    pub async fn connect(socket: &Path) -> Self {
        Self { socket: UnixStream::connect(socket).await.unwrap(), raw: Vec::new() }
    }

    pub async fn send(&mut self, line: &str, headers: &[(&str, &str)], body: &[u8]) {
        let mut text = format!("{line} HTTP/1.1\r\nhost: chargehand\r\n");
        for (name, value) in headers {
            text.push_str(&format!("{name}: {value}\r\n"));
        }
        text.push_str(&format!("content-length: {}\r\n\r\n", body.len()));
        self.socket.write_all(text.as_bytes()).await.unwrap();
        // an answer may come, and the connection be closed, before a body that is too large is through
        let _ = self.socket.write_all(body).await;
    }

    /// One request, one answer.
    pub async fn ask(&mut self, line: &str, headers: &[(&str, &str)], body: &str) -> Told {
        self.send(line, headers, body.as_bytes()).await;
        self.answer().await
    }

    pub async fn answer(&mut self) -> Told {
        let mut told = self.head().await;
        let length: usize = told.headers["content-length"].parse().unwrap();
        while self.raw.len() < length {
            assert!(self.more().await, "the answer ends early");
        }
        told.body = String::from_utf8(self.raw.drain(..length).collect()).unwrap();
        told
    }

    /// Status line and headers.
    pub async fn head(&mut self) -> Told {
        let end = loop {
            match self.raw.windows(4).position(|w| w == b"\r\n\r\n") {
                Some(end) => break end,
                None => assert!(self.more().await, "no answer"),
            }
        };
        let text = String::from_utf8(self.raw.drain(..end + 4).collect()).unwrap();
        let mut lines = text.lines();
        let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
        let headers = lines
            .filter_map(|l| l.split_once(": "))
            .map(|(name, value)| (name.to_lowercase(), value.to_owned()))
            .collect();
        Told { status, headers, body: String::new() }
    }

    /// The whole of a chunked body.
    pub async fn chunks(&mut self) -> String {
        let mut body = String::new();
        while let Some(chunk) = self.chunk().await {
            body.push_str(&chunk);
        }
        body
    }

    async fn more(&mut self) -> bool {
        let mut piece = [0; 4096];
        let read = self.socket.read(&mut piece).await.unwrap_or(0);
        self.raw.extend(&piece[..read]);
        read > 0
    }

    /// The next piece of a chunked body; none at its end.
    async fn chunk(&mut self) -> Option<String> {
        loop {
            if let Some(end) = self.raw.windows(2).position(|w| w == b"\r\n") {
                let size = std::str::from_utf8(&self.raw[..end]).unwrap();
                let size = usize::from_str_radix(size, 16).unwrap();
                if self.raw.len() >= end + 2 + size + 2 {
                    let chunk = self.raw[end + 2..end + 2 + size].to_vec();
                    self.raw.drain(..end + 2 + size + 2);
                    return (size > 0).then(|| String::from_utf8(chunk).unwrap());
                }
            }
            if !self.more().await {
                return None;
            }
        }
    }
}

/// An event stream.
pub struct Stream {
    client: Client,
    text: String,
}

/// One block of an event stream, its fields by name.
pub type Block = BTreeMap<String, String>;

impl Stream {
    pub async fn open(mut client: Client, path: &str, headers: &[(&str, &str)]) -> Self {
        client.send(&format!("GET {path}"), headers, b"").await;
        let head = client.head().await;
        assert_eq!(head.status, 200);
        assert_eq!(head.headers["content-type"], "text/event-stream");
        assert_eq!(head.headers["cache-control"], "no-store");
        Self { client, text: String::new() }
    }

    /// The next block, comments included (as the field ""); none when the stream has ended.
    pub async fn block(&mut self) -> Option<Block> {
        loop {
            if let Some((block, rest)) = self.text.split_once("\n\n") {
                let fields = block.lines().map(|line| {
                    let (name, value) = line.split_once(':').unwrap();
                    (name.to_owned(), value.strip_prefix(' ').unwrap_or(value).to_owned())
                });
                let fields = fields.collect();
                self.text = rest.to_owned();
                return Some(fields);
            }
            let chunk = self.client.chunk().await?;
            self.text.push_str(&chunk);
        }
    }

    /// The next block that is no comment.
    pub async fn event(&mut self) -> Option<Block> {
        loop {
            let block = self.block().await?;
            if !block.contains_key("") {
                return Some(block);
            }
        }
    }

    /// Ids of the next events, so many of them.
    pub async fn ids(&mut self, count: usize) -> Vec<u64> {
        let mut ids = Vec::new();
        while ids.len() < count {
            match self.event().await {
                Some(block) => ids.extend(block.get("id").map(|id| id.parse::<u64>().unwrap())),
                None => break,
            }
        }
        ids
    }
}
