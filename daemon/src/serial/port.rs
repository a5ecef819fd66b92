//! Opening a port, and why it could not be opened, as a sentence.

use super::borrowed::descriptor;
use rustix::fs::OFlags;
use rustix::io::Errno;
use serialport::{ErrorKind, SerialPort, TTYPort};
use std::os::unix::fs::{FileTypeExt, MetadataExt};
use std::time::Duration;

/// An open port.
pub(in crate::serial) struct Port {
    tty: TTYPort,
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

    pub fn read(&self, buffer: &mut [u8]) -> Read {
        match rustix::io::read(self.descriptor(), buffer) {
            Ok(0) => Read::Gone("the cable or the controller is gone"),
            Ok(n) => Read::Bytes(n),
            Err(Errno::AGAIN | Errno::INTR) => Read::Nothing,
            Err(Errno::IO | Errno::NXIO | Errno::NODEV) => Read::Gone("the cable or the controller is gone"),
            Err(_) => Read::Gone("the port can no longer be read"),
        }
    }

    /// Bytes the system still holds for the wire, where it says so (a pseudo-terminal never does).
    pub fn held(&self) -> usize {
        self.tty.bytes_to_write().ok().and_then(|n| usize::try_from(n).ok()).unwrap_or(0)
    }

    /// Writes what fits now; gives how much that was.
    pub fn write(&self, bytes: &[u8]) -> Result<usize, &'static str> {
        match rustix::io::write(self.descriptor(), bytes) {
            Ok(n) => Ok(n),
            Err(Errno::AGAIN | Errno::INTR) => Ok(0),
            Err(_) => Err("the port can no longer be written"),
        }
    }
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

    #[test]
    fn groups_have_names() {
        let list = "root:x:0:\ndialout:x:20:someone\n";
        assert_eq!(named(list, 20).as_deref(), Some("dialout"));
        assert_eq!(named(list, 21), None);
    }

    #[test]
    fn what_is_no_port_is_told() {
        let Err(why) = Port::open("/etc/group", 115_200) else { panic!("it opened") };
        assert_eq!(why, "/etc/group is no serial port.");
        let Err(why) = Port::open("/dev/chargehand-no-such-port", 115_200) else { panic!("it opened") };
        assert!(why.starts_with("there is no port"), "{why}");
    }
}
