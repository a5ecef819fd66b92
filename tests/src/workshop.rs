//! A workshop in a folder of its own: config, cards, store, socket, and the real daemon as a process that can be
//! ended, killed and started again.
//!
//! May live here: files and processes. May not: anything that is said over the socket but "are you there".

use crate::client::{Client, Token};
use chargehand_daemon::app::MachineClock;
use chargehand_daemon::practice::Setup;
use chargehand_daemon::simulator::Simulator;
use rustix::process::{Pid, Signal, kill_process};
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::sync::{Arc, OnceLock};
use std::thread::sleep;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A daemon must answer, or end, within this.
const WITHIN: Duration = Duration::from_secs(30);
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// The card of the short programs.
pub const CARD: &str = "label-board";

/// The repository's root.
#[must_use]
pub fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The daemon's binary, built once a run with the profile that this test was built with.
#[must_use]
pub fn daemon() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| built("chargehand-daemon"))
}

/// The command line's binary, likewise.
#[must_use]
pub fn command_line() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| built("chargehand"))
}

fn built(program: &str) -> PathBuf {
    let here = std::env::current_exe().expect("a test knows where it lies");
    // target/PROFILE/deps/NAME for a test, target/PROFILE/NAME for a program
    let folder = here.parent().expect("a program lies in a folder");
    let profile = if folder.ends_with("deps") { folder.parent().expect("deps lies in a profile") } else { folder };
    let target = profile.parent().expect("a profile lies in target");
    let name = profile.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    // cargo told this test of its package; a library whose build reads that would be built anew for it, and anew after it
    let of_package = |key: &str| key.starts_with("CARGO_PKG_") || key.starts_with("CARGO_MANIFEST_");
    let mut command = Command::new(cargo);
    for (key, _) in std::env::vars().filter(|(key, _)| of_package(key)) {
        command.env_remove(key);
    }
    let status = command
        .current_dir(repository())
        // of the whole workspace: a package by itself has other features of its libraries, and all is built once more
        .args(["build", "--quiet", "--workspace", "--bin", program])
        .args(["--profile", if name == "debug" { "dev" } else { &name }])
        .arg("--target-dir")
        .arg(target)
        .status()
        .expect("cargo can be run");
    assert!(status.success(), "{program} builds");
    profile.join(program)
}

/// A kind controller on a port of its own, at real speed; the demo's machine.
#[must_use]
pub fn controller() -> Simulator {
    let setup = Setup {
        rates: [133.0, 133.0, 50.0],
        accelerations: [400.0, 400.0, 200.0],
        deviation: 0.02,
        travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
        baud: 115_200,
        faults: Vec::new(),
    };
    Simulator::start(setup, Arc::new(MachineClock::starting(1.0))).expect("the system gives a pseudo-terminal")
}

/// A workshop.
pub struct Workshop {
    folder: TempDir,
    running: Option<Child>,
    starts: u32,
    first: Option<PathBuf>,
}

impl Workshop {
    /// The demo's shop with our short card beside it: a practice machine at a rate of machine seconds to a real one,
    /// and a scripted operator let in.
    #[must_use]
    pub fn new(rate: f64) -> Self {
        let folder = tempfile::Builder::new().prefix("workshop-").tempdir().expect("a folder can be made");
        copy(&repository().join("config/demo"), folder.path());
        copy(&repository().join("tests/cases-own").join(CARD), folder.path());
        let shop = Self { folder, running: None, starts: 0, first: None };
        shop.edit("daemon.toml", |text| {
            text.replace("rate = 20.0", &format!("rate = {rate:?}")) + "\n[bench]\nscripted_operator = true\n"
        });
        shop
    }

    /// The same shop for a daemon at a real port, whose time is the real one: nobody waits long for a spindle.
    #[must_use]
    pub fn at_real_time() -> Self {
        let shop = Self::new(1.0);
        shop.edit("daemon.toml", |text| text.replace("run_down_s = 12.0", "run_down_s = 1.0"));
        shop
    }

    /// Programs that the daemon calls are looked for in this folder before anywhere else.
    pub fn look_first_in(&mut self, folder: PathBuf) {
        self.first = Some(folder);
    }

