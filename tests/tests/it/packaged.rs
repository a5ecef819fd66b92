//! What the package lays down: the service unit, completions, manual pages, settings; and the example files of the docs.

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, command_line, daemon, repository};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn installed(program: &str) -> bool {
    ["/bin", "/usr/bin", "/usr/sbin"].iter().any(|f| Path::new(f).join(program).exists())
}

/// The unit as it is shipped, in a folder, with a program that is installed here in the place of ours.
fn unit(folder: &Path) -> PathBuf {
    let unit = std::fs::read_to_string(repository().join("config/systemd/chargehand.service")).unwrap();
    let manual: Vec<&str> = unit.lines().filter(|l| l.starts_with("Documentation=")).collect();
    assert_eq!(manual, ["Documentation=man:chargehand-daemon(8) man:chargehand(1)"]);
    // the program and the manual are not installed where this test runs
    let unit = unit.replace("/usr/bin/chargehand-daemon", "/bin/true").replace(manual[0], "");
    let path = folder.join("chargehand.service");
    std::fs::write(&path, &unit).unwrap();
    path
}

/// What systemd says against a unit.
fn against(path: &Path) -> Vec<String> {
    let verify = Command::new("systemd-analyze").arg("verify").arg(path).output().unwrap();
    let said = String::from_utf8_lossy(&verify.stderr).into_owned();
    said.lines().filter(|l| l.contains("chargehand.service") || l.contains("one-port")).map(str::to_owned).collect()
}

#[test]
fn the_unit_is_sound_and_guarded() {
    if !installed("systemd-analyze") {
        eprintln!("skipped: systemd-analyze is not installed");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = unit(folder.path());
    assert_eq!(against(&path), [""; 0]);
    let output = Command::new("systemd-analyze").args(["security", "--offline=true"]).arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let last = said.lines().rev().find(|l| l.contains("exposure level")).unwrap_or_default().to_owned();
    println!("{last}");
    let level: f64 = last.split_whitespace().find_map(|w| w.parse().ok()).unwrap();
    // systemd's own scale: below 3 is "OK", 10 is a program without any guard
    assert!(level < 3.0, "{said}");
}

/// The calls of the system that a set of systemd's stands for, or the call itself.
fn calls(name: &str) -> BTreeSet<String> {
    if !name.starts_with('@') {
        return BTreeSet::from([name.to_owned()]);
    }
    let output = Command::new("systemd-analyze").args(["syscall-filter", name]).output().unwrap();
    assert!(output.status.success(), "{name}");
    let said = String::from_utf8(output.stdout).unwrap();
    let names = said.lines().filter_map(|l| l.strip_prefix("    ")).filter(|l| !l.starts_with('#'));
    names.flat_map(calls).collect()
}

/// What the unit lets the daemon call: its lines one after the other, `~` taking away.
fn allowed() -> BTreeSet<String> {
    let unit = std::fs::read_to_string(repository().join("config/systemd/chargehand.service")).unwrap();
    let mut allowed = BTreeSet::new();
    for line in unit.lines().filter_map(|l| l.strip_prefix("SystemCallFilter=")) {
        match line.strip_prefix('~') {
            Some(less) => {
                let less: BTreeSet<String> = less.split(' ').flat_map(calls).collect();
                allowed.retain(|call| !less.contains(call));
            }
            None => allowed.extend(line.split(' ').flat_map(calls)),
        }
    }
    allowed
}

/// The calls in what strace wrote down.
fn traced(path: &Path) -> BTreeSet<String> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    // a thread's number, then the call; a line that tells how an earlier one ended names none
    let call = |line: &str| {
        let (name, _) = line.split_once(' ')?.1.trim_start().split_once('(')?;
        name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_').then(|| name.to_owned())
    };
    text.lines().filter_map(call).collect()
}

/// A filter that forbids a call ends the daemon in the middle of a cut, or takes something from it that nobody misses until
/// it is needed. The kernel's own record of its calls is held against systemd's own sets.
#[test]
fn the_unit_lets_the_daemon_do_all_it_does() {
    if !installed("systemd-analyze") || !installed("strace") {
        eprintln!("skipped: systemd-analyze or strace is not installed");
        return;
    }
    let mut shop = Workshop::new(600.0);
    let (starting, running) = (shop.path("starting"), shop.path("running"));
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o"]).arg(&starting).arg(daemon()).arg("--config").arg(shop.path("daemon.toml"));
    if !command.arg("--check").stderr(Stdio::null()).status().is_ok_and(|s| s.success()) {
        eprintln!("skipped: this system lets nobody look on");
        return;
    }
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut looking = Command::new("strace")
        .args(["-f", "-qq", "-p", &shop.pid().to_string(), "-o"])
        .arg(&running)
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let _ = Operator::owner(&client).walk_sheets(1);
    assert!(shop.end().success());
    looking.wait().unwrap();
    let (starting, running, allowed) = (traced(&starting), traced(&running), allowed());
    assert!(starting.contains("openat") && running.contains("writev"), "{starting:?} {running:?}");
    let forbidden: Vec<&String> = starting.union(&running).filter(|call| !allowed.contains(*call)).collect();
    assert!(forbidden.is_empty(), "the unit forbids {forbidden:?}");
    // and what is set aside for people's rights and the machine's clock stays forbidden
    assert!(
        !allowed.contains("ptrace") && !allowed.contains("settimeofday") && !allowed.contains("sched_setscheduler")
    );
}

