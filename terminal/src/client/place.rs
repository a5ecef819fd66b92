//! Where the daemon is: a Unix socket, or a URL.
//!
//! May live here: which of option, environment and default wins. May not: connecting.

use std::fmt;
use std::path::{Path, PathBuf};

/// The socket of a daemon that the system started.
const SYSTEM_SOCKET: &str = "/run/chargehand/api.sock";

/// Where the daemon is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A Unix socket.
    Socket(PathBuf),
    /// The start of every URL, without a slash at its end.
    Url(String),
}

/// Two places, or one that is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WrongPlace {
    /// Both were given.
    #[error("give either --socket or --url, not both")]
    Both,
    /// Not a URL that can be used.
    #[error("--url {0}: write it as https://HOST:PORT")]
    NoUrl(String),
}

/// What was said about the place on one level: the command line, or the environment.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Said {
    /// A socket.
    pub socket: Option<PathBuf>,
    /// A URL.
    pub url: Option<String>,
}

impl Place {
    /// The place by the command line, else by the environment, else in the session's runtime folder, else the system's.
    ///
    /// # Errors
    /// When one level names two places, or the URL is none.
    pub fn choose(line: Said, environment: Said, runtime_folder: Option<PathBuf>) -> Result<Self, WrongPlace> {
        for said in [line, environment] {
            match (said.socket, said.url) {
                (Some(_), Some(_)) => return Err(WrongPlace::Both),
                (Some(path), None) => return Ok(Self::Socket(path)),
                (None, Some(url)) => return Self::url(&url),
                (None, None) => {}
            }
        }
        Ok(Self::Socket(match runtime_folder {
            Some(folder) => folder.join("chargehand").join("api.sock"),
            None => PathBuf::from(SYSTEM_SOCKET),
        }))
    }

    fn url(text: &str) -> Result<Self, WrongPlace> {
        let url = text.trim_end_matches('/');
        let host = url.strip_prefix("http://").or_else(|| url.strip_prefix("https://")).unwrap_or_default();
        if host.is_empty() || reqwest::Url::parse(url).is_err() {
            return Err(WrongPlace::NoUrl(text.to_owned()));
        }
        Ok(Self::Url(url.to_owned()))
    }

    /// What every request's URL starts with. Over a socket the host says nothing.
    #[must_use]
    pub fn base(&self) -> &str {
        match self {
            Self::Socket(_) => "http://chargehand",
            Self::Url(url) => url,
        }
    }

    /// Whether it is spoken to with TLS.
    #[must_use]
    pub fn is_secure(&self) -> bool {
        matches!(self, Self::Url(url) if url.starts_with("https://"))
    }

    /// The folder of the socket.
    #[must_use]
    pub fn socket_folder(&self) -> Option<&Path> {
        match self {
            Self::Socket(path) => Some(match path.parent() {
                Some(p) if !p.as_os_str().is_empty() => p,
                Some(_) | None => Path::new("."),
            }),
            Self::Url(_) => None,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Socket(path) => write!(f, "{}", path.display()),
            Self::Url(url) => f.write_str(url),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn socket(path: &str) -> Said {
        Said { socket: Some(path.into()), url: None }
    }

    fn url(text: &str) -> Said {
        Said { socket: None, url: Some(text.to_owned()) }
    }

    #[test]
    fn the_line_wins_over_the_environment() {
        let place = Place::choose(socket("/a"), url("http://h:1"), None).unwrap();
        assert_eq!(place, Place::Socket("/a".into()));
        let place = Place::choose(Said::default(), url("http://h:1/"), None).unwrap();
        assert_eq!(place, Place::Url("http://h:1".into()));
    }

    #[test]
    fn the_session_comes_before_the_system() {
        let place = Place::choose(Said::default(), Said::default(), Some("/run/user/7".into())).unwrap();
        assert_eq!(place, Place::Socket("/run/user/7/chargehand/api.sock".into()));
        let place = Place::choose(Said::default(), Said::default(), None).unwrap();
        assert_eq!(place.to_string(), "/run/chargehand/api.sock");
    }

    #[test]
    fn two_places_are_refused() {
        let both = Said { socket: Some("/a".into()), url: Some("http://h".into()) };
        assert_eq!(Place::choose(both, Said::default(), None), Err(WrongPlace::Both));
        assert!(matches!(Place::choose(url("router"), Said::default(), None), Err(WrongPlace::NoUrl(_))));
        assert!(matches!(Place::choose(url("http://"), Said::default(), None), Err(WrongPlace::NoUrl(_))));
    }

    #[test]
    fn a_bare_socket_lies_here() {
        assert_eq!(Place::Socket("api.sock".into()).socket_folder(), Some(Path::new(".")));
    }
}
