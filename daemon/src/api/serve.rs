//! Serving: the routes on the door until the daemon ends.
//!
//! May live here: the limits and the end. May not: routes.

use super::connection::{Waits, answer};
use super::desk::Desk;
use super::door::Door;
use super::fault::ApiFault;
use super::front::Front;
use super::network::NetworkDoor;
use super::routes::{Shared, table};
use super::token::Token;
use axum::Router;
use std::sync::Arc;
use std::time::Duration;
use tokio::runtime::Handle;
use tokio::sync::{Semaphore, watch};
use tokio::task::JoinSet;
use tokio::time::sleep;

/// When the system gives no more connections.
const BREATHE: Duration = Duration::from_millis(200);

/// Times and numbers the API keeps to.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Until an answer.
    pub answer: Duration,
    /// Until the answer to a check or a card added.
    pub card: Duration,
    /// Between comments on a quiet event stream.
    pub comment_every: Duration,
    /// Event streams at a time.
    pub streams: usize,
    /// Backups being made at a time.
    pub backups: usize,
    /// For requests under way once the daemon ends.
    pub ending: Duration,
    /// Until the head of a request, or the next request of a connection that stays open, on the machine's socket.
    pub head: Duration,
    /// The same over the network.
    pub network_head: Duration,
    /// Until what is written is taken by the other end.
    pub taken: Duration,
    /// Until TLS is agreed on.
    pub handshake: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            answer: Duration::from_secs(20),
            card: Duration::from_secs(120),
            comment_every: Duration::from_secs(15),
            streams: 32,
            backups: 2,
            ending: Duration::from_secs(5),
            head: Duration::from_secs(120),
            network_head: Duration::from_secs(30),
            taken: Duration::from_secs(60),
            handshake: Duration::from_secs(10),
        }
    }
}

/// Where connections come in.
#[derive(Debug)]
pub struct Doors {
    /// The machine's socket.
    pub socket: Door,
    /// The network, where config asks for it.
    pub network: Option<NetworkDoor>,
}

impl From<Door> for Doors {
    fn from(socket: Door) -> Self {
        Self { socket, network: None }
    }
}

/// Serves the API until `shutdown` is ready; event streams end then, and requests under way are finished. The machine's
/// socket is answered by a thread of its own; the work is done where this is called.
///
/// # Errors
/// When the socket cannot be listened on, or the system gives no thread.
pub async fn serve<D: Desk>(
    doors: impl Into<Doors> + Send,
    desk: Arc<D>,
    token: Token,
    limits: Limits,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ApiFault> {
    let Doors { socket, network } = doors.into();
    let (end, ending) = watch::channel(false);
    let (streams, grace) = (Arc::new(Semaphore::new(limits.streams)), limits.ending);
    let backups = Arc::new(Semaphore::new(limits.backups));
    let back = Handle::current();
    let shared = Shared { desk, token, limits: limits.clone(), ending: ending.clone(), streams, backups, back };
    let routes = table(Arc::new(shared));
    tokio::spawn(async move {
        shutdown.await;
        // Nobody listening is fine: there are no streams to end then.
        let _ = end.send(true);
    });
    let (same_routes, same_limits, same_end) = (routes.clone(), limits.clone(), ending.clone());
    let over_network = async move {
        match network {
            Some(door) => door.serve(same_routes, same_limits, same_end).await,
            None => Ok(()),
        }
    };
    let place = socket.path().to_owned();
    let no_thread = |e| ApiFault::io("beginning the thread that answers", &place, e);
    let front = Front::open().map_err(no_thread)?;
    let over_socket = front.spawn(on_the_socket(socket, routes, limits, ending.clone())).map_err(no_thread)?;
    let over_socket = async { over_socket.await.unwrap_or_else(|e| Err(no_thread(e.into()))) };
    tokio::select! {
        served = async { tokio::try_join!(over_socket, over_network) } => served.map(|_| ()),
        () = after(ending, grace) => Ok(()),
    }
}

/// Takes connections of the socket until the end is said, then waits for those under way.
async fn on_the_socket(
    door: Door,
    routes: Router,
    limits: Limits,
    mut ending: watch::Receiver<bool>,
) -> Result<(), ApiFault> {
    let (listener, mut open) = (door.listener()?, JoinSet::new());
    let waits = Waits { head: limits.head, taken: limits.taken };
    loop {
        let taken = tokio::select! {
            // an error means that the sender is gone, which is the end too
            _ = ending.wait_for(|over| *over) => break,
            Some(_) = open.join_next(), if !open.is_empty() => continue,
            taken = listener.take() => taken,
        };
        match taken {
            Ok((stream, place, peer)) => {
                let (routes, end) = (routes.clone(), ending.clone());
                open.spawn(async move {
                    let _place = place;
                    answer(stream, peer, routes, waits, end).await;
                });
            }
            Err(e) => {
                tracing::warn!("no connection can be taken: {e}");
                sleep(BREATHE).await;
            }
        }
    }
    while open.join_next().await.is_some() {}
    Ok(())
}

/// Some time after the end was said.
async fn after(mut ending: watch::Receiver<bool>, grace: Duration) {
    // An error means that the sender is gone, which is the end too.
    let _ = ending.wait_for(|over| *over).await;
    sleep(grace).await;
}
