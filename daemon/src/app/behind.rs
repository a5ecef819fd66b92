//! Work that takes long and can wait: on a thread of its own that steps back for all the others, so that a hold, a line
//! for the controller and an answer do not wait for a check to end.
//!
//! May live here: how it is started and stepped back. May not: what it works out.

use crate::rank::{self, Rank};
use std::future::Future;
use tokio::sync::oneshot;

/// The work ended without a result.
#[derive(Debug, thiserror::Error)]
#[error("the part of the daemon that works this out has failed; the log says why")]
pub struct Failed;

/// Begins at once; what it comes to may be waited for.
pub fn behind<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> impl Future<Output = Result<T, Failed>> + Send {
    let (tell, told) = oneshot::channel();
    let begun = std::thread::Builder::new().name("behind".to_owned()).spawn(move || {
        rank::take(Rank::Behind);
        // nobody may wait for it any more
        let _ = tell.send(work());
    });
    if let Err(e) = begun {
        tracing::error!("the system gives no thread: {e}");
    }
    async { told.await.map_err(|_| Failed) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn it_steps_back_alone_and_answers() {
        let ours = rustix::process::getpriority_process(None).unwrap();
        let told = behind(|| rustix::process::getpriority_process(None).unwrap()).await.unwrap();
        assert_eq!(told, (ours + 10).min(19));
        assert_eq!(rustix::process::getpriority_process(None).unwrap(), ours, "whoever asked keeps its rank");
    }

    #[tokio::test]
    async fn what_fails_is_told() {
        let told = behind(|| -> u8 { panic!("out of wood") }).await;
        assert!(told.unwrap_err().to_string().contains("has failed"));
    }
}
