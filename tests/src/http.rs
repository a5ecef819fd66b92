//! As much of HTTP/1.1 (RFC 9112) as a test needs: one request a connection over a Unix socket, and an answer read as
//! it comes, chunked or not.
//!
//! May live here: bytes of requests and answers. May not: what they mean.

use std::io::{self, BufRead, BufReader, ErrorKind, Read, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::time::Duration;

/// No answer may take longer.
pub const ANSWER_WITHIN: Duration = Duration::from_secs(30);

/// An answer whose body is yet to be read.
pub struct Opened {
    /// The status code.
    pub status: u16,
    chunked: bool,
    /// Bytes left of the body, or of the chunk being read; none when the body ends with the connection.
    left: Option<u64>,
    ended: bool,
    from: BufReader<UnixStream>,
}

/// Sends one request.
///
/// # Errors
/// When nobody answers, or not in HTTP.
pub fn send(
    socket: &Path,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: Option<&[u8]>,
) -> io::Result<Opened> {
    send_on(UnixStream::connect(socket)?, method, path, headers, body)
}

/// Sends one request over a connection that is there already, as a terminal has one.
///
/// # Errors
/// As [`send`].
pub fn send_on(
    mut stream: UnixStream,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: Option<&[u8]>,
) -> io::Result<Opened> {
    stream.set_read_timeout(Some(ANSWER_WITHIN))?;
    stream.set_write_timeout(Some(ANSWER_WITHIN))?;
    let mut head = format!("{method} {path} HTTP/1.1\r\nhost: workshop\r\nconnection: close\r\n");
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    if let Some(body) = body {
        head.push_str(&format!("content-type: application/json\r\ncontent-length: {}\r\n", body.len()));
    }
    head.push_str("\r\n");
    stream.write_all(head.as_bytes())?;
    if let Some(body) = body {
        // a body that is too large is refused before it is read to its end
        match stream.write_all(body) {
            Err(e) if !matches!(e.kind(), ErrorKind::BrokenPipe | ErrorKind::ConnectionReset) => return Err(e),
            _ => {}
        }
    }
    open(BufReader::new(stream))
}

fn open(mut from: BufReader<UnixStream>) -> io::Result<Opened> {
    let bad = |what: &str| io::Error::new(ErrorKind::InvalidData, what.to_owned());
    let first = line(&mut from)?;
    let status = first.split(' ').nth(1).and_then(|s| s.parse().ok()).ok_or_else(|| bad(&first))?;
    let (mut chunked, mut left) = (false, None);
    loop {
        let header = line(&mut from)?.to_lowercase();
        if header.is_empty() {
            break;
        }
        match header.split_once(':').map(|(n, v)| (n.trim(), v.trim())) {
            Some(("transfer-encoding", value)) => chunked = value == "chunked",
            Some(("content-length", value)) => left = Some(value.parse().map_err(|_| bad(value))?),
            _ => {}
        }
    }
    if chunked {
        left = Some(0);
    }
    Ok(Opened { status, chunked, left, ended: false, from })
}

fn line(from: &mut BufReader<UnixStream>) -> io::Result<String> {
    let mut line = String::new();
    if from.read_line(&mut line)? == 0 {
        return Err(ErrorKind::UnexpectedEof.into());
    }
    Ok(line.trim_end_matches(['\r', '\n']).to_owned())
}

impl Opened {
    /// The rest of the body.
    ///
    /// # Errors
    /// When the connection ends before the body does.
    pub fn whole(mut self) -> io::Result<String> {
        let mut text = String::new();
        self.read_to_string(&mut text)?;
        Ok(text)
    }

    /// How long one read may wait.
    ///
    /// # Errors
    /// When the system does not take the time.
    pub fn wait_at_most(&self, wait: Duration) -> io::Result<()> {
        self.from.get_ref().set_read_timeout(Some(wait.max(Duration::from_millis(1))))
    }

    fn next_chunk(&mut self) -> io::Result<()> {
        let size = line(&mut self.from)?;
        let size = u64::from_str_radix(size.split(';').next().unwrap_or_default().trim(), 16)
            .map_err(|_| io::Error::new(ErrorKind::InvalidData, size.clone()))?;
        self.ended = size == 0;
        self.left = Some(size);
        Ok(())
    }
}

impl Read for Opened {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.chunked && self.left == Some(0) && !self.ended {
            self.next_chunk()?;
        }
        let most = self.left.unwrap_or(u64::MAX).min(into.len() as u64);
        if self.ended || most == 0 {
            return Ok(0);
        }
        let read = self.from.read(&mut into[..usize::try_from(most).unwrap_or(usize::MAX)])?;
        if let Some(left) = &mut self.left {
            *left -= read as u64;
            if self.chunked && *left == 0 && read > 0 {
                // every chunk ends with an empty line of its own
                line(&mut self.from)?;
            }
        }
        Ok(read)
    }
}
