//! What wakes a thread that waits in `poll`: an eventfd.

use rustix::event::{EventfdFlags, Timespec, eventfd};
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::time::Duration;

/// Rings from any thread; readable for `poll` until it is silenced.
#[derive(Debug)]
pub struct Bell(OwnedFd);

impl Bell {
    /// A silent one.
    ///
    /// # Errors
    /// When the system has no descriptor left.
    pub fn new() -> std::io::Result<Self> {
        Ok(Self(eventfd(0, EventfdFlags::NONBLOCK | EventfdFlags::CLOEXEC)?))
    }

    /// Wakes whoever waits.
    pub fn ring(&self) {
        // a counter that is full rings already
        let _ = rustix::io::write(&self.0, &1_u64.to_ne_bytes());
    }

    /// Makes it silent again.
    pub fn silence(&self) {
        let mut count = [0_u8; 8];
        // one that was silent has nothing to be read
        let _ = rustix::io::read(&self.0, &mut count);
    }
}

impl AsFd for Bell {
    fn as_fd(&self) -> BorrowedFd<'_> {
        self.0.as_fd()
    }
}

/// A wait as `poll` wants it.
#[must_use]
pub fn timespec(wait: Duration) -> Timespec {
    Timespec { tv_sec: i64::try_from(wait.as_secs()).unwrap_or(i64::MAX), tv_nsec: i64::from(wait.subsec_nanos()) }
}