    /// A file of it.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Changes a file of it; it must come out changed.
    pub fn edit(&self, name: &str, change: impl FnOnce(String) -> String) {
        let text = std::fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        let new = change(text.clone());
        assert_ne!(text, new, "{name} was changed");
        self.write(name, new.as_bytes());
    }

    /// Writes a file of it.
    pub fn write(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path(name), bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
    }

    /// Its card of the short programs.
    #[must_use]
    pub fn card(&self) -> PathBuf {
        self.path("label-board.card.toml")
    }

    /// The daemon's socket.
    #[must_use]
    pub fn socket(&self) -> PathBuf {
        self.path("run/daemon.sock")
    }

    /// The daemon's command line, with more arguments.
    #[must_use]
    pub fn command(&self, more: &[&str]) -> Command {
        let mut command = Command::new(daemon());
        command.arg("--config").arg(self.path("daemon.toml"));
        if !more.contains(&"--store") {
            command.arg("--store").arg(self.path("store"));
        }
        if !more.contains(&"--socket") {
            command.arg("--socket").arg(self.socket());
        }
        if let Some(first) = &self.first {
            command.env("PATH", format!("{}:{}", first.display(), std::env::var("PATH").unwrap_or_default()));
        }
        command.args(more).stdin(Stdio::null());
        command
    }

    /// Runs a daemon that is to end by itself, to its end.
    #[must_use]
    pub fn run_to_end(&self, more: &[&str]) -> Ended {
        let mut child = self
            .command(more)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the daemon can be started");
        if wait(&mut child).is_none() {
            // it is our own child and is waited for below
            let _ = child.kill();
        }
        let output = child.wait_with_output().expect("a child can be waited for");
        Ended::of(&output)
    }

    /// Runs the command line in a folder, against this workshop's daemon, to its end. Nobody is at its terminal.
    #[must_use]
    pub fn says(&self, folder: &Path, arguments: &[&str]) -> Ended {
        let mut command = Command::new(command_line());
        command.current_dir(folder).arg("--socket").arg(self.socket()).args(arguments).stdin(Stdio::null());
        Ended::of(&command.output().expect("the command line can be run"))
    }

    /// As [`Workshop::says`], with lines on its stdin.
    #[must_use]
    pub fn says_typing(&self, arguments: &[&str], typed: &str) -> Ended {
        let mut command = Command::new(command_line());
        command.current_dir(self.folder.path()).arg("--socket").arg(self.socket()).args(arguments);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the command line can be run");
        let mut stdin = child.stdin.take().expect("its stdin is a pipe");
        // whoever reads nothing of it has ended already
        let _ = stdin.write_all(typed.as_bytes());
        drop(stdin);
        Ended::of(&child.wait_with_output().expect("a child can be waited for"))
    }

