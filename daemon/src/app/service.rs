//! What the service manager is told (the sd_notify protocol): ready, alive, ending. Nothing where there is none.

use super::desk::FrontDesk;
use crate::api::desk::{Caller, Desk};
use sd_notify::NotifyState;
use std::sync::Arc;
use tokio::time::{sleep, timeout};

fn tell(states: &[NotifyState<'_>]) {
    if let Err(e) = sd_notify::notify(states) {
        tracing::warn!("the service manager cannot be told: {e}");
    }
}

/// The socket and the store are open, whether a machine answers or not.
pub(super) fn ready() {
    tell(&[NotifyState::Ready, NotifyState::Status("serving; the red button is at the machine")]);
}

/// The end was asked for.
pub(super) fn stopping() {
    tell(&[NotifyState::Stopping]);
}

/// Says "alive" only as long as the foreman answers: a daemon that decides nothing any more is ended and started anew,
/// and moves nothing by itself then.
pub(super) async fn watch(desk: Arc<FrontDesk>) {
    let Some(period) = sd_notify::watchdog_enabled() else { return };
    let step = period / 3;
    let nobody = Caller::default();
    loop {
        if let Ok(Ok(_)) = timeout(step, desk.now(nobody.clone())).await {
            tell(&[NotifyState::Watchdog]);
        }
        sleep(step).await;
    }
}
