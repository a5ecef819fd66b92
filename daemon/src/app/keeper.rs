//! The keeper of the book of people and tokens and of the list of refusals: their files in the store's folder, for the
//! daemon's user only, and every look at a secret.
//!
//! May live here: when which file is written, who is compared with what. May not: what a PIN or a token is.
#![allow(clippy::disallowed_methods, reason = "this is where the files of people are read and chance is asked for")]

use super::premises::Premises;
use crate::link::wire::TickSource;
use crate::people::{
    Addresses, Allowance, Book, BookFault, Bucket, Holder, Looked, Pin, PinFault, Refusals, SALT_BYTES, TOKEN_BYTES,
};
use chargehand_types::id::Person;
use chargehand_types::people::{RefusalKind, Refused};
use chargehand_types::quantity::Seconds;
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use chrono::{DateTime, Utc};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, Permissions};
use std::io::{self, Write};
use std::net::IpAddr;
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The book's file in the store's folder.
pub const BOOK: &str = "people.json";
/// The file of refusals.
pub const REFUSALS: &str = "refusals.jsonl";
/// For the daemon's user only.
const MODE: u32 = 0o600;
/// The file of refusals is written anew, with the last ones only, when it grows beyond this.
const REFUSALS_BYTES_AT_MOST: u64 = 1024 * 1024;
/// Requests that one token may make.
const REQUESTS: Allowance = Allowance { burst: 120, every_ms: 50 };

/// Why people cannot be kept.
#[derive(Debug, thiserror::Error)]
pub enum KeeperFault {
    /// A file.
    #[error("{0} cannot be read or written: {1}")]
    File(PathBuf, io::Error),
    /// What is in it.
    #[error(
        "{0}: {1}. Restore it from a copy, or remove it: every PIN and token is gone then, and signing in asks for no \
         PIN until an owner sets one again"
    )]
    Book(PathBuf, BookFault),
}

/// Why a PIN does not prove anybody.
#[derive(Debug, Clone, PartialEq)]
pub enum NotProved {
    /// None was given.
    Missing,
    /// They have none yet.
    Unset,
    /// It is another one; none is looked at for so long.
    Wrong(Option<Seconds>),
    /// None is looked at for so long.
    Locked(Seconds),
    /// Nobody of this shop.
    Stranger,
}

/// The keeper.
pub struct Keeper {
    folder: PathBuf,
    clock: Arc<dyn TickSource>,
    book: Mutex<Book>,
    refusals: Mutex<Refusals>,
    addresses: Mutex<Addresses>,
    requests: Mutex<BTreeMap<String, Bucket>>,
    /// One PIN is looked at, or one change made, at a time: nobody gets more tries by asking side by side.
    one_at_a_time: tokio::sync::Mutex<()>,
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn now() -> DateTime<Utc> {
    Utc::now()
}

/// Bytes of chance.
fn chance<const N: usize>() -> Result<[u8; N], BookFault> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|e| BookFault::Text(format!("the system gives no chance: {e}")))?;
    Ok(bytes)
}

impl Keeper {
    /// Opens the files of a shop; there need not be any.
    ///
    /// # Errors
    /// When one cannot be read, or the book is none.
    pub fn open(premises: &Premises, clock: Arc<dyn TickSource>) -> Result<Self, KeeperFault> {
        let folder = premises.store.clone();
        let config = premises.config.people.iter().map(|w| (w.name.clone(), w.role)).collect();
        let path = folder.join(BOOK);
        let book = match read(&path)? {
            Some(text) => Book::read(&text, config, clock.now()).map_err(|e| KeeperFault::Book(path.clone(), e))?,
            None => Book::new(config),
        };
        let refusals = read(&folder.join(REFUSALS))?.map(|t| Refusals::read(&t)).unwrap_or_default();
        Ok(Self {
            folder,
            clock,
            book: Mutex::new(book),
            refusals: Mutex::new(refusals),
            addresses: Mutex::default(),
            requests: Mutex::default(),
            one_at_a_time: tokio::sync::Mutex::new(()),
        })
    }

    /// Whether signing in asks for a PIN.
    pub fn pins(&self) -> bool {
        lock(&self.book).pins()
    }

