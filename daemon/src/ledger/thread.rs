//! The store thread and the handle to it. One thread owns journal, shelf, progress file and index; everybody else
//! talks to it through [`Ledger`].
//!
//! May live here: orders, their answers, the loop. May not: formats, what an event means.

use super::backup::Snapshot;
use super::draft::Draft;
use super::fault::LedgerFault;
use super::fold::State;
use super::progress::Progress;
use super::store::Store;
use chargehand_types::event::Event;
use chargehand_types::id::Seq;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::oneshot;

/// Orders that may wait for the store thread.
const WAITING_MOST: usize = 4_096;
/// The store must be idle this long before the index is brought up to date, so that it is never in an answer's way.
const IDLE: Duration = Duration::from_millis(200);
/// Events the index may lag behind before it is brought up to date without waiting for idleness.
const LAG_MOST: usize = 2_000;

/// What was found when the store was opened.
#[derive(Debug)]
pub struct Opening {
    /// The fold of every event there.
    pub state: State,
    /// How far the last cut had come, as last written.
    pub progress: Option<Progress>,
    /// What a person should know: a torn tail cut off, an index rebuilt.
    pub words: Vec<String>,
}

/// The handle to the store. Cheap to clone; orders are taken in the order the methods are called.
#[derive(Debug, Clone)]
pub struct Ledger {
    orders: SyncSender<Order>,
    dir: PathBuf,
}

type Answer<T> = oneshot::Sender<Result<T, LedgerFault>>;

/// An answer of the store thread that is on its way. What was asked is done whether it is waited for or not.
#[derive(Debug)]
pub enum Reply<T> {
    /// The thread will answer.
    Coming(oneshot::Receiver<Result<T, LedgerFault>>),
    /// The order was not even taken.
    Refused(Option<LedgerFault>),
}

impl<T> Future for Reply<T> {
    type Output = Result<T, LedgerFault>;

    fn poll(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Self::Output> {
        match self.get_mut() {
            Self::Coming(told) => Pin::new(told).poll(cx).map(|answer| answer.unwrap_or(Err(LedgerFault::Closed))),
            Self::Refused(fault) => Poll::Ready(Err(fault.take().unwrap_or(LedgerFault::Closed))),
        }
    }
}

enum Order {
    Append(Vec<Draft>, Answer<Vec<Event>>),
    PutProgram(Vec<u8>, Answer<String>),
    Program(String, Answer<Vec<u8>>),
    EventsAfter(Seq, usize, Answer<Vec<Event>>),
    Progress(Progress),
    Snapshot(Answer<Snapshot>),
    Close(Answer<()>),
}

impl Ledger {
    /// Opens the store in a folder, making it when it is not there, and starts its thread.
    ///
    /// # Errors
    /// When another daemon has it, it is damaged or newer, or the folder cannot be used.
    pub fn open(dir: &Path) -> Result<(Self, Opening), LedgerFault> {
        let (store, opening) = Store::open(dir)?;
        let (orders, taken) = sync_channel(WAITING_MOST);
        std::thread::Builder::new()
            .name("ledger".to_owned())
            .spawn(move || run(store, &taken))
            .map_err(|e| LedgerFault::io("starting the store thread", dir, &e))?;
        Ok((Self { orders, dir: dir.to_owned() }, opening))
    }

    /// Appends events, all or none, and answers once they are on the disk. The order of calls is the order of events,
    /// whenever the futures are polled.
    pub fn append(&self, drafts: Vec<Draft>) -> Reply<Vec<Event>> {
        self.ask(|answer| Order::Append(drafts, answer))
    }

    /// As [`Ledger::append`], for a thread that may wait.
    ///
    /// # Errors
    /// When the store cannot take it.
    pub fn append_blocking(&self, drafts: Vec<Draft>) -> Result<Vec<Event>, LedgerFault> {
        self.wait(|answer| Order::Append(drafts, answer))
    }

    /// Puts a program on the shelf and answers its SHA-256 in hex once it is on the disk. Name it in an event after
    /// that.
    pub fn put_program(&self, bytes: Vec<u8>) -> Reply<String> {
        self.ask(|answer| Order::PutProgram(bytes, answer))
    }

    /// As [`Ledger::put_program`], for a thread that may wait.
    ///
    /// # Errors
    /// When the store cannot take it.
    pub fn put_program_blocking(&self, bytes: Vec<u8>) -> Result<String, LedgerFault> {
        self.wait(|answer| Order::PutProgram(bytes, answer))
    }

    /// A program from the shelf, its hash checked.
    pub fn program(&self, sha256: &str) -> Reply<Vec<u8>> {
        let sha256 = sha256.to_owned();
        self.ask(|answer| Order::Program(sha256, answer))
    }

    /// The file of a program on the shelf; none for what is no hash. Whoever reads it looks at the hash themselves.
    #[must_use]
    pub fn program_file(&self, sha256: &str) -> Option<PathBuf> {
        super::shelf::file_in(&self.dir, sha256)
    }

    /// As [`Ledger::program`], for a thread that may wait.
    ///
    /// # Errors
    /// When there is no such program, or its bytes are no longer right.
    pub fn program_blocking(&self, sha256: &str) -> Result<Vec<u8>, LedgerFault> {
        let sha256 = sha256.to_owned();
        self.wait(|answer| Order::Program(sha256, answer))
    }