#[test]
fn the_unit_can_be_narrowed_to_one_port() {
    let narrow = std::fs::read_to_string(repository().join("config/systemd/one-port.conf")).unwrap();
    let set: Vec<&str> = narrow.lines().filter(|l| !l.starts_with('#')).collect();
    assert_eq!(set, ["[Service]", "SupplementaryGroups="], "out of the group of all ports, and nothing else changed");
    let rules = std::fs::read_to_string(repository().join("config/udev/60-chargehand.rules")).unwrap();
    let own = rules.lines().last().unwrap();
    assert!(own.contains("SYMLINK+=\"router\"") && own.contains("GROUP=\"chargehand\""), "{own}");
    if !installed("systemd-analyze") {
        eprintln!("not read by systemd, which is not installed");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = unit(folder.path());
    let beside = folder.path().join("chargehand.service.d");
    std::fs::create_dir(&beside).unwrap();
    std::fs::write(beside.join("one-port.conf"), &narrow).unwrap();
    assert_eq!(against(&path), [""; 0]);
    // a word that systemd does not know would be told: the file beside the unit is really read
    std::fs::write(beside.join("one-port.conf"), narrow.replace("SupplementaryGroups", "SuplementaryGroups")).unwrap();
    assert!(against(&path).iter().any(|l| l.contains("SuplementaryGroups")));
}

#[test]
fn shells_take_the_completions_and_every_verb_has_its_page() {
    let shop = Workshop::new(20.0);
    let folder = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish"] {
        let made = shop.says(folder.path(), &["completions", shell]);
        assert_eq!(made.code, Some(0));
        assert!(made.said.contains("holddown") && made.said.contains("notices"), "{shell}");
        let output = Command::new(daemon()).args(["--completions", shell]).output().unwrap();
        let daemons = String::from_utf8(output.stdout).unwrap();
        assert!(daemons.contains("rescue") && daemons.contains("chargehand-daemon"), "{shell}");
        if !installed(shell) {
            eprintln!("not read by {shell}, which is not installed");
            continue;
        }
        for text in [made.said, daemons] {
            let path = folder.path().join(shell);
            std::fs::write(&path, &text).unwrap();
            let read = Command::new(shell).arg("-n").arg(&path).output().unwrap();
            assert!(read.status.success(), "{shell}: {}", String::from_utf8_lossy(&read.stderr));
        }
    }
    let made = shop.says(folder.path(), &["man", "--into", folder.path().to_str().unwrap()]);
    assert_eq!((made.code, made.complained.as_str()), (Some(0), ""));
    for verb in ["", "-check", "-batch", "-doctor", "-notices", "-plan"] {
        let page = std::fs::read_to_string(folder.path().join(format!("chargehand{verb}.1"))).unwrap();
        assert!(page.contains(".TH") && page.contains(".SH SYNOPSIS"), "{verb}");
    }
    let page = Command::new(daemon()).arg("--man").output().unwrap();
    let page = String::from_utf8(page.stdout).unwrap();
    assert!(
        page.contains(".TH chargehand-daemon 8") && page.contains("Exit codes") && page.contains("rescue"),
        "{page}"
    );
    if installed("man") {
        let path = folder.path().join("chargehand-daemon.8");
        std::fs::write(&path, &page).unwrap();
        let read = Command::new("man").args(["--warnings", "-l"]).arg(&path).env("MANWIDTH", "80").output().unwrap();
        let said = String::from_utf8_lossy(&read.stderr).into_owned();
        assert!(read.status.success() && said.is_empty(), "{said}");
    }
}

/// The example files of the docs are read by the daemon as they stand.
#[test]
fn the_docs_examples_are_read() {
    for (page, file) in
        [("controller-profile.md", "controllers/our-router.toml"), ("checklists.md", "checklists/ready.toml")]
    {
        let text = std::fs::read_to_string(repository().join("daemon/docs").join(page)).unwrap();
        let example = text.split("```toml\n").nth(1).unwrap_or_else(|| panic!("{page} has an example"));
        let example = example.split("```").next().unwrap();
        let shop = Workshop::new(20.0);
        std::fs::create_dir_all(shop.path(file).parent().unwrap()).unwrap();
        shop.write(file, example.as_bytes());
        if page.starts_with("controller") {
            shop.edit("daemon.toml", |t| {
                t.replace("port = \"simulated\"", "port = \"simulated\"\nprofile = \"our-router\"")
            });
        }
        let ended = shop.run_to_end(&["--check"]);
        assert_eq!(ended.code, Some(0), "{page}: {}", ended.complained);
    }
}

#[test]
fn the_packaged_settings_are_read() {
    let shop = Workshop::new(20.0);
    let packaged = std::fs::read(repository().join("config/packaged-daemon.toml")).unwrap();
    shop.write("daemon.toml", &packaged);
    assert_eq!(shop.run_to_end(&["--check"]).code, Some(0));
    let help = Command::new(command_line()).arg("--help").stdin(Stdio::null()).output().unwrap();
    assert!(help.status.success());
}

/// Not the allocator's own way, which keeps what a long program's check took.
#[test]
fn the_daemon_has_told_its_allocator_to_give_back_what_is_free() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    let environment = std::fs::read_to_string(format!("/proc/{}/environ", shop.pid())).unwrap();
    for set in ["MIMALLOC_ALLOW_THP=0", "MIMALLOC_PURGE_DELAY=10"] {
        assert!(environment.split('\0').any(|word| word == set), "{set} is not in {environment:?}");
    }
    // the one that was begun is the one that answers
    let serving = client.get::<chargehand_types::queue::Doctor>("/v1/doctor").unwrap();
    assert!(!serving.looks.is_empty());
}
