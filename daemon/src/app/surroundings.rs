//! Is the computer fit for it: may it sleep or restart by itself, is its clock set, may the daemon use the port, does
//! anybody else have it open. Each fault comes with the command that mends it.
#![allow(clippy::disallowed_methods, reason = "this is where the computer's own files are looked at")]

use chargehand_types::queue::{Look, Verdict};
use rustix::fs::{Access, access};
use std::path::{Path, PathBuf};

/// Looks at everything below a root folder, `/` but in tests; `port` is the controller's device, if it is a real one.
pub(super) fn look(root: &Path, port: Option<&str>) -> Vec<Look> {
    let mut looks = vec![sleep(root), restarts(root), clock(root)];
    if let Some(port) = port {
        looks.push(rights(Path::new(port)));
        looks.extend(owners(root, Path::new(port), std::process::id()));
    }
    looks
}

fn one(what: &str, verdict: Verdict, text: impl Into<String>) -> Look {
    Look { what: what.to_owned(), verdict, text: text.into() }
}

/// Sleep is off when its target is masked: a link to nothing.
fn sleep(root: &Path) -> Look {
    let masked = |name: &str| {
        std::fs::read_link(root.join("etc/systemd/system").join(name)).is_ok_and(|to| to == Path::new("/dev/null"))
    };
    let there = ["usr/lib/systemd/system/sleep.target", "lib/systemd/system/sleep.target"];
    if !there.iter().any(|f| root.join(f).exists()) || masked("sleep.target") {
        return one("sleep", Verdict::Fine, "this computer does not go to sleep by itself");
    }
    one(
        "sleep",
        Verdict::Word,
        "this computer may go to sleep, which ends a cut. It is kept awake while cutting; to be sure: sudo systemctl mask sleep.target suspend.target hibernate.target hybrid-sleep.target",
    )
}

/// Whether updates may restart the computer (the key is the package manager's).
fn restarts(root: &Path) -> Look {
    const KEY: &str = "Unattended-Upgrade::Automatic-Reboot";
    let mut said = None;
    for path in files(&root.join("etc/apt/apt.conf.d")) {
        for line in std::fs::read_to_string(&path).unwrap_or_default().lines().map(str::trim) {
            let value = line.strip_prefix(KEY).and_then(|rest| rest.strip_prefix([' ', '\t']));
            if let Some(value) = value {
                // later files win over earlier ones
                said = Some((path.clone(), value.to_lowercase().contains("true")));
            }
        }
    }
    match said {
        Some((path, true)) => one(
            "restarts",
            Verdict::Wrong,
            format!(
                "updates may restart this computer by themselves ({}). End that: echo '{KEY} \"false\";' | sudo tee /etc/apt/apt.conf.d/99-chargehand",
                path.display()
            ),
        ),
        _ => one("restarts", Verdict::Fine, "updates do not restart this computer"),
    }
}

fn clock(root: &Path) -> Look {
    if root.join("run/systemd/timesync/synchronized").exists() || root.join("run/chrony").exists() {
        return one("clock", Verdict::Fine, "set by the network");
    }
    one(
        "clock",
        Verdict::Word,
        "nothing says that this computer's clock is set by the network; times in the history may be wrong: sudo timedatectl set-ntp true",
    )
}

fn rights(port: &Path) -> Look {
    match access(port, Access::READ_OK | Access::WRITE_OK) {
        Ok(()) => one("port rights", Verdict::Fine, "the daemon may read and write the port"),
        Err(rustix::io::Errno::NOENT) => one(
            "port rights",
            Verdict::Wrong,
            format!("there is no {}. Look what is there: ls -l /dev/serial/by-id/", port.display()),
        ),
        Err(e) => one(
            "port rights",
            Verdict::Wrong,
            format!(
                "the daemon may not use {} ({e}). Put its user into the port's group: sudo usermod -aG dialout chargehand, then sudo systemctl restart chargehand",
                port.display()
            ),
        ),
    }
}

/// A program beside ours that has the port open, as far as we may look.
fn owners(root: &Path, port: &Path, ours: u32) -> Option<Look> {
    let other = crate::serial::owner_beside(root, port, ours)?;
    let text = format!("{other} has the port open too. One program to a port: end that one, or take the port from it.");
    Some(one("two owners", Verdict::Wrong, text))
}

/// What is in a folder, by name; nothing where there is none.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> =
        std::fs::read_dir(folder).map(|d| d.flatten().map(|e| e.path()).collect()).unwrap_or_default();
    found.sort();
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    fn write(root: &Path, name: &str, text: &str) {
        let path = root.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    fn verdict(root: &Path, what: &str) -> (Verdict, String) {
        let look = look(root, None).into_iter().find(|l| l.what == what).unwrap();
        (look.verdict, look.text)
    }

    #[test]
    fn sleep_is_told_until_it_is_masked() {
        let root = tempfile::tempdir().unwrap();
        assert_eq!(verdict(root.path(), "sleep").0, Verdict::Fine);
        write(root.path(), "usr/lib/systemd/system/sleep.target", "");
        assert!(verdict(root.path(), "sleep").1.contains("systemctl mask sleep.target"));
        std::fs::create_dir_all(root.path().join("etc/systemd/system")).unwrap();
        symlink("/dev/null", root.path().join("etc/systemd/system/sleep.target")).unwrap();
        assert_eq!(verdict(root.path(), "sleep").0, Verdict::Fine);
    }

    #[test]
    fn restarts_by_updates_are_told_as_the_last_file_says() {
        let root = tempfile::tempdir().unwrap();
        write(root.path(), "etc/apt/apt.conf.d/50u", "//Unattended-Upgrade::Automatic-Reboot \"true\";\n");
        assert_eq!(verdict(root.path(), "restarts").0, Verdict::Fine);
        write(root.path(), "etc/apt/apt.conf.d/50u", "Unattended-Upgrade::Automatic-Reboot \"true\";\n");
        assert_eq!(verdict(root.path(), "restarts").0, Verdict::Wrong);
        write(root.path(), "etc/apt/apt.conf.d/99-chargehand", "Unattended-Upgrade::Automatic-Reboot \"false\";\n");
        assert_eq!(verdict(root.path(), "restarts").0, Verdict::Fine);
    }

    #[test]
    fn a_clock_nobody_sets_is_told() {
        let root = tempfile::tempdir().unwrap();
        assert_eq!(verdict(root.path(), "clock").0, Verdict::Word);
        write(root.path(), "run/systemd/timesync/synchronized", "");
        assert_eq!(verdict(root.path(), "clock").0, Verdict::Fine);
    }

    #[test]
    fn a_port_that_is_not_there_and_one_with_another_owner_are_told() {
        let root = tempfile::tempdir().unwrap();
        let port = root.path().join("ttyUSB0");
        assert_eq!(rights(&port).verdict, Verdict::Wrong);
        std::fs::write(&port, "").unwrap();
        assert_eq!(rights(&port).verdict, Verdict::Fine);
        write(root.path(), "proc/4711/comm", "other\n");
        std::fs::create_dir_all(root.path().join("proc/4711/fd")).unwrap();
        assert_eq!(owners(root.path(), &port, 1), None);
        symlink(std::fs::canonicalize(&port).unwrap(), root.path().join("proc/4711/fd/5")).unwrap();
        let told = owners(root.path(), &port, 1).unwrap();
        assert!(told.verdict == Verdict::Wrong && told.text.starts_with("other (process 4711)"), "{}", told.text);
        assert_eq!(owners(root.path(), &port, 4711), None, "we are not two");
    }
}
