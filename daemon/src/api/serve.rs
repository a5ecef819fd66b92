//! Serving: the routes on the door until the daemon ends.
//!
//! May live here: the limits and the end. May not: routes.

use super::desk::Desk;
use super::door::{Door, Peer};
use super::fault::ApiFault;
use super::routes::{Shared, table};
use super::token::Token;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Semaphore, watch};
use tokio::time::sleep;

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
        }
    }
}

/// Serves the API until `shutdown` is ready; event streams end then, and requests under way are finished.
///
/// # Errors
/// When the socket cannot be listened on.
pub async fn serve<D: Desk>(
    door: Door,
    desk: Arc<D>,
    token: Token,
    limits: Limits,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ApiFault> {
    let (end, ending) = watch::channel(false);
    let (streams, grace) = (Arc::new(Semaphore::new(limits.streams)), limits.ending);
    let backups = Arc::new(Semaphore::new(limits.backups));
    let shared = Shared { desk, token, limits, ending: ending.clone(), streams, backups };
    let service = table(Arc::new(shared)).into_make_service_with_connect_info::<Peer>();
    let server = axum::serve(door.listener()?, service).with_graceful_shutdown(async move {
        shutdown.await;
        // Nobody listening is fine: there are no streams to end then.
        let _ = end.send(true);
    });
    tokio::select! {
        served = server => served.map_err(|e| ApiFault::io("serving the socket", door.path(), e)),
        () = after(ending, grace) => Ok(()),
    }
}

/// Some time after the end was said.
async fn after(mut ending: watch::Receiver<bool>, grace: Duration) {
    // An error means that the sender is gone, which is the end too.
    let _ = ending.wait_for(|over| *over).await;
    sleep(grace).await;
}