    /// Every file below a folder of it whose bytes hold a text.
    #[must_use]
    pub fn files_holding(&self, text: &str) -> Vec<PathBuf> {
        let mut found = Vec::new();
        let mut folders = vec![self.folder.path().to_path_buf()];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(&folder).expect("a folder can be read").flatten() {
                let path = entry.path();
                if path.is_dir() {
                    folders.push(path);
                } else if path.is_file() {
                    let bytes = std::fs::read(&path).unwrap_or_default();
                    if bytes.windows(text.len()).any(|w| w == text.as_bytes()) {
                        found.push(path);
                    }
                }
            }
        }
        found
    }

    /// Starts the daemon and waits until it answers.
    pub fn start(&mut self) -> Client {
        self.start_with(&[])
    }

    /// Starts the daemon with more arguments and waits until it answers.
    pub fn start_with(&mut self, more: &[&str]) -> Client {
        self.begin(more);
        self.answered()
    }

    /// Starts the daemon with more arguments and waits for nothing.
    pub fn begin(&mut self, more: &[&str]) {
        assert!(self.running.is_none(), "one daemon at a time");
        self.starts += 1;
        let log = File::create(self.path(&format!("log-{}", self.starts))).expect("a log can be written");
        let child = self
            .command(more)
            .env("RUST_LOG", "info")
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .expect("the daemon can be started");
        self.running = Some(child);
    }

    /// Waits until the daemon that was started answers.
    pub fn answered(&mut self) -> Client {
        let begun = Instant::now();
        loop {
            if let Some(client) = self.answers() {
                return client;
            }
            let ended = self.running.as_mut().and_then(|c| c.try_wait().ok().flatten());
            assert!(ended.is_none(), "the daemon ended: {ended:?}\n{}", self.log());
            assert!(begun.elapsed() < WITHIN, "the daemon does not answer\n{}", self.log());
            sleep(LOOK_EVERY);
        }
    }

    /// Waits until the daemon that was started answers, or has ended by itself; none then.
    pub fn answers_or_ends(&mut self) -> Option<Client> {
        let begun = Instant::now();
        while begun.elapsed() < WITHIN {
            if let Some(client) = self.answers() {
                return Some(client);
            }
            let child = self.running.as_mut().expect("a daemon was started");
            if child.try_wait().expect("a child can be asked").is_some() {
                self.running = None;
                return None;
            }
            sleep(LOOK_EVERY);
        }
        panic!("the daemon neither answers nor ends\n{}", self.log());
    }

    fn answers(&self) -> Option<Client> {
        let asked = crate::http::send(&self.socket(), "GET", "/v1/now", &[], None).ok()?;
        let there = asked.status == 200 && asked.whole().is_ok();
        let client = Client::at(&self.socket()).ok().filter(|_| there)?;
        client.ask("GET", "/v1/now", None, Token::Shown).ok().map(|_| client)
    }

    /// What the last daemon wrote to its log.
    #[must_use]
    pub fn log(&self) -> String {
        std::fs::read_to_string(self.path(&format!("log-{}", self.starts))).unwrap_or_default()
    }

    fn signal(&self, signal: Signal) {
        let child = self.running.as_ref().expect("a daemon runs");
        let pid = i32::try_from(child.id()).ok().and_then(Pid::from_raw).expect("a process has a number");
        kill_process(pid, signal).expect("our own child can be signalled");
    }

    /// The running daemon's process.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.running.as_ref().expect("a daemon runs").id()
    }

    /// Kills the daemon: it is gone from one instruction to the next.
    pub fn kill(&mut self) {
        self.signal(Signal::KILL);
        let mut child = self.running.take().expect("a daemon runs");
        child.wait().expect("a child can be waited for");
    }

    /// Stops the daemon where it is: it does nothing more until it is killed.
    pub fn freeze(&self) {
        self.signal(Signal::STOP);
    }

    /// Asks the daemon to end, and waits until it has.
    pub fn end(&mut self) -> ExitStatus {
        self.signal(Signal::TERM);
        let mut child = self.running.take().expect("a daemon runs");
        if let Some(status) = wait(&mut child) {
            return status;
        }
        let _ = child.kill();
        panic!("the daemon did not end when it was asked to\n{}", self.log());
    }
}

impl Drop for Workshop {
    fn drop(&mut self) {
        if let Some(mut child) = self.running.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
        if std::thread::panicking() {
            eprintln!("the daemon's log:\n{}", self.log());
        }
    }
}

fn wait(child: &mut Child) -> Option<ExitStatus> {
    let begun = Instant::now();
    while begun.elapsed() < WITHIN {
        if let Some(status) = child.try_wait().expect("a child can be asked") {
            return Some(status);
        }
        sleep(LOOK_EVERY);
    }
    None
}

pub(crate) fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).unwrap_or_else(|e| panic!("{}: {e}", from.display())) {
        let path = entry.expect("a folder can be read").path();
        if path.is_file() {
            std::fs::copy(&path, to.join(path.file_name().unwrap_or_default())).expect("a file can be copied");
        }
    }
}

/// How a daemon ended by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ended {
    /// Its exit code; none when a signal ended it.
    pub code: Option<i32>,
    /// What it said on stdout.
    pub said: String,
    /// What it complained of on stderr.
    pub complained: String,
}

impl Ended {
    fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        Self { code: output.status.code(), said: text(&output.stdout), complained: text(&output.stderr) }
    }

    /// It ended with a code, and all of these words are in what it complained of.
    pub fn refused(&self, code: i32, words: &[&str]) {
        assert_eq!(self.code, Some(code), "{self:?}");
        for word in words {
            assert!(self.complained.contains(word), "{word:?} is not in: {}", self.complained);
        }
        assert!(!self.complained.contains("panicked"), "{}", self.complained);
    }
}
