//! The command blocks of README.md, DEVELOPERS.md and the crates' docs, run as a person would type them: in a home of
//! their own, with the built programs, against a practice shop's daemon. What cannot be run is listed with its reason,
//! and what ends otherwise than well with how it ends.

use chargehand_daemon::simulator::Simulator;
use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, command_line, controller, daemon, repository};
use chargehand_types::act::Act;
use std::io::Write;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

const SOON: Duration = Duration::from_secs(60);

/// How a command of the docs comes out here.
enum Comes {
    /// It is run and ends well.
    Well,
    /// It is run and ends with this code, saying this: nobody answers its questions here.
    Ends(i32, &'static str),
    /// It goes on until it is interrupted.
    GoesOn,
    /// It opens screens, and is left by their key.
    Screens,
    /// It cannot be run here, for this reason.
    NotHere(&'static str),
}

/// The README's commands that change this computer, build everything, or need what is not here.
const NOT_RUN: &[&str] = &[
    "cargo build --release",
    "cargo test --workspace",
    "cargo install cargo-deb",
    ".ci/package",
    "sudo apt-get install ./target/debian/chargehand_0.1.0-1_amd64.deb",
    "ls -l /dev/serial/by-id/",
    "sudo systemctl enable --now chargehand",
    "sudo systemctl stop chargehand",
    "sudo mv /var/lib/chargehand/store /var/lib/chargehand/store.old",
    "sudo -u chargehand chargehand restore /media/stick/shop.backup --store /var/lib/chargehand/store",
    "sudo systemctl start chargehand",
    "chargehand --url https://router.local:7443 machine",
];

/// By what a command begins with; the first that fits. All others are run and end well.
const TOLD: &[(&str, Comes)] = &[
    ("cargo build", Comes::NotHere("builds everything; the programs run here were built so")),
    ("cargo test", Comes::NotHere("runs everything; this test is run by it")),
    ("cargo install", Comes::NotHere("installs a program on this computer")),
    ("cargo fuzz", Comes::NotHere("needs the nightly compiler and a program that is installed apart")),
    (".ci/run", Comes::NotHere("runs everything; this test is run by it")),
    (".ci/package", Comes::NotHere("makes the release build; .ci/package-test runs it")),
    ("sudo", Comes::NotHere("needs root, and changes this computer")),
    ("ls -l /dev/serial", Comes::NotHere("needs a controller on a USB port")),
    ("chargehand demo --hands-free", Comes::Well),
    ("chargehand demo", Comes::Screens),
    ("chargehand card new", Comes::Ends(5, "thickness")),
    ("chargehand events", Comes::GoesOn),
    ("chargehand notices desktop", Comes::GoesOn),
    ("chargehand sheet decide", Comes::Ends(4, "Was the red button pressed")),
    ("chargehand machine away", Comes::Ends(4, "Stepping away is not turned on")),
    ("chargehand machine here", Comes::Ends(4, "Nobody is asked now")),
    ("chargehand sheet correct", Comes::Ends(5, "No part 2")),
    ("chargehand bring-in", Comes::Ends(5, "cannot be read")),
    ("chargehand sheet show B12N3", Comes::Ends(5, "There is no sheet B12-3")),
    ("chargehand sheet fit", Comes::Ends(5, "has no joint")),
    ("chargehand lists walk", Comes::Ends(4, "put down at step 1")),
    ("chargehand people pin", Comes::Ends(4, "No PIN was typed")),
    ("chargehand people add", Comes::Ends(4, "No PIN was typed")),
    ("chargehand --url", Comes::NotHere("needs a daemon that serves a network")),
    ("chargehand machine touch", Comes::Ends(4, "does not belong to what is being done")),
];

fn comes(command: &str) -> &'static Comes {
    TOLD.iter().find(|(begins, _)| command.starts_with(begins)).map_or(&Comes::Well, |(_, comes)| comes)
}

/// One block's commands, as they stand.
type Block = Vec<String>;

/// The blocks of a page: what stands between "```sh" and "```", with `\` at an end joined and the comments left out.
/// In a source file, the same within its doc comments.
fn blocks(path: &Path) -> Vec<Block> {
    let text = std::fs::read_to_string(path).unwrap();
    let source = path.extension().is_some_and(|e| e == "rs");
    let uncommented = |line: &'_ str| {
        let line = line.trim();
        if source {
            ["//! ", "/// "].iter().find_map(|c| line.strip_prefix(c)).unwrap_or_default().to_owned()
        } else {
            line.to_owned()
        }
    };
    let text: Vec<String> = text.lines().map(uncommented).collect();
    let (mut all, mut block) = (Vec::new(), None::<Block>);
    for line in text.join("\n").replace("\\\n", " ").lines() {
        match &mut block {
            None if line == "```sh" => block = Some(Vec::new()),
            None => {}
            Some(_) if line.starts_with("```") => all.extend(block.take()),
            Some(lines) => {
                let line = line.split(" #").next().unwrap_or_default();
                lines.extend(line.split("&& ").map(|c| c.trim().to_owned()).filter(|c| !c.is_empty()));
            }
        }
    }
    assert!(block.is_none(), "{}: a block is not closed", path.display());
    all
}