    /// The events after a place, oldest first, at most `limit` of them and never more than
    /// [`super::journal::READ_MOST`].
    pub fn events_after(&self, seq: Seq, limit: usize) -> Reply<Vec<Event>> {
        self.ask(move |answer| Order::EventsAfter(seq, limit, answer))
    }

    /// As [`Ledger::events_after`], for a thread that may wait.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn events_after_blocking(&self, seq: Seq, limit: usize) -> Result<Vec<Event>, LedgerFault> {
        self.wait(move |answer| Order::EventsAfter(seq, limit, answer))
    }

    /// How far the store goes now, for a backup of it. The store goes on meanwhile.
    pub fn snapshot(&self) -> Reply<Snapshot> {
        self.ask(Order::Snapshot)
    }

    /// As [`Ledger::snapshot`], for a thread that may wait.
    ///
    /// # Errors
    /// When the store is closed or has fallen behind.
    pub fn snapshot_blocking(&self) -> Result<Snapshot, LedgerFault> {
        self.wait(Order::Snapshot)
    }

    /// Notes how far a cut has come. Nobody waits for it, and it may be dropped when the store is behind.
    pub fn progress(&self, progress: Progress) {
        // A dropped note is replaced by the next one a moment later.
        let _ = self.orders.try_send(Order::Progress(progress));
    }

    /// Finishes what waits, brings the index up to date and gives the store back. Blocks only while the queue is
    /// full; the future waits for the rest.
    pub fn close(&self) -> Reply<()> {
        let (tell, told) = oneshot::channel();
        match self.orders.send(Order::Close(tell)) {
            Ok(()) => Reply::Coming(told),
            Err(_) => Reply::Refused(Some(LedgerFault::Closed)),
        }
    }

    /// As [`Ledger::close`], for a thread that may wait.
    pub fn close_blocking(&self) {
        let (tell, done) = oneshot::channel();
        if self.orders.send(Order::Close(tell)).is_ok() {
            let _ = done.blocking_recv();
        }
    }

    /// Bytes still free on the disk that holds the store.
    ///
    /// # Errors
    /// When the system does not tell.
    pub fn free_bytes(&self) -> Result<u64, LedgerFault> {
        let told = rustix::fs::statvfs(&self.dir)
            .map_err(|e| LedgerFault::io("asking for free space", &self.dir, &e.into()))?;
        Ok(told.f_bavail.saturating_mul(told.f_frsize))
    }

    fn ask<T>(&self, order: impl FnOnce(Answer<T>) -> Order) -> Reply<T> {
        let (tell, told) = oneshot::channel();
        match self.send(order(tell)) {
            Ok(()) => Reply::Coming(told),
            Err(fault) => Reply::Refused(Some(fault)),
        }
    }

    fn wait<T>(&self, order: impl FnOnce(Answer<T>) -> Order) -> Result<T, LedgerFault> {
        let (tell, told) = oneshot::channel();
        self.send(order(tell))?;
        told.blocking_recv().unwrap_or(Err(LedgerFault::Closed))
    }

    fn send(&self, order: Order) -> Result<(), LedgerFault> {
        self.orders.try_send(order).map_err(|e| match e {
            TrySendError::Full(_) => LedgerFault::Busy,
            TrySendError::Disconnected(_) => LedgerFault::Closed,
        })
    }
}

/// Takes orders until told to close or until nobody is left to give any.
fn run(mut store: Store, orders: &Receiver<Order>) {
    loop {
        if store.lag() >= LAG_MOST {
            store.bring_index_up();
        }
        let order = if store.lag() == 0 {
            orders.recv().map_err(|_| RecvTimeoutError::Disconnected)
        } else {
            orders.recv_timeout(IDLE)
        };
        match order {
            Ok(Order::Close(tell)) => {
                store.close();
                // Nobody listening is fine: the store is closed either way.
                let _ = tell.send(Ok(()));
                return;
            }
            Ok(order) => serve(&mut store, order),
            Err(RecvTimeoutError::Timeout) => store.bring_index_up(),
            Err(RecvTimeoutError::Disconnected) => {
                store.close();
                return;
            }
        }
    }
}

/// Does one order. An asker who stopped waiting changes nothing: what was written stays written.
fn serve(store: &mut Store, order: Order) {
    match order {
        Order::Append(drafts, tell) => {
            let answer = store.append(drafts);
            let written = answer.clone().unwrap_or_default();
            let _ = tell.send(answer);
            store.fold(written);
        }
        Order::PutProgram(bytes, tell) => {
            let _ = tell.send(store.put_program(&bytes));
        }
        Order::Program(sha256, tell) => {
            let _ = tell.send(store.program(&sha256));
        }
        Order::EventsAfter(seq, limit, tell) => {
            let _ = tell.send(store.events_after(seq, limit));
        }
        Order::Progress(progress) => store.note_progress(&progress),
        Order::Snapshot(tell) => {
            let _ = tell.send(Ok(store.snapshot()));
        }
        Order::Close(tell) => drop(tell),
    }
}
