//! Whether the program at the other end of the socket was started from a login over a network, as far as it can be
//! told. What cannot be told: a program left running under a session keeper and taken up from elsewhere.
//!
//! May live here: judging what the system tells. May not: asking the system.

/// Programs that let somebody in over a network, by the first 15 bytes of their names, which is what the system keeps.
const DOORS: [&str; 9] =
    ["sshd", "sshd-session", "sshd-auth", "dropbear", "mosh-server", "in.telnetd", "telnetd", "in.rlogind", "in.rshd"];

/// A process, as the system tells of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Process {
    /// Its name.
    pub name: String,
    /// The text of its login session's record, where it has one.
    pub session: Option<String>,
}

/// Why a program counts as started from elsewhere; none when nothing says so. The line begins with the program itself
/// and goes on with what started it.
#[must_use]
pub fn remote(line: &[Process]) -> Option<String> {
    let by_session = line.iter().filter_map(|p| p.session.as_deref()).find_map(from_afar);
    let by_door = || {
        let door = line.iter().map(|p| p.name.as_str()).find(|n| DOORS.contains(n))?;
        Some(format!("it was started under {door}"))
    };
    by_session.or_else(by_door)
}

/// What a session's record says: lines of KEY=VALUE.
fn from_afar(record: &str) -> Option<String> {
    let value = |key: &str| record.lines().find_map(|l| l.trim().strip_prefix(key)?.strip_prefix('='));
    let afar = value("REMOTE").is_some_and(|v| v == "1");
    afar.then(|| match value("REMOTE_HOST").filter(|h| !h.is_empty()) {
        Some(host) => format!("its login session came from {host}"),
        None => "its login session came over a network".to_owned(),
    })
}
