//! The daemon of the practice shop as a child of this program.
//!
//! May live here: finding, starting, awaiting and ending it. May not: talking to it beyond "are you there".

use super::DemoFault;
use crate::client::Api;
use crate::outside::{self, Stopwatch};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::OpenOptions;
use std::io;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::Duration;

/// The program's name.
const PROGRAM: &str = "chargehand-daemon";
/// It is asked this often whether it is there.
const ASK_EVERY: Duration = Duration::from_millis(100);
/// So long it may take to come up, and to end.
const PATIENCE_MS: u64 = 30_000;
/// So much of what it wrote is told when it fails.
const SAID_LINES: usize = 20;

/// The daemon's program: beside this one, else by the system's search path.
#[must_use]
pub fn program() -> PathBuf {
    let beside = std::env::current_exe().ok().and_then(|own| Some(own.parent()?.join(PROGRAM)));
    beside.filter(|p| p.is_file()).unwrap_or_else(|| PathBuf::from(PROGRAM))
}

/// A running daemon; it is ended with this value.
#[derive(Debug)]
pub struct Running {
    child: Child,
    log: PathBuf,
}

impl Running {
    /// Starts it on a laid-out folder and waits until it answers.
    ///
    /// # Errors
    /// When it cannot be run, ends at once, or does not answer in time.
    pub async fn start(folder: &Path, socket: &Path, api: &Api) -> Result<Self, DemoFault> {
        let log = folder.join("daemon.log");
        let program = program();
        let child = spawn(&program, folder, socket, &log)
            .map_err(|error| DemoFault::Program { program: program.clone(), error })?;
        let mut running = Self { child, log };
        let watch = Stopwatch::start();
        loop {
            if api.now().await.is_ok() {
                return Ok(running);
            }
            if let Ok(Some(status)) = running.child.try_wait() {
                return Err(running.failed(format!("ended at once ({status})")));
            }
            if watch.ms() > PATIENCE_MS {
                return Err(running.failed("does not answer".to_owned()));
            }
            tokio::time::sleep(ASK_EVERY).await;
        }
    }

    fn failed(&self, what: String) -> DemoFault {
        let bytes = outside::file(&self.log).unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes);
        let lines: Vec<&str> = text.lines().collect();
        let from = lines.len().saturating_sub(SAID_LINES);
        let said = lines.get(from..).unwrap_or_default().join("\n");
        DemoFault::Daemon { what, said }
    }

    /// Asks it to end and waits; it is ended hard only when it does not.
    pub async fn end(&mut self) -> Option<ExitStatus> {
        self.ask_to_end();
        let watch = Stopwatch::start();
        while watch.ms() < PATIENCE_MS {
            if let Ok(Some(status)) = self.child.try_wait() {
                return Some(status);
            }
            tokio::time::sleep(ASK_EVERY).await;
        }
        self.child.kill().ok()?;
        self.child.wait().ok()
    }

    fn ask_to_end(&self) {
        if let Some(pid) = i32::try_from(self.child.id()).ok().and_then(Pid::from_raw) {
            // it may have ended by itself
            let _ = kill_process(pid, Signal::TERM);
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if let Ok(None) = self.child.try_wait() {
            self.ask_to_end();
        }
    }
}

fn spawn(program: &Path, folder: &Path, socket: &Path, log: &Path) -> io::Result<Child> {
    let log = OpenOptions::new().create(true).append(true).open(log)?;
    Command::new(program)
        .arg("--config")
        .arg(folder.join("daemon.toml"))
        .arg("--store")
        .arg(folder.join("store"))
        .arg("--socket")
        .arg(socket)
        .stdin(Stdio::null())
        .stdout(log.try_clone()?)
        .stderr(log)
        // a key that interrupts this program must not end the daemon before it was asked
        .process_group(0)
        .spawn()
}
