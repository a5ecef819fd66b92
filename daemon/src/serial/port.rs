//! Opening a port, and why it could not be opened, as a sentence.

use super::borrowed::descriptor;
use rustix::fs::OFlags;
use rustix::io::Errno;
use serialport::{ErrorKind, SerialPort, TTYPort};
use std::io::IoSlice;
use std::os::unix::fs::{FileTypeExt, MetadataExt};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// An open port.
pub(in crate::serial) struct Port {
    tty: TTYPort,
}

/// How much of a write was taken; nothing where there is no room now.
const fn taken(written: Result<usize, Errno>) -> Result<usize, &'static str> {
    match written {
        Ok(n) => Ok(n),
        Err(Errno::AGAIN | Errno::INTR) => Ok(0),
        Err(_) => Err("the port can no longer be written"),
    }
}

/// What a read came to.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::serial) enum Read {
    /// So many bytes.
    Bytes(usize),
    /// Nothing now.
    Nothing,
    /// The device is gone.
    Gone(&'static str),
}

impl Port {
    /// Opens and configures; takes it for itself alone.
    pub fn open(path: &str, baud: u32) -> Result<Self, String> {
        if let Some(other) = owner_beside(Path::new("/"), Path::new(path), std::process::id()) {
            return Err(format!("{path} is in use by another program: {other}. End that one first."));
        }
        let opened = serialport::new(path, baud).timeout(Duration::from_millis(10)).open_native();
        let tty = opened.map_err(|e| why_not(path, &e))?;
        let fd = descriptor(&tty);
        let flags = rustix::fs::fcntl_getfl(fd).map_err(|e| format!("{path}: {e}"))?;
        rustix::fs::fcntl_setfl(fd, flags | OFlags::NONBLOCK).map_err(|e| format!("{path}: {e}"))?;
        keep_lines_on_close(&tty);
        Ok(Self { tty })
    }

