//! The cable: the controller's end of a pseudo-terminal, and the name its other end is found under.

use rustix::event::{PollFd, PollFlags, poll};
use rustix::fs::OFlags;
use rustix::io::Errno;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::path::{Path, PathBuf};

/// The cable, in or out.
#[derive(Debug)]
pub(in crate::simulator) struct Cable {
    name: Option<PathBuf>,
    plugged: Option<Plugged>,
}

#[derive(Debug)]
struct Plugged {
    end: OwnedFd,
    device: String,
}

/// What a read came to.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::simulator) enum Read {
    Bytes(usize),
    Nothing,
    /// Nobody has the other end open.
    Closed,
}

impl Cable {
    /// A cable that is in.
    pub fn new(name: Option<PathBuf>) -> std::io::Result<Self> {
        let mut cable = Self { name, plugged: None };
        cable.plug()?;
        Ok(cable)
    }

    /// The path to open.
    pub fn path(&self) -> String {
        match (&self.name, &self.plugged) {
            (Some(name), _) => name.to_string_lossy().into_owned(),
            (None, Some(plugged)) => plugged.device.clone(),
            (None, None) => String::new(),
        }
    }

    /// Puts it in: another device each time.
    pub fn plug(&mut self) -> std::io::Result<()> {
        if self.plugged.is_some() {
            return Ok(());
        }
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&end)?;
        unlockpt(&end)?;
        let device = ptsname(&end, Vec::new())?.to_string_lossy().into_owned();
        make_raw(&device)?;
        let flags = rustix::fs::fcntl_getfl(&end)?;
        rustix::fs::fcntl_setfl(&end, flags | OFlags::NONBLOCK)?;
        if let Some(name) = &self.name {
            lead(name, &device)?;
        }
        self.plugged = Some(Plugged { end, device });
        Ok(())
    }

    /// Pulls it: whoever has the other end open is hung up, and the name is gone.
    pub fn unplug(&mut self) {
        if self.plugged.take().is_some()
            && let Some(name) = &self.name
            && let Err(e) = rustix::fs::unlink(name.as_path())
        {
            tracing::debug!("the name of the port could not be taken away: {e}");
        }
    }

    pub fn end(&self) -> Option<BorrowedFd<'_>> {
        self.plugged.as_ref().map(|p| p.end.as_fd())
    }

    pub fn read(&self, buffer: &mut [u8]) -> Read {
        let Some(end) = self.end() else { return Read::Closed };
        match rustix::io::read(end, buffer) {
            Ok(n) if n > 0 => Read::Bytes(n),
            Err(Errno::AGAIN | Errno::INTR) => Read::Nothing,
            Ok(_) | Err(_) => Read::Closed,
        }
    }

    /// Writes what fits now; gives how much that was.
    pub fn write(&self, bytes: &[u8]) -> usize {
        self.end().and_then(|end| rustix::io::write(end, bytes).ok()).unwrap_or(0)
    }

    /// Whether somebody has the other end open.
    pub fn is_open(&self) -> bool {
        let Some(end) = self.end() else { return false };
        let mut fds = [PollFd::from_borrowed_fd(end, PollFlags::IN)];
        let now = rustix::event::Timespec { tv_sec: 0, tv_nsec: 0 };
        poll(&mut fds, Some(&now)).is_ok() && !fds[0].revents().contains(PollFlags::HUP)
    }
}

impl Drop for Cable {
    fn drop(&mut self) {
        self.unplug();
    }
}

/// No echo and no editing, before anybody opens it. The descriptor is closed again: kept open it would keep the flag
/// of exclusive use alive past whoever set it.
fn make_raw(device: &str) -> std::io::Result<()> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let slave: OwnedFd = rustix::fs::open(device, flags, rustix::fs::Mode::empty())?;
    let mut settings = tcgetattr(slave.as_fd())?;
    settings.make_raw();
    tcsetattr(slave.as_fd(), OptionalActions::Now, &settings)?;
    Ok(())
}

/// Makes the name lead to the device. A link left over from a life that ended badly is replaced; anything else is not.
fn lead(name: &Path, device: &str) -> std::io::Result<()> {
    let is_link = std::fs::symlink_metadata(name).is_ok_and(|m| m.file_type().is_symlink());
    if is_link {
        rustix::fs::unlink(name)?;
    }
    rustix::fs::symlink(device, name)?;
    Ok(())
}
