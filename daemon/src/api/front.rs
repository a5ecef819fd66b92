//! The front: one thread that answers at the machine's socket and does nothing that takes long, so that a hold that comes
//! in there waits for nobody's check, plan or history. What is asked for is worked out and written as JSON at the back,
//! by the threads that serve was called on; what comes over a network is answered there altogether.
//!
//! May live here: that thread. May not: routes.

use crate::rank::{self, Rank};
use std::io;
use tokio::runtime::{Builder, Runtime};
use tokio::task::JoinHandle;

/// The thread; it ends with this.
#[derive(Debug)]
pub(super) struct Front(Option<Runtime>);

impl Front {
    /// Begins the thread.
    ///
    /// # Errors
    /// When the system gives none.
    pub fn open() -> io::Result<Self> {
        let runtime = Builder::new_multi_thread()
            .worker_threads(1)
            .thread_name("front")
            .on_thread_start(|| rank::take(Rank::Front))
            .enable_all()
            .build()?;
        Ok(Self(Some(runtime)))
    }

    /// Has it do something.
    ///
    /// # Errors
    /// When the thread has ended.
    pub fn spawn<T: Send + 'static>(
        &self,
        work: impl Future<Output = T> + Send + 'static,
    ) -> io::Result<JoinHandle<T>> {
        let runtime = self.0.as_ref().ok_or_else(|| io::Error::other("its thread has ended"))?;
        Ok(runtime.spawn(work))
    }
}

impl Drop for Front {
    fn drop(&mut self) {
        if let Some(runtime) = self.0.take() {
            // whoever drops it may be one of the threads that must not wait
            runtime.shutdown_background();
        }
    }
}
