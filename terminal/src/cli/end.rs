//! How a command can end other than well, and the exit code of each.
//!
//! May live here: the closed list of ends. May not: what led to them.

use crate::client::{ClientFault, EXIT_NO_DAEMON, WrongPlace};
use crate::demo::DemoFault;

/// The answer is no.
pub const EXIT_NO: u8 = 1;
/// Wrong use.
pub const EXIT_WRONG_USE: u8 = 2;
/// Refused by a start condition or for lack of permission.
pub const EXIT_REFUSED: u8 = 4;
/// Something needed is missing, malformed or busy.
pub const EXIT_MISSING: u8 = 5;

/// How a command can end other than well.
#[derive(Debug, thiserror::Error)]
pub enum End {
    /// The answer is no, and was already given on stdout.
    #[error("")]
    No,
    /// Wrong use.
    #[error("{0}")]
    WrongUse(String),
    /// No daemon, and something was done in its place.
    #[error("{0}")]
    NoDaemon(String),
    /// Not without a person, or not without the right.
    #[error("{0}")]
    Refused(String),
    /// A file or program is missing, malformed or busy.
    #[error("{0}")]
    Missing(String),
    /// What the daemon, or its absence, said.
    #[error(transparent)]
    Client(#[from] ClientFault),
    /// No usable place of a daemon.
    #[error(transparent)]
    Place(#[from] WrongPlace),
    /// Stdout is closed or full.
    #[error("Nothing more can be written: {0}")]
    Out(std::io::Error),
    /// The practice shop cannot go on.
    #[error("{}", sentence(&.0.to_string()))]
    Demo(Box<DemoFault>),
    /// Another program ended with this code and has said why.
    #[error("")]
    Code(u8),
}

impl End {
    /// The exit code.
    #[must_use]
    pub fn exit(&self) -> u8 {
        match self {
            Self::No => EXIT_NO,
            Self::WrongUse(_) | Self::Place(_) => EXIT_WRONG_USE,
            Self::NoDaemon(_) => EXIT_NO_DAEMON,
            Self::Refused(_) => EXIT_REFUSED,
            Self::Missing(_) => EXIT_MISSING,
            Self::Client(fault) => fault.exit(),
            // the reader of a pipe had enough: nothing is wrong
            Self::Out(e) if e.kind() == std::io::ErrorKind::BrokenPipe => 0,
            Self::Out(_) => EXIT_MISSING,
            Self::Demo(fault) => fault.exit(),
            Self::Code(code) => *code,
        }
    }

    /// What is said on stderr; nothing where it was said already.
    #[must_use]
    pub fn message(&self) -> Option<String> {
        match self {
            Self::No | Self::Code(_) => None,
            Self::Out(e) if e.kind() == std::io::ErrorKind::BrokenPipe => None,
            other => Some(other.to_string()),
        }
    }
}

/// With a capital at its start.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().collect::<String>() + chars.as_str()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_end_has_its_code() {
        assert_eq!(End::No.exit(), 1);
        assert_eq!(End::Place(WrongPlace::Both).exit(), 2);
        assert_eq!(End::NoDaemon(String::new()).exit(), 3);
        assert_eq!(End::Refused(String::new()).exit(), 4);
        assert_eq!(End::Missing(String::new()).exit(), 5);
        assert_eq!(End::Out(std::io::ErrorKind::BrokenPipe.into()).exit(), 0);
        assert_eq!(End::Out(std::io::ErrorKind::StorageFull.into()).exit(), 5);
    }
}
