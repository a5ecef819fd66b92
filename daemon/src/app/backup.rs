//! A backup of the store in use, given out piece by piece.
//!
//! May live here: the thread that reads beside the store's own. May not: what a backup is.

use super::desk::gone;
use crate::api::desk::Answer;
use crate::ledger::Ledger;
use tokio::sync::mpsc;

/// Pieces that may wait for a slow receiver.
const WAITING: usize = 4;

/// The pieces of a backup. The journal was read through and found sound before the first one comes.
pub(super) async fn of(ledger: &Ledger) -> Answer<mpsc::Receiver<Vec<u8>>> {
    let snapshot = ledger.snapshot().await?;
    let sound = tokio::task::spawn_blocking(move || snapshot.look_through()).await.map_err(|_| gone())??;
    let (give, given) = mpsc::channel(WAITING);
    tokio::task::spawn_blocking(move || {
        // a receiver that went away ends it
        if let Err(fault) = sound.give(|piece| give.blocking_send(piece).is_ok()) {
            tracing::warn!("a backup was broken off: {fault}");
        }
    });
    Ok(given)
}
