//! What comes from outside the program: environment, clocks, files, chance, each asked for here and nowhere else.
//!
//! May live here: one thin call each, with its limit. May not: any decision about what was read.

use chargehand_types::id::CommandId;
use chrono::{DateTime, Local, NaiveDateTime, Utc};
use std::ffi::OsString;
use std::io::{BufRead, IsTerminal, Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::time::Instant;

/// The largest file that is read into memory: programs of a quarter sheet stay far below.
pub const FILE_BYTES_AT_MOST: u64 = 64 * 1024 * 1024;

/// The longest line that is read from a person, in bytes.
const TYPED_AT_MOST: u64 = 4096;

/// A variable of the environment; none when it is unset or empty.
#[must_use]
#[allow(clippy::disallowed_methods, reason = "the one place that reads the environment")]
pub fn variable(name: &str) -> Option<OsString> {
    std::env::var_os(name).filter(|v| !v.is_empty())
}

/// A variable of the environment as text; what is not UTF-8 counts as unset.
#[must_use]
pub fn variable_text(name: &str) -> Option<String> {
    variable(name).and_then(|v| v.into_string().ok())
}

/// The wall clock.
#[must_use]
#[allow(clippy::disallowed_methods, reason = "the one place that reads the wall clock")]
pub fn utc_now() -> DateTime<Utc> {
    Utc::now()
}

/// A moment as the clock on the wall of this place shows it: day and time, to the minute.
#[must_use]
pub fn local_minute(at: DateTime<Utc>) -> String {
    at.with_timezone(&Local).format("%Y-%m-%d %H:%M").to_string()
}

/// The time of day of a moment, in this place.
#[must_use]
pub fn local_time(at: DateTime<Utc>) -> String {
    at.with_timezone(&Local).format("%H:%M").to_string()
}

/// A moment as the clock on the wall of this place shows it.
#[must_use]
pub fn wall(at: DateTime<Utc>) -> NaiveDateTime {
    at.with_timezone(&Local).naive_local()
}

/// A stopwatch that never goes back.
#[derive(Debug, Clone, Copy)]
pub struct Stopwatch(Instant);

impl Stopwatch {
    /// Starts it.
    #[must_use]
    #[allow(clippy::disallowed_methods, reason = "the one place that reads the monotonic clock")]
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// Milliseconds since its start.
    #[must_use]
    pub fn ms(self) -> u64 {
        u64::try_from(self.0.elapsed().as_millis()).unwrap_or(u64::MAX)
    }
}

/// A whole file, if it is not larger than [`FILE_BYTES_AT_MOST`].
///
/// # Errors
/// When it cannot be opened or read, is a folder, or is too large.
#[allow(clippy::disallowed_methods, reason = "cards and programs are the sender's files")]
pub fn file(path: &Path) -> std::io::Result<Vec<u8>> {
    let file = std::fs::File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(std::io::Error::new(std::io::ErrorKind::IsADirectory, "it is a folder, not a file"));
    }
    let mut bytes = Vec::new();
    file.take(FILE_BYTES_AT_MOST + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > FILE_BYTES_AT_MOST {
        return Err(std::io::Error::new(
            std::io::ErrorKind::FileTooLarge,
            format!("it is larger than {} MiB", FILE_BYTES_AT_MOST / (1024 * 1024)),
        ));
    }
    Ok(bytes)
}

/// Writes a file whole.
///
/// # Errors
/// When the disk or the folder says no.
#[allow(clippy::disallowed_methods, reason = "the practice shop's own files, in its own folder")]
pub fn write_file(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    std::fs::write(path, bytes)
}

/// Writes a file that is not there yet.
///
/// # Errors
/// When it is there already, or the disk or the folder says no.
pub fn write_new_file(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    let mut file = std::fs::OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(bytes)
}

/// A file to be written from its begin, for nobody else to read.
///
/// # Errors
/// When the disk or the folder says no.
pub fn new_file(path: &Path) -> std::io::Result<std::fs::File> {
    std::fs::OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(path)
}

/// The first bytes of a file, as many as there are.
///
/// # Errors
/// When it cannot be opened or read.
#[allow(clippy::disallowed_methods, reason = "looks at what would be written over")]
pub fn first_bytes(path: &Path, most: u64) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Names made or changed in a file's folder are on the disk after that.
///
/// # Errors
/// When the disk says no.
#[allow(clippy::disallowed_methods, reason = "a folder is opened to be synced")]
pub fn sync_folder(file: &Path) -> std::io::Result<()> {
    let folder = file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    std::fs::File::open(folder)?.sync_all()
}

/// Whether a person can be asked: stdin and stderr are a terminal.
#[must_use]
pub fn is_somebody_there() -> bool {
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}

/// One line a person types; nothing when there is no more to come.
///
/// # Errors
/// When stdin cannot be read.
pub fn typed_line() -> std::io::Result<Option<String>> {
    let mut line = String::new();
    let read = std::io::stdin().lock().take(TYPED_AT_MOST).read_line(&mut line)?;
    Ok((read > 0).then(|| line.trim().to_owned()))
}

/// One line that a person types and nobody may read over their shoulder: a mark for each sign. Without a terminal it is
/// a line of stdin. Nothing when it was given up, or there is no more to come.
///
/// # Errors
/// When stdin cannot be read.
pub fn secret_line(question: &str) -> std::io::Result<Option<String>> {
    use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};
    if !is_somebody_there() {
        return typed_line();
    }
    let stdin = std::io::stdin();
    let before = tcgetattr(&stdin)?;
    let mut unseen = before.clone();
    // its keys come one by one, the one that interrupts among them, so that the terminal is never left blind
    unseen.local_modes.remove(LocalModes::ECHO | LocalModes::ICANON | LocalModes::ISIG);
    eprint!("{question}");
    let _ = std::io::stderr().flush();
    tcsetattr(&stdin, OptionalActions::Flush, &unseen)?;
    let typed = unseen_keys();
    tcsetattr(&stdin, OptionalActions::Flush, &before)?;
    eprintln!();
    typed
}

