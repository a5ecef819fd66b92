//! One connection, over a socket of whatever kind: HTTP/1.1 until the other end is done or the daemon ends, and no
//! longer than a request's head may take.
//!
//! May live here: the times of a connection. May not: routes, who may.

use super::door::Peer;
use super::patience::Patient;
use axum::Router;
use axum::extract::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::pin::pin;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::watch;
use tower_service::Service;

/// How long a connection may keep us waiting.
#[derive(Debug, Clone, Copy)]
pub(super) struct Waits {
    /// For a request's head, and for the next request of a connection that stays open.
    pub head: Duration,
    /// For what is written to be taken.
    pub taken: Duration,
}

/// Answers the requests of a connection.
pub(super) async fn answer<S>(stream: S, peer: Peer, routes: Router, waits: Waits, mut ending: watch::Receiver<bool>)
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let service = service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(peer.clone());
        routes.clone().call(request)
    });
    let stream = TokioIo::new(Patient::new(stream, waits.taken));
    let serving = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(waits.head)
        .serve_connection(stream, service);
    let mut serving = pin!(serving);
    tokio::select! {
        // whoever hangs up in the middle has had what they wanted
        _ = serving.as_mut() => return,
        // an error means that the sender is gone, which is the end too
        _ = ending.wait_for(|over| *over) => serving.as_mut().graceful_shutdown(),
    }
    let _ = serving.await;
}
