//! A client over TLS, for tests of the API over a network: one request a connection, trusting one certificate.
//!
//! May live here: bytes of requests and answers. May not: what they mean.

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, ClientConnection, RootCertStore, StreamOwned};
use std::io::{self, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// No answer may take longer.
const ANSWER_WITHIN: Duration = Duration::from_secs(30);

/// An answer.
#[derive(Debug, Clone)]
pub struct Answered {
    /// The status code.
    pub status: u16,
    /// Status line and headers, in small letters.
    pub head: String,
    /// The body.
    pub body: String,
}

/// A client that trusts one certificate and nobody else.
#[derive(Debug, Clone)]
pub struct TlsClient {
    config: Arc<ClientConfig>,
    address: SocketAddr,
}

impl TlsClient {
    /// For an address, trusting the certificate of a file.
    #[must_use]
    pub fn trusting(certificate: &Path, address: SocketAddr) -> Self {
        let mut roots = RootCertStore::empty();
        roots
            .add(CertificateDer::from_pem_file(certificate).expect("the file holds a certificate"))
            .expect("it can be trusted");
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .expect("the usual versions")
            .with_root_certificates(roots)
            .with_no_client_auth();
        Self { config: Arc::new(config), address }
    }

    fn connect(&self) -> io::Result<StreamOwned<ClientConnection, TcpStream>> {
        let tcp = TcpStream::connect(self.address)?;
        tcp.set_read_timeout(Some(ANSWER_WITHIN))?;
        tcp.set_write_timeout(Some(ANSWER_WITHIN))?;
        let name = ServerName::try_from("localhost").map_err(io::Error::other)?;
        let connection = ClientConnection::new(Arc::clone(&self.config), name).map_err(io::Error::other)?;
        Ok(StreamOwned::new(connection, tcp))
    }

    /// One request to `localhost`, with headers.
    ///
    /// # Errors
    /// When nobody answers, or not as the one who is trusted.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> io::Result<Answered> {
        let text = exchange(self.connect()?, &request(method, path, headers, body, true))?;
        let (head, body) = text.split_once("\r\n\r\n").ok_or(io::ErrorKind::UnexpectedEof)?;
        let status = status(head).ok_or(io::ErrorKind::InvalidData)?;
        Ok(Answered { status, head: head.to_lowercase(), body: body.to_owned() })
    }

    /// Many requests of one kind over one connection, one after the other without waiting: the status of each.
    ///
    /// # Errors
    /// When nobody answers.
    pub fn ask_often(&self, path: &str, headers: &[(&str, &str)], times: usize) -> io::Result<Vec<u16>> {
        let all: String = (1..=times).map(|n| request("GET", path, headers, "", n == times)).collect();
        Ok(exchange(self.connect()?, &all)?
            .split("HTTP/1.1 ")
            .skip(1)
            .filter_map(|a| a.get(..3)?.parse().ok())
            .collect())
    }
}

fn status(head: &str) -> Option<u16> {
    head.split(' ').nth(1)?.parse().ok()
}

fn request(method: &str, path: &str, headers: &[(&str, &str)], body: &str, last: bool) -> String {
    let mut head = format!("{method} {path} HTTP/1.1\r\nhost: localhost\r\n");
    if last {
        head.push_str("connection: close\r\n");
    }
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    format!("{head}content-length: {}\r\n\r\n{body}", body.len())
}

/// Writes everything, then reads until the other end hangs up.
fn exchange(mut stream: StreamOwned<ClientConnection, TcpStream>, text: &str) -> io::Result<String> {
    stream.write_all(text.as_bytes())?;
    let mut bytes = Vec::new();
    match stream.read_to_end(&mut bytes) {
        // the other end hangs up without the word that TLS has for it
        Err(e) if e.kind() != io::ErrorKind::UnexpectedEof => return Err(e),
        _ => {}
    }
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