    /// Somebody's role; none for a stranger.
    pub fn role_of(&self, who: &Person) -> Option<Role> {
        lock(&self.book).role_of(who)
    }

    /// Reads the book.
    pub fn book<T>(&self, of: impl FnOnce(&Book) -> T) -> T {
        of(&lock(&self.book))
    }

    /// Changes the book; the change counts once it is on the disk.
    ///
    /// # Errors
    /// The book's, or the disk's.
    pub fn change<T>(&self, change: impl FnOnce(&mut Book) -> Result<T, BookFault>) -> Result<T, BookFault> {
        let mut book = lock(&self.book);
        let mut new = book.clone();
        let out = change(&mut new)?;
        let path = self.folder.join(BOOK);
        write_whole(&path, new.text()?.as_bytes())
            .map_err(|e| BookFault::Text(format!("{} cannot be written: {e}", path.display())))?;
        *book = new;
        Ok(out)
    }

    /// Keeps a PIN with chance of its own. It takes its time.
    ///
    /// # Errors
    /// When it is none, is too plain, or may not be set.
    pub async fn set_pin(&self, who: &Person, pin: &Secret) -> Result<(), PinNotSet> {
        let _one = self.one_at_a_time.lock().await;
        self.book(|b| b.may_have_pin(who))?;
        let pin = Pin::chosen(pin)?;
        let salt = chance::<SALT_BYTES>()?;
        let kept = tokio::task::spawn_blocking(move || pin.keep(&salt)).await;
        let kept = kept.map_err(|e| PinFault::Hash(e.to_string()))??;
        Ok(self.change(|b| b.set_pin(who, kept))?)
    }

    /// Whether a PIN is somebody's. Wrong ones are counted on the disk before anybody is told.
    ///
    /// # Errors
    /// Why it proves nobody.
    pub async fn prove(&self, who: &Person, given: Option<&Secret>) -> Result<(), NotProved> {
        let _one = self.one_at_a_time.lock().await;
        if self.role_of(who).is_none() {
            return Err(NotProved::Stranger);
        }
        let kept = match self.book(|b| b.look(who, self.clock.now())) {
            Looked::With(kept) => kept,
            Looked::Unset => return Err(NotProved::Unset),
            Looked::Locked(left) => return Err(NotProved::Locked(left)),
        };
        let Some(given) = given.filter(|g| !g.shown().is_empty()) else { return Err(NotProved::Missing) };
        // what cannot be a PIN is a wrong one
        let right = match Pin::typed(given) {
            Ok(pin) => tokio::task::spawn_blocking(move || kept.is(&pin)).await.unwrap_or(false),
            Err(_) => false,
        };
        if !right {
            let tick = self.clock.now();
            return Err(NotProved::Wrong(self.count(|b| b.was_wrong(who, tick))));
        }
        if self.book(|b| b.wrong(who)) > 0 {
            self.count(|b| b.was_right(who));
        }
        Ok(())
    }

    /// Counts a try, on the disk where that works: a full disk must neither give free tries nor shut everybody out.
    fn count<T>(&self, count: impl Fn(&mut Book) -> T) -> T {
        self.change(|b| Ok(count(b))).unwrap_or_else(|e| {
            tracing::error!("a try of a PIN is counted until the daemon ends only: {e}");
            count(&mut lock(&self.book))
        })
    }

    /// Makes a token; its text is answered and never seen again.
    ///
    /// # Errors
    /// The book's.
    pub async fn make_token(&self, name: &str, role: Role, expires: DateTime<Utc>) -> Result<Secret, BookFault> {
        let _one = self.one_at_a_time.lock().await;
        let chance = chance::<TOKEN_BYTES>()?;
        self.change(|b| b.make_token(name, role, now(), expires, &chance))
    }

