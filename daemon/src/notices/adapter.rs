//! The adapter for readers of machine states: a TCP server that tells everything to whoever connects and then what
//! changes (MTConnect's adapter protocol). It reads nothing but the question whether it is still there.

use super::monitor::{Item, items, lines};
use super::standing::Standing;
use chrono::{DateTime, Utc};
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio::time::{sleep, timeout};

/// Readers at a time.
const READERS: usize = 16;
/// A reader that asks at all asks again within this; either side hangs up after twice as long.
const HEARTBEAT: Duration = Duration::from_secs(10);
/// A reader that takes nothing for so long is dropped.
const TAKEN_WITHIN: Duration = Duration::from_secs(5);
const LINE_MOST: u64 = 1024;
const HELLO: &str = "* shdrVersion: 2.0\n* adapterVersion: 1\n";

/// Serves readers until the daemon ends.
///
/// # Errors
/// When the address cannot be listened on.
pub async fn serve(address: SocketAddr, standing: Standing, clock: fn() -> DateTime<Utc>) -> io::Result<()> {
    let listener = TcpListener::bind(address).await?;
    serve_on(listener, standing, clock).await
}

pub(super) async fn serve_on(
    listener: TcpListener,
    standing: Standing,
    clock: fn() -> DateTime<Utc>,
) -> io::Result<()> {
    let places = Arc::new(Semaphore::new(READERS));
    loop {
        let (stream, _) = match listener.accept().await {
            Ok(taken) => taken,
            Err(e) => {
                tracing::warn!("a reader of machine states could not be taken: {e}");
                sleep(Duration::from_secs(1)).await;
                continue;
            }
        };
        let Ok(place) = Arc::clone(&places).try_acquire_owned() else { continue };
        let standing = standing.clone();
        tokio::spawn(async move {
            // a reader that is gone is no fault of ours
            let _ = tell(stream, standing, clock).await;
            drop(place);
        });
    }
}

async fn tell(stream: TcpStream, mut standing: Standing, clock: fn() -> DateTime<Utc>) -> io::Result<()> {
    let (reading, mut writing) = stream.into_split();
    let mut reading = BufReader::new(reading);
    put(&mut writing, HELLO).await?;
    let mut before: Option<Vec<Item>> = None;
    let (mut asked, mut line) = (false, Vec::new());
    loop {
        let now = standing.borrow_and_update().clone();
        if let Some(now) = now {
            let next = items(&now);
            let text = lines(before.as_deref(), &next, clock());
            if !text.is_empty() {
                put(&mut writing, &text).await?;
            }
            before = Some(next);
        }
        let silence = async { if asked { sleep(HEARTBEAT * 2).await } else { std::future::pending().await } };
        let mut bounded = (&mut reading).take(LINE_MOST);
        tokio::select! {
            changed = standing.changed() => if changed.is_err() { return Ok(()) },
            got = bounded.read_until(b'\n', &mut line) => {
                if got? == 0 || !line.ends_with(b"\n") {
                    return Ok(());
                }
                if line.starts_with(b"* PING") {
                    asked = true;
                    put(&mut writing, &format!("* PONG {}\n", HEARTBEAT.as_millis())).await?;
                }
                line.clear();
            }
            () = silence => return Ok(()),
        }
    }
}

async fn put(to: &mut (impl AsyncWriteExt + Unpin), text: &str) -> io::Result<()> {
    timeout(TAKEN_WITHIN, to.write_all(text.as_bytes())).await.map_err(|_| io::ErrorKind::TimedOut)?
}
