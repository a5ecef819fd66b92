//! The terminal's program on a pseudo-terminal: keys go in, what a person would see comes out.
//!
//! May live here: the pseudo-terminal, the picture on it, its modes. May not: what is done about what is seen.

use crate::workshop::command_line;
use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, ioctl_tiocgptpeer, openpt, unlockpt};
use rustix::termios::{Termios, Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{Read, Write};
use std::num::NonZero;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Whatever is waited for comes within this.
const WITHIN: Duration = Duration::from_secs(60);
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// A program on a pseudo-terminal.
pub struct Screen {
    master: File,
    line: File,
    picture: Arc<Mutex<vt100::Parser>>,
    bytes: Arc<AtomicU64>,
    before: Termios,
    child: Child,
}

impl Screen {
    /// The terminal at the machine, for the daemon of a socket.
    #[must_use]
    pub fn open(socket: &Path, wide: u16, high: u16) -> Self {
        let mut command = Command::new(command_line());
        command.arg("--socket").arg(socket);
        Self::run(command, wide, high)
    }

    /// Any program.
    #[must_use]
    pub fn run(mut command: Command, wide: u16, high: u16) -> Self {
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
        let master = openpt(flags).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let line = File::from(ioctl_tiocgptpeer(&master, flags).unwrap());
        tcsetwinsize(&line, Winsize { ws_row: high, ws_col: wide, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
        let before = tcgetattr(&line).unwrap();
        let end = || Stdio::from(line.try_clone().unwrap());
        let child = command
            .env("TERM", "xterm-256color")
            .env("LC_ALL", "C.UTF-8")
            .env_remove("NO_COLOR")
            .env_remove("RUST_BACKTRACE")
            .env_remove("CHARGEHAND_LANGUAGE")
            .env_remove("CHARGEHAND_SYMBOLS")
            .env_remove("CHARGEHAND_UNITS")
            .stdin(end())
            .stdout(end())
            .stderr(end())
            .spawn()
            .unwrap();
        let picture = Arc::new(Mutex::new(vt100::Parser::new(cells(high), cells(wide), 0)));
        let bytes = Arc::new(AtomicU64::new(0));
        let master = File::from(master);
        let (mut from, seen, count) = (master.try_clone().unwrap(), Arc::clone(&picture), Arc::clone(&bytes));
        std::thread::spawn(move || {
            let mut chunk = [0; 4096];
            while let Ok(read) = from.read(&mut chunk) {
                if read == 0 {
                    return;
                }
                count.fetch_add(read as u64, Ordering::Relaxed);
                seen.lock().unwrap().process(&chunk[..read]);
            }
        });
        Self { master, line, picture, bytes, before, child }
    }

    /// What stands on it, line by line.
    #[must_use]
    pub fn text(&self) -> String {
        self.picture.lock().unwrap().screen().contents()
    }

    /// Bytes drawn so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes.load(Ordering::Relaxed)
    }

    /// Keys, as the terminal sends them.
    pub fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    /// Waits until a text stands on it.
    pub fn until(&self, what: &str) {
        self.until_so(what, |text| text.contains(what));
    }

    /// Waits until what stands on it is so.
    pub fn until_so(&self, what: &str, so: impl Fn(&str) -> bool) {
        let begun = Instant::now();
        while !so(&self.text()) {
            assert!(begun.elapsed() < WITHIN, "never came: {what}\n{}", self.text());
            sleep(LOOK_EVERY);
        }
    }

    /// Sends a signal to the program.
    pub fn signal(&self, signal: Signal) {
        let pid = i32::try_from(self.child.id()).ok().and_then(Pid::from_raw).unwrap();
        kill_process(pid, signal).unwrap();
    }

    /// Its process.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Waits until the program has ended.
    pub fn ended(&mut self) -> ExitStatus {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                // what it wrote last is read too
                sleep(LOOK_EVERY * 5);
                return status;
            }
            assert!(begun.elapsed() < WITHIN, "it did not end\n{}", self.text());
            sleep(LOOK_EVERY);
        }
    }

    /// The line's modes were changed by the program.
    #[must_use]
    pub fn is_raw(&self) -> bool {
        tcgetattr(&self.line).unwrap().local_modes != self.before.local_modes
    }

    /// The line is as it was before the program ran, the first screen is back and the cursor is seen.
    pub fn assert_restored(&self) {
        let now = tcgetattr(&self.line).unwrap();
        assert_eq!(now.local_modes, self.before.local_modes, "what is typed is echoed and read by lines again");
        assert_eq!(now.input_modes, self.before.input_modes);
        assert_eq!(now.output_modes, self.before.output_modes);
        assert_eq!(now.control_modes, self.before.control_modes);
        let picture = self.picture.lock().unwrap();
        assert!(!picture.screen().alternate_screen(), "the first screen is back");
        assert!(!picture.screen().hide_cursor(), "the cursor is seen again");
    }
}

/// A window has a cell at least.
fn cells(number: u16) -> NonZero<u16> {
    NonZero::new(number).unwrap_or(NonZero::<u16>::MIN)
}

impl Drop for Screen {
    fn drop(&mut self) {
        // our own child; ended already in most tests
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