/// Every file of ours with an ending, built ones and outside ones left out.
fn files(ending: &str) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> =
        ["daemon", "terminal", "shared-types", "tests"].iter().map(|f| repository().join(f)).collect();
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for path in std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() && !path.ends_with("target") {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == ending) {
                found.push(path);
            }
        }
    }
    found
}

fn pages() -> Vec<PathBuf> {
    let mut all = vec![repository().join("README.md"), repository().join("DEVELOPERS.md")];
    all.extend(files("md"));
    // this file speaks of blocks and has none
    all.extend(files("rs").into_iter().filter(|p| !p.ends_with("documented.rs")));
    all
}

/// A person's home with a shop in it, whose daemon runs, and a controller on a port.
struct Home {
    shop: Workshop,
    client: Client,
    controller: Simulator,
    behind: Vec<Child>,
}

impl Home {
    fn new() -> Self {
        let mut shop = Workshop::new(10.0);
        shop.edit("daemon.toml", |t| {
            t + "[[product]]\nname = \"boards\"\nparts = { board = 2 }\n[[stock]]\nname = \"ply12\"\nthickness = 12.0\n\
                 material = \"softwood-plywood\"\nsize = [1220.0, 2440.0]\nkerf = 3.2\npieces = [2, 2]\nprice = 48.0\n"
        });
        let folder = shop.path("");
        std::fs::create_dir(folder.join("bin")).unwrap();
        for program in [daemon(), command_line()] {
            symlink(program, folder.join("bin").join(program.file_name().unwrap())).unwrap();
        }
        // no desktop is here; what is shown on one has a test of its own
        symlink("/bin/true", folder.join("bin/notify-send")).unwrap();
        for (own, shown) in [("label-board-slots.nc", "slots.nc"), ("label-board-outlines.nc", "outlines.nc")] {
            std::fs::copy(shop.path(own), shop.path(shown)).unwrap();
        }
        let client = shop.start();
        Self { shop, client, controller: controller(), behind: Vec::new() }
    }

    /// What stands for something of the reader's own, put in.
    fn filled(&self, command: &str) -> String {
        let socket = self.shop.socket().display().to_string();
        let settings = self.shop.path("daemon.toml").display().to_string();
        let shipped = repository().join("config").display().to_string() + "/";
        let pairs = [
            ("target/release/", ""),
            ("CARD.card.toml", "label-board.card.toml"),
            ("--who NAME", "--who Solveig"),
            ("--product NAME", "--product boards"),
            ("stock count NAME", "stock count ply12"),
            ("card new NAME", "card new drafted"),
            ("NAME", CARD),
            ("/media/stick/", ""),
            ("PORT", self.controller.path()),
            ("/dev/ttyUSB0", self.controller.path()),
            ("/run/chargehand/chargehand.sock", &socket),
            ("/etc/chargehand/daemon.toml", &settings),
            ("/usr/share/doc/chargehand/", &shipped),
        ];
        pairs.iter().fold(command.to_owned(), |text, (shown, own)| text.replace(shown, own))
    }

