//! Why the API cannot be served, told as sentences.
//!
//! May live here: the error type of this room. May not: problems of single requests; those are `Problem`.

use std::io;
use std::path::Path;

/// Why the API cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum ApiFault {
    /// Another daemon has the socket.
    #[error("a daemon already serves this socket: {socket}; stop it first, or give this one another --socket")]
    Busy {
        /// The socket.
        socket: String,
    },
    /// Something else has the name.
    #[error("{socket} is there and is no socket; it was left alone. Give another --socket, or move it away")]
    NoSocket {
        /// The name.
        socket: String,
    },
    /// The name does not fit the system's address of a socket.
    #[error("the socket's path has {found} bytes, at most {most} fit: {socket}; give a shorter --socket")]
    TooLong {
        /// The path.
        socket: String,
        /// Its bytes.
        found: usize,
        /// What fits.
        most: usize,
    },
    /// The system reported an error.
    #[error("{doing} failed at {path}: {error}")]
    Io {
        /// What was being done.
        doing: &'static str,
        /// Where.
        path: String,
        /// What the system said.
        error: io::Error,
    },
}

impl ApiFault {
    /// From an error of the system.
    pub(super) fn io(doing: &'static str, path: &Path, error: io::Error) -> Self {
        Self::Io { doing, path: path.display().to_string(), error }
    }
}
