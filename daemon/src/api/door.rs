//! The door: the Unix socket the API is served on, mode 0660, in a folder that is made with mode 0770.
//!
//! A socket file left behind by a daemon that is gone is replaced; one that somebody answers on is not. The new
//! socket is bound under a temporary name, given its mode and renamed into place, so it never stands open wider.
//!
//! May live here: taking and giving back the socket's name, counting connections, who is at the other end.
//! May not: HTTP.

use super::fault::ApiFault;
use super::origin::Origin;
use crate::people::remote;
use rustix::fs::{FlockOperation, flock};
use std::fs::{DirBuilder, File, OpenOptions, Permissions};
use std::io;
use std::net::IpAddr;
use std::os::unix::fs::{DirBuilderExt, FileTypeExt, MetadataExt, OpenOptionsExt, PermissionsExt};
use std::os::unix::net::{UnixListener as StdListener, UnixStream as StdStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Bytes of a path that fit a Unix socket address (`sun_path` has 108, one ends it).
const PATH_MOST: usize = 107;
/// What the temporary name has beyond the real one.
const NEW: &str = ".new";
/// Connections at a time; more wait until one ends.
const CONNECTIONS_MOST: usize = 256;

/// The open socket. Its file is removed when this is dropped, unless somebody else took the name meanwhile.
#[derive(Debug)]
pub struct Door {
    path: PathBuf,
    inode: (u64, u64),
    listener: StdListener,
    tells_remote: bool,
    _lock: File,
}

impl Door {
    /// Takes the socket's name.
    ///
    /// # Errors
    /// When another daemon serves it, the name is something else's, or the system does not let us.
    pub fn open(path: &Path) -> Result<Self, ApiFault> {
        let found = path.as_os_str().len() + NEW.len();
        if found > PATH_MOST {
            let (found, most) = (found - NEW.len(), PATH_MOST - NEW.len());
            return Err(ApiFault::TooLong { socket: path.display().to_string(), found, most });
        }
        make_folder(path)?;
        let lock = take_lock(path)?;
        refuse_if_answered(path)?;
        let listener = bind(path).map_err(|e| ApiFault::io("opening the socket", path, e))?;
        let inode = inode(path).map_err(|e| ApiFault::io("opening the socket", path, e))?;
        Ok(Self { path: path.to_owned(), inode, listener, tells_remote: false, _lock: lock })
    }

    /// Whether programs that were started from a login over a network are told from others: where something real moves.
    #[must_use]
    pub const fn telling_remote(mut self, tells_remote: bool) -> Self {
        self.tells_remote = tells_remote;
        self
    }

    /// The socket's name.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What takes the connections.
    pub(super) fn listener(&self) -> Result<Counted, ApiFault> {
        let listener = self
            .listener
            .try_clone()
            .and_then(|l| {
                l.set_nonblocking(true)?;
                UnixListener::from_std(l)
            })
            .map_err(|e| ApiFault::io("listening on the socket", &self.path, e))?;
        let group =
            std::fs::metadata(&self.path).map_err(|e| ApiFault::io("looking at the socket", &self.path, e))?.gid();
        let room = Arc::new(Semaphore::new(CONNECTIONS_MOST));
        Ok(Counted { listener, room, group, tells_remote: self.tells_remote })
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        if inode(&self.path).is_ok_and(|now| now == self.inode) {
            // A file left behind is found stale by the next daemon.
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

fn make_folder(path: &Path) -> Result<(), ApiFault> {
    let Some(dir) = path.parent().filter(|d| !d.as_os_str().is_empty()) else { return Ok(()) };
    if dir.is_dir() {
        return Ok(());
    }
    DirBuilder::new()
        .recursive(true)
        .mode(0o770)
        .create(dir)
        .and_then(|()| std::fs::set_permissions(dir, Permissions::from_mode(0o770)))
        .map_err(|e| ApiFault::io("making the socket's folder", dir, e))
}

/// Held while the door is open, so that two daemons starting at once cannot both find a stale socket.
fn take_lock(path: &Path) -> Result<File, ApiFault> {
    let name = beside(path, ".lock");
    let file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&name)
        .map_err(|e| ApiFault::io("opening the socket's lock", &name, e))?;
    match flock(&file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(file),
        Err(rustix::io::Errno::WOULDBLOCK) => Err(ApiFault::Busy { socket: path.display().to_string() }),
        Err(e) => Err(ApiFault::io("locking the socket", &name, e.into())),
    }
}

fn refuse_if_answered(path: &Path) -> Result<(), ApiFault> {
    let socket = || path.display().to_string();
    match std::fs::symlink_metadata(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(ApiFault::io("looking at the socket", path, e)),
        Ok(there) if !there.file_type().is_socket() => {
            return Err(ApiFault::NoSocket { socket: socket() });
        }
        Ok(_) => {}
    }
    #[allow(clippy::disallowed_methods, reason = "asking whether somebody answers on the socket")]
    let answered = StdStream::connect(path);
    match answered {
        Ok(_) => Err(ApiFault::Busy { socket: socket() }),
        Err(e) if e.kind() == io::ErrorKind::ConnectionRefused => Ok(()),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(ApiFault::io("asking who serves the socket", path, e)),
    }
}

fn bind(path: &Path) -> io::Result<StdListener> {
    let new = beside(path, NEW);
    match std::fs::remove_file(&new) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        Ok(()) | Err(_) => {}
    }
    let listener = StdListener::bind(&new)?;
    std::fs::set_permissions(&new, Permissions::from_mode(0o660))?;
    std::fs::rename(&new, path)?;
    Ok(listener)
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

fn inode(path: &Path) -> io::Result<(u64, u64)> {
    std::fs::symlink_metadata(path).map(|m| (m.dev(), m.ino()))
}

/// Takes connections, so many at a time.
#[derive(Debug)]
pub(super) struct Counted {
    listener: UnixListener,
    room: Arc<Semaphore>,
    group: u32,
    tells_remote: bool,
}

impl Counted {
    /// The next connection, its place among them, and who is at the other end.
    pub(super) async fn take(&self) -> io::Result<(UnixStream, Option<OwnedSemaphorePermit>, Peer)> {
        // The semaphore is never closed; without a place the connection would only not be counted.
        let place = Arc::clone(&self.room).acquire_owned().await.ok();
        let (stream, _) = self.listener.accept().await?;
        let peer = self.peer(&stream);
        Ok((stream, place, peer))
    }

    /// The file's mode lets nobody else in; this holds where somebody changed it.
    fn peer(&self, stream: &UnixStream) -> Peer {
        let Ok(told) = stream.peer_cred() else { return Peer { turned: true, ..Peer::default() } };
        let own = rustix::process::geteuid().as_raw();
        let ours = told.uid() == own || told.uid() == 0 || told.gid() == self.group;
        let pid = told.pid().filter(|_| self.tells_remote || !ours).and_then(|p| u32::try_from(p).ok());
        let origin = pid.map(Origin::of).unwrap_or_default();
        let remote = if self.tells_remote { remote(&origin.line) } else { None };
        let turned = !ours && !origin.groups.contains(&self.group);
        Peer { uid: Some(told.uid()), remote, address: None, turned }
    }
}

/// Who is at the other end.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Peer {
    /// The user of the process (`SO_PEERCRED`).
    pub uid: Option<u32>,
    /// Why it counts as started from a login over a network, where something says so.
    pub remote: Option<String>,
    /// Its address, when it is no process of this computer that we know of.
    pub address: Option<IpAddr>,
    /// Of neither the user nor the group that may use the socket.
    pub turned: bool,
}
