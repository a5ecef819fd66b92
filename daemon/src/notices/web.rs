//! One request to a web address (HTTP/1.1, RFC 9112), in the plain or encrypted. Redirections are not followed: a call
//! goes where the shop said, or nowhere.

use super::wire::{Trust, connect};
use http_body_util::Full;
use hyper::body::Bytes;
use hyper::client::conn::http1::handshake;
use hyper::{Request, StatusCode, Uri, header};
use hyper_util::rt::TokioIo;

/// Sends a body; gives the status of the answer, whose own body is not read.
pub(super) async fn post(
    url: &Uri,
    trust: Option<&Trust>,
    headers: &[(&'static str, String)],
    body: Vec<u8>,
) -> Result<StatusCode, String> {
    let (host, authority) = url.host().zip(url.authority()).ok_or("the address names no host")?;
    let port = url.port_u16().unwrap_or(if trust.is_some() { 443 } else { 80 });
    let wire = connect(host, port, trust).await?;
    let (mut sending, connection) =
        handshake(TokioIo::new(wire)).await.map_err(|e| format!("{host} does not speak HTTP: {e}"))?;
    // ends when `sending` is dropped, however this ends
    tokio::spawn(connection);
    let path = url.path_and_query().map_or("/", |p| p.as_str());
    let mut request = Request::post(path).header(header::HOST, authority.as_str());
    for (name, value) in headers {
        request = request.header(*name, value);
    }
    let request = request.body(Full::new(Bytes::from(body))).map_err(|e| format!("the request cannot be made: {e}"))?;
    let answer = sending.send_request(request).await.map_err(|e| format!("{host} hung up: {e}"))?;
    Ok(answer.status())
}
