//! A connection whose other end may not keep us waiting: what is to be written must be taken within a while.
//!
//! May live here: the wait. May not: what is written.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Sleep, sleep};

/// A stream with patience.
#[derive(Debug)]
pub(super) struct Patient<S> {
    stream: S,
    limit: Duration,
    waiting: Option<Pin<Box<Sleep>>>,
}

impl<S> Patient<S> {
    /// For a stream whose other end takes what is written within this.
    pub(super) const fn new(stream: S, limit: Duration) -> Self {
        Self { stream, limit, waiting: None }
    }

    /// Ends the wait, or goes on with it: over, it is a fault of the connection.
    fn judge<T>(&mut self, cx: &mut Context<'_>, polled: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if polled.is_ready() {
            self.waiting = None;
            return polled;
        }
        let waiting = self.waiting.get_or_insert_with(|| Box::pin(sleep(self.limit)));
        match waiting.as_mut().poll(cx) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Patient<S> {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Patient<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.stream).poll_write(cx, buf);
        self.judge(cx, polled)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let polled = Pin::new(&mut self.stream).poll_flush(cx);
        self.judge(cx, polled)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let polled = Pin::new(&mut self.stream).poll_shutdown(cx);
        self.judge(cx, polled)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    #[tokio::test]
    async fn who_takes_nothing_is_given_up() {
        let (ours, _theirs) = tokio::io::duplex(8);
        let mut patient = Patient::new(ours, Duration::from_millis(50));
        let fault = patient.write_all(&[0; 64]).await.unwrap_err();
        assert_eq!(fault.kind(), io::ErrorKind::TimedOut);
    }

    #[tokio::test]
    async fn who_takes_slowly_is_waited_for() {
        let (ours, mut theirs) = tokio::io::duplex(8);
        let mut patient = Patient::new(ours, Duration::from_secs(600));
        let taking = tokio::spawn(async move {
            let mut bytes = [0; 64];
            for eight in bytes.chunks_mut(8) {
                sleep(Duration::from_millis(5)).await;
                theirs.read_exact(eight).await.unwrap();
            }
        });
        patient.write_all(&[0; 64]).await.unwrap();
        taking.await.unwrap();
    }
}