    /// Who shows a token from an address; whether the request counts against how much the token may ask. The right token
    /// counts wherever it comes from: whoever guesses beside it does not shut it out.
    ///
    /// # Errors
    /// Seconds to wait where too much was asked; else the name of a token that is over, or none.
    pub fn holder(&self, given: Option<&[u8]>, from: IpAddr, counts: bool) -> Result<Holder, NoHolder> {
        let tick = self.clock.now();
        let found = given.map_or(Err(None), |given| lock(&self.book).holder(given, now()));
        let mut addresses = lock(&self.addresses);
        let holder = match (found, addresses.shut_for(from, tick)) {
            (Ok(holder), _) => holder,
            (Err(_), Some(seconds)) => return Err(NoHolder::Shut(seconds)),
            (Err(over), None) => {
                addresses.was_wrong(from, tick);
                return Err(NoHolder::Bad(over));
            }
        };
        addresses.was_right(from);
        drop(addresses);
        let mut requests = lock(&self.requests);
        // no more buckets than tokens: those of tokens that were revoked go with the rest
        if requests.len() > crate::people::TOKENS_AT_MOST {
            requests.clear();
        }
        let bucket = requests.entry(holder.name.clone()).or_insert_with(|| Bucket::full(REQUESTS, tick));
        if !counts || bucket.take(REQUESTS, tick) { Ok(holder) } else { Err(NoHolder::Busy(holder)) }
    }

    /// Writes a refusal down.
    pub fn refused(&self, kind: RefusalKind, who: Option<String>, from: String, asked: &str) {
        let refused = Refused { at: now(), kind, who, from, asked: asked.to_owned(), left_out: 0 };
        let mut refusals = lock(&self.refusals);
        let Some(written) = refusals.note(refused, self.clock.now()) else { return };
        let by = written.who.as_deref().unwrap_or("unknown");
        tracing::warn!("refused ({}): {} from {}: {}", kind.word(), by, written.from, written.asked);
        let path = self.folder.join(REFUSALS);
        if let Err(e) = append(&path, &written, || refusals.text()) {
            tracing::error!("{} cannot be written: {e}", path.display());
        }
    }

    /// The last refusals, oldest first.
    pub fn refusals(&self) -> Vec<Refused> {
        lock(&self.refusals).all()
    }

    /// Machine time.
    pub fn tick(&self) -> chargehand_types::quantity::Tick {
        self.clock.now()
    }
}

/// Why a PIN is not set.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PinNotSet {
    /// The digits.
    #[error(transparent)]
    Pin(#[from] PinFault),
    /// The book.
    #[error(transparent)]
    Book(#[from] BookFault),
}

/// Why nobody is let in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoHolder {
    /// No token that counts; the name of one that is over.
    Bad(Option<String>),
    /// Too many wrong tokens from there: no look for so many seconds.
    Shut(u64),
    /// Too many requests with this token.
    Busy(Holder),
}

fn read(path: &Path) -> Result<Option<String>, KeeperFault> {
    let fault = |e| KeeperFault::File(path.to_owned(), e);
    match std::fs::read_to_string(path) {
        Ok(text) => {
            mend_mode(path).map_err(fault)?;
            Ok(Some(text))
        }
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(fault(e)),
    }
}

/// A file that others could read is closed to them, and that it stood open is said.
fn mend_mode(path: &Path) -> io::Result<()> {
    let mode = std::fs::metadata(path)?.permissions().mode() & 0o777;
    if mode & !MODE != 0 {
        tracing::warn!(
            "{} stood open to others (mode {mode:o}); it no longer does. Set PINs anew if somebody may have read it.",
            path.display()
        );
        std::fs::set_permissions(path, Permissions::from_mode(MODE))?;
    }
    Ok(())
}

/// Under the name there is only ever the whole of it, and it is on the disk.
fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let new = path.with_file_name(format!(".{name}.new"));
    // left over from a daemon that was killed while it wrote
    match std::fs::remove_file(&new) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        Ok(()) | Err(_) => {}
    }
    let mut file = OpenOptions::new().write(true).create_new(true).mode(MODE).open(&new)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&new, path)?;
    path.parent().map_or(Ok(()), |folder| File::open(folder)?.sync_all())
}

/// Adds a line; a file that has grown too long is written anew with what is still kept. Not synced: a refusal may be
/// lost with the power, and must not hold anything up.
fn append(path: &Path, refused: &Refused, all: impl FnOnce() -> String) -> io::Result<()> {
    let mut line = serde_json::to_vec(refused)?;
    line.push(b'\n');
    let mut file = OpenOptions::new().append(true).create(true).mode(MODE).open(path)?;
    if file.metadata()?.len() > REFUSALS_BYTES_AT_MOST {
        return write_whole(path, all().as_bytes());
    }
    file.write_all(&line)
}
