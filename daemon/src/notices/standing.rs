//! How things stand, for all who want to be told of every change: asked of the desk once for all of them.

use crate::api::desk::{Caller, Desk, Live};
use chargehand_types::now::{Motion, Now};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::watch;
use tokio::time::sleep;

/// What happens together is asked for together.
const TOGETHER: Duration = Duration::from_millis(100);
/// While the machine moves, nothing need happen for its line to change.
const MOVING: Duration = Duration::from_secs(1);
/// Otherwise a look now and then is enough.
const STILL: Duration = Duration::from_secs(10);

/// The latest standing; none before the first.
pub type Standing = watch::Receiver<Option<Arc<Now>>>;

/// Nobody at the machine, and no token.
pub(super) fn outside() -> Caller {
    Caller::default()
}

/// Keeps the standing up until nobody wants it any more or the daemon ends.
pub async fn keep<D: Desk>(desk: Arc<D>, standing: watch::Sender<Option<Arc<Now>>>) {
    let mut live = desk.subscribe();
    loop {
        let Ok(now) = desk.now(outside()).await else { return };
        let wait = if now.machine.motion == Motion::Still { STILL } else { MOVING };
        if standing.send(Some(Arc::new(now))).is_err() {
            return;
        }
        tokio::select! {
            () = sleep(wait) => {}
            over = event(&mut live) => {
                if over {
                    return;
                }
                sleep(TOGETHER).await;
                live = live.resubscribe();
            }
        }
    }
}

/// Waits for the next event that is on the disk; true when there will be none.
async fn event(live: &mut tokio::sync::broadcast::Receiver<Live>) -> bool {
    loop {
        match live.recv().await {
            Ok(Live::Durable(_)) | Err(RecvError::Lagged(_)) => return false,
            Ok(Live::Position(_) | Live::Plan(_)) => {}
            Err(RecvError::Closed) => return true,
        }
    }
}