fn unseen_keys() -> std::io::Result<Option<String>> {
    const INTERRUPT: u8 = 3;
    const END: u8 = 4;
    const BACK: [u8; 2] = [8, 127];
    let mut typed = Vec::new();
    for byte in std::io::stdin().lock().bytes() {
        match byte? {
            b'\n' | b'\r' => return Ok(Some(String::from_utf8_lossy(&typed).into_owned())),
            INTERRUPT | END => return Ok(None),
            key if BACK.contains(&key) => {
                if typed.pop().is_some() {
                    eprint!("\u{8} \u{8}");
                }
            }
            key => {
                typed.push(key);
                eprint!("#");
            }
        }
        let _ = std::io::stderr().flush();
    }
    Ok(None)
}

/// A fresh id for a command, so that a repeated one gets the first answer.
#[must_use]
#[allow(clippy::disallowed_methods, reason = "ids of commands are chance, and made here only")]
pub fn command_id() -> CommandId {
    let mut bytes = [0u8; 16];
    if getrandom::fill(&mut bytes).is_err() {
        // Without a source of chance the process and its clocks still tell two commands apart.
        let spare = u128::from(std::process::id()) << 96
            ^ u128::from(utc_now().timestamp_nanos_opt().unwrap_or_default().unsigned_abs());
        bytes = spare.to_be_bytes();
    }
    CommandId(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn command_ids_differ() {
        let (a, b) = (command_id(), command_id());
        assert_ne!(a, b);
        assert_eq!(a.0.len(), 32);
    }

    #[test]
    fn a_folder_is_no_file() {
        let folder = tempfile::tempdir().unwrap();
        assert!(file(folder.path()).is_err());
        assert!(file(&folder.path().join("none")).is_err());
    }
}