    /// What has to be so before a command means anything.
    fn prepare(&self, command: &str) {
        if command.starts_with("chargehand card show") {
            self.shop.edit("label-board.card.toml", |t| t.replace("margin = 4.0", "margin = 5.0"));
            self.client.add_card(&self.shop.card()).unwrap();
        }
        if command.starts_with("chargehand machine hold") {
            let mut operator = Operator::owner(&self.client);
            operator.sign_in();
            operator.walk_into_cut();
        }
        if command.starts_with("chargehand sheet decide") {
            self.client.act(Act::Stop).unwrap();
        }
    }

    fn shell(&self, command: &str) -> Command {
        let mut shell = Command::new("bash");
        let path = std::env::var("PATH").unwrap_or_default();
        shell.args(["-c", command]).current_dir(self.shop.path("")).env("HOME", self.shop.path(""));
        shell.env("PATH", format!("{}:{path}", self.shop.path("bin").display()));
        shell.env("CHARGEHAND_SOCKET", self.shop.socket()).stdin(Stdio::null());
        shell
    }

    /// Runs a command that goes on beside the next ones, and waits for its socket.
    fn beside(&mut self, command: &str) {
        let socket = command.split("--socket ").nth(1).map(|s| s.split_whitespace().next().unwrap()).unwrap();
        let socket = socket.replace('~', &self.shop.path("").display().to_string());
        let child = self.shell(&format!("exec {command}")).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
        self.behind.push(child.unwrap());
        let begun = Instant::now();
        while std::os::unix::net::UnixStream::connect(&socket).is_err() {
            assert!(begun.elapsed() < SOON, "{command}: nobody listens at {socket}");
            sleep(Duration::from_millis(20));
        }
    }

    /// Opens a command's screens on a terminal, and leaves them by their key.
    fn screens(&self, command: &str) {
        let typed = self.shop.path("typescript");
        let mut script = self.shell(&format!("exec script -qefc '{command}' {}", typed.display()));
        let mut child = script.stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
        let mut keys = child.stdin.take().unwrap();
        let begun = Instant::now();
        // the screens stand where a terminal keeps no lines: they are there once that was asked for
        while !std::fs::read_to_string(&typed).unwrap_or_default().contains("\u{1b}[?1049h") {
            assert!(begun.elapsed() < SOON, "{command}: no screen");
            sleep(Duration::from_millis(50));
        }
        keys.write_all(b"q").unwrap();
        drop(keys);
        assert!(child.wait().unwrap().success(), "{command}: {}", std::fs::read_to_string(&typed).unwrap_or_default());
    }

    fn run(&mut self, command: &str) -> Came {
        let comes = comes(&command.replace("target/release/", ""));
        let filled = self.filled(command);
        self.prepare(&filled);
        match comes {
            Comes::NotHere(why) => return Came::NotRun(why),
            Comes::Screens if !Path::new("/usr/bin/script").exists() => {
                return Came::NotRun("script(1) is not installed");
            }
            Comes::Screens => self.screens(&filled),
            Comes::Well if filled.ends_with('&') => self.beside(filled.trim_end_matches('&').trim()),
            Comes::GoesOn => {
                return came(command, &self.shell(&format!("timeout 2 {filled}")).output().unwrap(), 124, "");
            }
            Comes::Well => return came(command, &self.shell(&filled).output().unwrap(), 0, ""),
            Comes::Ends(code, says) => return came(command, &self.shell(&filled).output().unwrap(), *code, says),
        }
        Came::Well
    }
}