    pub fn descriptor(&self) -> std::os::fd::BorrowedFd<'_> {
        descriptor(&self.tty)
    }

    /// `hung_up`: the wait before this read was told of a hang-up.
    pub fn read(&self, buffer: &mut [u8], hung_up: bool) -> Read {
        came(rustix::io::read(self.descriptor(), buffer), hung_up)
    }

    /// Bytes the system still holds for the wire, where it says so (a pseudo-terminal never does).
    pub fn held(&self) -> usize {
        self.tty.bytes_to_write().ok().and_then(|n| usize::try_from(n).ok()).unwrap_or(0)
    }

    /// Writes what fits now; gives how much that was.
    pub fn write(&self, bytes: &[u8]) -> Result<usize, &'static str> {
        taken(rustix::io::write(self.descriptor(), bytes))
    }

    /// The same of several pieces, in one call.
    pub fn write_pieces(&self, pieces: &[IoSlice<'_>]) -> Result<usize, &'static str> {
        taken(rustix::io::writev(self.descriptor(), pieces))
    }
}

/// What a read came to. A device that is gone shows as a read of nothing, as an error, or as a hang-up that never ends
/// with nothing to be read: which of them is the driver's affair.
const fn came(read: Result<usize, Errno>, hung_up: bool) -> Read {
    const GONE: Read = Read::Gone("the cable or the controller is gone");
    match read {
        Ok(0) | Err(Errno::IO | Errno::NXIO | Errno::NODEV) => GONE,
        Ok(n) => Read::Bytes(n),
        Err(Errno::AGAIN) if hung_up => GONE,
        Err(Errno::AGAIN | Errno::INTR) => Read::Nothing,
        Err(_) => Read::Gone("the port can no longer be read"),
    }
}

/// A program beside ours that has a device open, as far as we may look below a root folder (`/` but in tests): its name
/// and number. One that does not care about locks would take the controller's answers away from us.
pub fn owner_beside(root: &Path, device: &Path, ours: u32) -> Option<String> {
    #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
    let device = std::fs::canonicalize(device).ok()?;
    for process in inside(&root.join("proc")) {
        let number = process.file_name().and_then(|n| n.to_str()).and_then(|n| n.parse::<u32>().ok());
        let Some(number) = number.filter(|n| *n != ours) else { continue };
        #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
        let open =
            inside(&process.join("fd")).into_iter().any(|fd| std::fs::read_link(fd).is_ok_and(|to| to == device));
        if open {
            #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
            let name = std::fs::read_to_string(process.join("comm")).unwrap_or_default();
            return Some(format!("{} (process {number})", name.trim()));
        }
    }
    None
}

/// What is in a folder, by name; nothing where it cannot be looked into.
fn inside(folder: &Path) -> Vec<PathBuf> {
    #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
    let entries = std::fs::read_dir(folder);
    let mut found: Vec<PathBuf> = entries.map(|d| d.flatten().map(|e| e.path()).collect()).unwrap_or_default();
    found.sort();
    found
}

/// A clean close shall not drop the modem lines, which resets some boards. Refused by pseudo-terminals and some
/// adapters; that is no fault.
fn keep_lines_on_close(tty: &TTYPort) {
    let fd = descriptor(tty);
    if let Ok(mut settings) = rustix::termios::tcgetattr(fd) {
        settings.control_modes.remove(rustix::termios::ControlModes::HUPCL);
        if rustix::termios::tcsetattr(fd, rustix::termios::OptionalActions::Now, &settings).is_err() {
            tracing::debug!("the port keeps its own way with the modem lines on close");
        }
    }
}

fn why_not(path: &str, e: &serialport::Error) -> String {
    let Ok(device) = std::fs::metadata(path) else {
        return format!("there is no port {path}. Is the cable in, and the controller switched on?");
    };
    if !device.file_type().is_char_device() {
        return format!("{path} is no serial port.");
    }
    let text = e.to_string().to_lowercase();
    if text.contains("lock") || text.contains("busy") {
        return format!("{path} is in use by another program, or by a second daemon. End that one first.");
    }
    if e.kind() == ErrorKind::Io(std::io::ErrorKind::PermissionDenied) || text.contains("permission") {
        let group = group_name(device.gid()).map_or_else(|| format!("number {}", device.gid()), |g| format!("`{g}`"));
        return format!(
            "{path} may not be opened by this user. It belongs to the group {group}: add the user to it, then sign in anew."
        );
    }
    format!("{path} cannot be opened: {e}")
}

/// The name of a group, as the system's list has it.
fn group_name(id: u32) -> Option<String> {
    #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
    let list = std::fs::read_to_string("/etc/group").ok()?;
    named(&list, id)
}

/// A line of that list reads `name:password:number:members`.
fn named(list: &str, id: u32) -> Option<String> {
    list.lines().find_map(|line| {
        let mut parts = line.split(':');
        let name = parts.next()?;
        (parts.nth(1)?.parse() == Ok(id)).then(|| name.to_owned())
    })
}

/// Whether a path leads to a pseudo-terminal.
#[must_use]
pub fn is_pseudo_terminal(path: &str) -> bool {
    #[allow(clippy::disallowed_methods, reason = "this room looks at devices")]
    let real = std::fs::canonicalize(path);
    real.is_ok_and(|p| p.starts_with("/dev/pts/"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

    #[test]
    fn groups_have_names() {
        let list = "root:x:0:\ndialout:x:20:someone\n";
        assert_eq!(named(list, 20).as_deref(), Some("dialout"));
        assert_eq!(named(list, 21), None);
    }

    #[test]
    fn a_device_that_is_gone_is_known_in_every_shape() {
        for gone in [Ok(0), Err(Errno::IO), Err(Errno::NXIO), Err(Errno::NODEV), Err(Errno::BADF)] {
            assert!(matches!(came(gone, false), Read::Gone(_)), "{gone:?}");
        }
        assert_eq!(came(Err(Errno::AGAIN), false), Read::Nothing);
        assert_eq!(came(Err(Errno::INTR), true), Read::Nothing, "that read was broken off, and says nothing");
        assert!(matches!(came(Err(Errno::AGAIN), true), Read::Gone(_)), "hung up, and nothing to be read");
        assert_eq!(came(Ok(3), true), Read::Bytes(3), "what it said before is heard to the end");
    }

    #[test]
    fn modem_lines_may_be_refused() {
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&end).unwrap();
        unlockpt(&end).unwrap();
        let path = ptsname(&end, Vec::new()).unwrap().to_string_lossy().into_owned();
        let mut port = Port::open(&path, 115_200).unwrap();
        assert!(port.tty.read_clear_to_send().is_err(), "a pseudo-terminal has no modem lines to be asked for");
        assert!(port.tty.write_data_terminal_ready(true).is_err(), "and none to be set");
        assert_eq!(port.write(b"word"), Ok(4));
        let mut heard = [0_u8; 8];
        assert_eq!(rustix::io::read(&end, &mut heard), Ok(4));
        assert_eq!(rustix::io::write(&end, b"answer"), Ok(6));
        assert_eq!(port.read(&mut heard, false), Read::Bytes(6));
    }

    #[test]
    fn what_is_no_port_is_told() {
        let Err(why) = Port::open("/etc/group", 115_200) else { panic!("it opened") };
        assert_eq!(why, "/etc/group is no serial port.");
        let Err(why) = Port::open("/dev/chargehand-no-such-port", 115_200) else { panic!("it opened") };
        assert!(why.starts_with("there is no port"), "{why}");
    }
}
