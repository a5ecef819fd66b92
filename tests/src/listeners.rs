//! Whoever listens to a daemon at work: terminals on pseudo-terminals, a page on a phone, a reader of machine states, a
//! message broker. For measuring what they cost it.
//!
//! May live here: starting them and reading what the system counted. May not: judging a figure.

use crate::http;
use crate::workshop::command_line;
use nix::time::{clock_getcpuclockid, clock_gettime};
use nix::unistd::Pid;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread::{sleep, spawn};
use std::time::Duration;

/// The page looks again no oftener than this, as its script does.
const PAGE_EVERY: Duration = Duration::from_secs(2);

/// A process that ends with this value.
pub struct Beside(pub Child);

impl Drop for Beside {
    fn drop(&mut self) {
        // our own child
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A port of this computer that nobody listens on.
#[must_use]
pub fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// A broker, where one is installed.
#[must_use]
pub fn mosquitto(port: u16) -> Option<Beside> {
    let program = ["/usr/sbin/mosquitto", "/usr/bin/mosquitto"].into_iter().find(|p| Path::new(p).exists())?;
    let mut command = Command::new(program);
    command.args(["-p", &port.to_string()]).stdout(Stdio::null()).stderr(Stdio::null());
    Some(Beside(command.spawn().unwrap()))
}

/// Seconds of a core that a process's threads have used, those that have ended with them (the process's own clock of
/// clock_getcpuclockid(3)). The hundredths of proc(5)'s stat are counted by who is there when the clock ticks: who wakes by
/// that clock is there far too often; and its list of threads has none that ended, as those do that wait for work in vain.
#[must_use]
pub fn core_seconds(pid: u32) -> f64 {
    let pid = Pid::from_raw(pid.try_into().unwrap());
    let spent = clock_gettime(clock_getcpuclockid(pid).unwrap()).unwrap();
    spent.tv_sec() as f64 + spent.tv_nsec() as f64 * 1.0e-9
}

/// Terminals, a page and a reader that listen until this is dropped.
pub struct Listeners {
    /// The terminals' processes.
    pub terminals: Vec<Beside>,
    /// Bytes that were heard, whoever heard them.
    pub heard: Arc<AtomicUsize>,
    over: Arc<AtomicBool>,
}

impl Listeners {
    /// So many terminals, one page and one reader of machine states, of the daemon at a socket and its adapter's port.
    #[must_use]
    pub fn start(socket: &Path, terminals: usize, adapter: u16) -> Self {
        let (heard, over) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
        let terminals = (0..terminals).map(|_| terminal(socket, &heard)).collect();
        let this = Self { terminals, heard, over };
        this.page(socket.to_owned());
        let reader = TcpStream::connect(("127.0.0.1", adapter)).unwrap();
        this.count(reader);
        this
    }

    fn count(&self, mut from: impl Read + Send + 'static) {
        let (heard, over) = (Arc::clone(&self.heard), Arc::clone(&self.over));
        spawn(move || {
            let mut piece = [0; 4096];
            while !over.load(Ordering::Relaxed) {
                match from.read(&mut piece) {
                    Ok(read) if read > 0 => heard.fetch_add(read, Ordering::Relaxed),
                    _ => return,
                };
            }
        });
    }

    fn page(&self, socket: PathBuf) {
        let stream = std::os::unix::net::UnixStream::connect(&socket).unwrap();
        (&stream).write_all(b"GET /v1/events HTTP/1.1\r\nhost: x\r\n\r\n").unwrap();
        self.count(stream);
        let over = Arc::clone(&self.over);
        spawn(move || {
            while !over.load(Ordering::Relaxed) {
                let _ = http::send(&socket, "GET", "/", &[], None).and_then(http::Opened::whole);
                sleep(PAGE_EVERY);
            }
        });
    }
}

impl Drop for Listeners {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
    }
}

/// The real program with its screens, on a pseudo-terminal that somebody reads.
fn terminal(socket: &Path, heard: &Arc<AtomicUsize>) -> Beside {
    let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&end).unwrap();
    unlockpt(&end).unwrap();
    let size = Winsize { ws_row: 40, ws_col: 120, ws_xpixel: 0, ws_ypixel: 0 };
    tcsetwinsize(&end, size).unwrap();
    let name = ptsname(&end, Vec::new()).unwrap().into_string().unwrap();
    let other = || std::fs::File::options().read(true).write(true).open(&name).unwrap();
    let mut command = Command::new(command_line());
    command.arg("--socket").arg(socket).env("TERM", "xterm-256color").stdin(other()).stdout(other()).stderr(other());
    let child = command.spawn().unwrap();
    let (mut from, heard) = (std::fs::File::from(end), Arc::clone(heard));
    spawn(move || {
        let mut piece = [0; 4096];
        while let Ok(read) = from.read(&mut piece) {
            heard.fetch_add(read, Ordering::Relaxed);
        }
    });
    Beside(child)
}