impl Drop for Home {
    fn drop(&mut self) {
        for child in &mut self.behind {
            // our own children
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// How a command of the docs came out.
enum Came {
    Well,
    NotRun(&'static str),
    /// What it said instead.
    Otherwise(String),
}

fn came(command: &str, output: &Output, code: i32, says: &str) -> Came {
    let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    if output.status.code() == Some(code) && said.contains(says) {
        Came::Well
    } else {
        Came::Otherwise(format!("{command}: {}: {said}", output.status))
    }
}

/// Runs a page's blocks one after the other in one home; gives how many commands were run, and those that were not.
fn follow(page: &Path, blocks: &[Block]) -> (usize, Vec<String>) {
    let mut home = Home::new();
    let (mut run, mut not, mut otherwise) = (0, Vec::new(), Vec::new());
    for command in blocks.iter().flatten() {
        match home.run(command) {
            Came::Well => run += 1,
            Came::NotRun(why) => {
                println!("not run: {command}: {why}");
                not.push(command.clone());
            }
            Came::Otherwise(said) => otherwise.push(said),
        }
    }
    assert!(otherwise.is_empty(), "{}: {}", page.display(), otherwise.join("\n"));
    println!("{}: {run} commands run, {} not", page.file_name().unwrap().display(), not.len());
    (run, not)
}

#[test]
fn the_readmes_commands_do_what_it_says() {
    let page = repository().join("README.md");
    let (run, not) = follow(&page, &blocks(&page));
    // the screens of the demo are opened where script(1) is there to give them a terminal
    let not: Vec<&str> =
        not.iter().map(String::as_str).filter(|c| !c.starts_with("target/release/chargehand demo")).collect();
    assert_eq!(not, NOT_RUN, "what is not run is named here, and nothing else may be left out");
    assert!(run > 50, "{run}");
}

#[test]
fn the_developers_and_the_crates_commands_do_what_they_say() {
    let mut run = 0;
    for page in pages().iter().skip(1) {
        let blocks = blocks(page);
        if !blocks.is_empty() {
            run += follow(page, &blocks).0;
        }
    }
    assert!(run >= 6, "{run}");
}

/// The programs of this crate that DEVELOPERS.md tells of within its sentences take what it gives them.
#[test]
fn programs_told_within_sentences_take_their_arguments() {
    let programs = [
        ("kills", env!("CARGO_BIN_EXE_kills")),
        ("measure", env!("CARGO_BIN_EXE_measure")),
        ("measure-clearance", env!("CARGO_BIN_EXE_measure-clearance")),
        ("measure-history", env!("CARGO_BIN_EXE_measure-history")),
        ("measure-screen", env!("CARGO_BIN_EXE_measure-screen")),
        ("measure-service", env!("CARGO_BIN_EXE_measure-service")),
        ("plan-instance", env!("CARGO_BIN_EXE_plan-instance")),
        ("power-cuts", env!("CARGO_BIN_EXE_power-cuts")),
        ("run-days", env!("CARGO_BIN_EXE_run-days")),
        ("soak", env!("CARGO_BIN_EXE_soak")),
        ("explore", env!("CARGO_BIN_EXE_explore")),
        ("throw-bytes", env!("CARGO_BIN_EXE_throw-bytes")),
        ("walk-through", env!("CARGO_BIN_EXE_walk-through")),
    ];
    let text = std::fs::read_to_string(repository().join("DEVELOPERS.md")).unwrap();
    let mut told = 0;
    for span in text.split('`').skip(1).step_by(2).filter(|s| s.contains("--bin ")) {
        let words: Vec<&str> = span.split_whitespace().collect();
        let name = words[words.iter().position(|w| *w == "--bin").unwrap() + 1];
        let (_, program) = programs.iter().find(|(n, _)| *n == name).unwrap_or_else(|| panic!("{span}: no program"));
        let help = Command::new(program).arg("--help").output().unwrap();
        let help = String::from_utf8_lossy(&help.stdout).into_owned();
        for word in words.iter().skip_while(|w| **w != "--").skip(1) {
            let option = word.trim_start_matches('[').trim_end_matches(']');
            assert!(!option.starts_with("--") || help.contains(option), "{span}: {option} is not in\n{help}");
        }
        told += 1;
    }
    assert!(told >= 4, "{told}");
}
