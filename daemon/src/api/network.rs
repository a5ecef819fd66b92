//! The door to the network: TCP with TLS, and nothing without. It is only there where config asks for it. So many
//! connections at a time, and so many from one address; a handshake that takes too long is given up.
//!
//! May live here: taking connections. May not: who may do what; every request shows a token (see `guard`).

use super::certificate::Identity;
use super::connection::{Waits, answer};
use super::door::Peer;
use super::fault::ApiFault;
use super::serve::Limits;
use axum::Router;
use rustix::net::sockopt;
use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr, TcpListener as StdListener};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{sleep, timeout};
use tokio_rustls::TlsAcceptor;

/// Connections at a time. They have room of their own: those of the machine's socket are not among them.
const CONNECTIONS_MOST: usize = 64;
/// Of them from one address.
const FROM_ONE_MOST: usize = 16;
/// Quiet until the system asks whether the other end is still there.
const KEEP_ALIVE: Duration = Duration::from_secs(60);
/// Milliseconds for the other end to say that it has what was sent.
const UNHEARD_MS: u32 = 30_000;
/// When the system gives no more connections.
const BREATHE: Duration = Duration::from_millis(200);

/// The open door.
#[derive(Debug)]
pub struct NetworkDoor {
    listener: StdListener,
    address: SocketAddr,
    identity: Identity,
}

impl NetworkDoor {
    /// Takes the address.
    ///
    /// # Errors
    /// When the system does not give it.
    pub fn open(address: SocketAddr, identity: Identity) -> Result<Self, ApiFault> {
        let fault = |e| ApiFault::io("listening on", Path::new(&address.to_string()), e);
        let listener = StdListener::bind(address).map_err(fault)?;
        listener.set_nonblocking(true).map_err(fault)?;
        let address = listener.local_addr().map_err(fault)?;
        Ok(Self { listener, address, identity })
    }

    /// Where it listens.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Takes connections until the end is said, then waits for those under way.
    pub(super) async fn serve(
        self,
        routes: Router,
        limits: Limits,
        mut ending: watch::Receiver<bool>,
    ) -> Result<(), ApiFault> {
        let place = self.address.to_string();
        let listener =
            TcpListener::from_std(self.listener).map_err(|e| ApiFault::io("listening on", Path::new(&place), e))?;
        let acceptor = TlsAcceptor::from(self.identity.config);
        let waits = Waits { head: limits.network_head, taken: limits.taken };
        let (crowd, mut open) = (Arc::new(Crowd::default()), JoinSet::new());
        loop {
            let taken = tokio::select! {
                // an error means that the sender is gone, which is the end too
                _ = ending.wait_for(|over| *over) => break,
                Some(_) = open.join_next(), if !open.is_empty() => continue,
                taken = listener.accept() => taken,
            };
            let (stream, from) = match taken {
                Ok(taken) => taken,
                Err(e) => {
                    tracing::warn!("no connection can be taken over the network: {e}");
                    sleep(BREATHE).await;
                    continue;
                }
            };
            // one too many is hung up on
            let Some(place) = crowd.enter(from.ip()) else { continue };
            let (acceptor, routes, end) = (acceptor.clone(), routes.clone(), ending.clone());
            open.spawn(async move {
                let _place = place;
                listen_for_the_end(&stream);
                if let Ok(Ok(stream)) = timeout(limits.handshake, acceptor.accept(stream)).await {
                    let peer = Peer { address: Some(from.ip()), ..Peer::default() };
                    answer(stream, peer, routes, waits, end).await;
                }
            });
        }
        while open.join_next().await.is_some() {}
        Ok(())
    }
}

/// An other end that is gone without a word is noticed. Where the system cannot, the patience of the connection is left.
fn listen_for_the_end(stream: &TcpStream) {
    let _ = sockopt::set_socket_keepalive(stream, true);
    let _ = sockopt::set_tcp_keepidle(stream, KEEP_ALIVE);
    let _ = sockopt::set_tcp_user_timeout(stream, UNHEARD_MS);
}

/// Who is connected.
#[derive(Debug, Default)]
struct Crowd(Mutex<HashMap<IpAddr, usize>>);

/// A place among them, given back when it is dropped.
struct Place(Arc<Crowd>, IpAddr);

impl Crowd {
    fn enter(self: &Arc<Self>, from: IpAddr) -> Option<Place> {
        let mut there = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if there.values().sum::<usize>() >= CONNECTIONS_MOST || there.get(&from).is_some_and(|n| *n >= FROM_ONE_MOST) {
            return None;
        }
        *there.entry(from).or_default() += 1;
        Some(Place(Arc::clone(self), from))
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut there = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(n) = there.get_mut(&self.1) {
            *n = n.saturating_sub(1);
            if *n == 0 {
                there.remove(&self.1);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_takes_no_more_than_its_share() {
        let crowd = Arc::new(Crowd::default());
        let ip = |n: u8| IpAddr::from([192, 0, 2, n]);
        let mut places: Vec<_> = (0..FROM_ONE_MOST).map(|_| crowd.enter(ip(1)).unwrap()).collect();
        assert!(crowd.enter(ip(1)).is_none());
        for n in 2..=4 {
            places.extend((0..FROM_ONE_MOST).map(|_| crowd.enter(ip(n)).unwrap()));
        }
        assert!(crowd.enter(ip(9)).is_none(), "all places are taken");
        places.clear();
        assert!(crowd.enter(ip(1)).is_some() && crowd.0.lock().unwrap().is_empty(), "and given back");
    }
}
