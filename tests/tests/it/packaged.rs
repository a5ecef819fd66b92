//! What the package lays down: the service unit, completions, manual pages; and the command blocks of the docs.

use chargehand_terminal::cli::Line;
use chargehand_tests::workshop::{Workshop, command_line, repository};
use clap::Parser;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn installed(program: &str) -> bool {
    ["/bin", "/usr/bin", "/usr/sbin"].iter().any(|f| Path::new(f).join(program).exists())
}

#[test]
fn the_unit_is_sound_and_guarded() {
    if !installed("systemd-analyze") {
        eprintln!("skipped: systemd-analyze is not installed");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let unit = std::fs::read_to_string(repository().join("config/systemd/chargehand.service")).unwrap();
    // the program and the manual are not installed where this test runs
    let unit = unit
        .replace("/usr/bin/chargehand-daemon", "/bin/true")
        .replace("Documentation=man:chargehand-daemon(8) man:chargehand(1)\n", "");
    let path = folder.path().join("chargehand.service");
    std::fs::write(&path, &unit).unwrap();
    let verify = Command::new("systemd-analyze").arg("verify").arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&verify.stderr).into_owned();
    let ours: Vec<&str> = said.lines().filter(|l| l.contains("chargehand.service")).collect();
    assert!(ours.is_empty(), "{ours:?}");
    let output = Command::new("systemd-analyze").args(["security", "--offline=true"]).arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let last = said.lines().rev().find(|l| l.contains("exposure level")).unwrap_or_default().to_owned();
    println!("{last}");
    let level: f64 = last.split_whitespace().find_map(|w| w.parse().ok()).unwrap();
    // systemd's own scale: below 3 is "OK", 10 is a program without any guard
    assert!(level < 3.0, "{said}");
}

#[test]
fn shells_take_the_completions_and_every_verb_has_its_page() {
    let shop = Workshop::new(20.0);
    let folder = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish"] {
        let made = shop.says(folder.path(), &["completions", shell]);
        assert_eq!(made.code, Some(0));
        assert!(made.said.contains("holddown") && made.said.contains("notices"), "{shell}");
        if installed(shell) {
            let path = folder.path().join(shell);
            std::fs::write(&path, &made.said).unwrap();
            let read = Command::new(shell).arg("-n").arg(&path).output().unwrap();
            assert!(read.status.success(), "{shell}: {}", String::from_utf8_lossy(&read.stderr));
        } else {
            eprintln!("not read by {shell}, which is not installed");
        }
    }
    let made = shop.says(folder.path(), &["man", "--into", folder.path().to_str().unwrap()]);
    assert_eq!((made.code, made.complained.as_str()), (Some(0), ""));
    for verb in ["", "-check", "-batch", "-doctor", "-notices", "-plan"] {
        let page = std::fs::read_to_string(folder.path().join(format!("chargehand{verb}.1"))).unwrap();
        assert!(page.contains(".TH") && page.contains(".SH SYNOPSIS"), "{verb}");
    }
}

/// Lines of the command blocks of a page, with `\` at an end joined and the comment left out.
fn commands(path: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(path).unwrap().replace("\\\n", " ");
    let (mut inside, mut found) = (false, Vec::new());
    for line in text.lines().map(str::trim) {
        if line.starts_with("```") {
            inside = line == "```sh";
        } else if inside && !line.trim().is_empty() {
            found.extend(line.split("&&").map(|part| {
                let part = part.split(" #").next().unwrap_or_default().trim();
                part.trim_end_matches('&').trim().to_owned()
            }));
        }
    }
    found
}

fn pages() -> Vec<PathBuf> {
    let docs = repository().join("daemon/docs");
    let mut pages: Vec<PathBuf> = std::fs::read_dir(docs).unwrap().map(|e| e.unwrap().path()).collect();
    pages.push(repository().join("README.md"));
    pages
}

/// Every line of our own programs in the docs is taken by the command line; those that need nothing are run.
#[test]
fn the_docs_commands_are_real() {
    let mut judged = 0;
    for page in pages() {
        for line in commands(&page) {
            let words = words(&line);
            let Some((program, arguments)) = words.split_first() else { continue };
            let said = format!("{}: {line}", page.display());
            if program.ends_with("chargehand-daemon") {
                assert!(arguments.iter().any(|a| *a == "--config" || *a == "--talk"), "{said}");
                judged += 1;
            } else if program.ends_with("chargehand") {
                let typed = std::iter::once("chargehand").chain(arguments.iter().copied());
                let typed: Vec<String> = typed.map(|w| w.trim_matches('"').to_owned()).collect();
                assert!(Line::try_parse_from(&typed).is_ok(), "{said}: {:?}", Line::try_parse_from(&typed).err());
                judged += 1;
            } else {
                let known = ["cargo", "sudo", "ls", "cp", "sh", "bash", ".ci/package", "mkdir", "head"];
                assert!(known.contains(program), "{said}");
            }
        }
    }
    println!("{judged} commands of ours in the docs");
    assert!(judged > 25);
}

/// The words of a command; what stands in double quotes is one.
fn words(line: &str) -> Vec<&str> {
    let parts = line.split('"').enumerate();
    parts.flat_map(|(n, part)| if n % 2 == 1 { vec![part] } else { part.split_whitespace().collect() }).collect()
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
