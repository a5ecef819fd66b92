//! Where a program at the other end of the socket comes from, as the system tells: its groups, what started it, its
//! login session. The files of the system are read here; what they mean is judged in `people`.
//!
//! A process that ends and another that gets its number between the connection and the look would be mistaken for it;
//! the user's number comes with the connection and cannot be.
//!
//! May live here: reading `/proc` and the records of sessions. May not: any judgement.
#![allow(clippy::disallowed_methods, reason = "the system tells of its processes in files")]

use crate::people::Process;
use std::path::Path;

/// No chain of processes that anybody sees is longer.
const LINE_AT_MOST: usize = 40;

/// What the system tells.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Origin {
    /// Every group of the process.
    pub groups: Vec<u32>,
    /// The process, what started it, and so on.
    pub line: Vec<Process>,
}

impl Origin {
    /// Of a process of this system.
    pub(super) fn of(pid: u32) -> Self {
        Self::read(Path::new("/proc"), Path::new("/run/systemd/sessions"), pid)
    }

    fn read(proc: &Path, sessions: &Path, pid: u32) -> Self {
        let mut origin = Self::default();
        let mut next = pid;
        while next > 0 && origin.line.len() < LINE_AT_MOST {
            let folder = proc.join(next.to_string());
            let Ok(status) = std::fs::read_to_string(folder.join("status")) else { break };
            let value = |key: &str| status.lines().find_map(|l| l.strip_prefix(key)?.strip_prefix(':'));
            let numbers = |key: &str| {
                value(key).unwrap_or_default().split_whitespace().filter_map(|n| n.parse().ok()).collect::<Vec<u32>>()
            };
            if origin.line.is_empty() {
                origin.groups = [numbers("Gid"), numbers("Groups")].concat();
            }
            let session = std::fs::read_to_string(folder.join("cgroup")).ok().and_then(|t| session_of(&t));
            origin.line.push(Process {
                name: value("Name").unwrap_or_default().trim().to_owned(),
                session: session.and_then(|name| std::fs::read_to_string(sessions.join(name)).ok()),
            });
            next = numbers("PPid").first().copied().unwrap_or_default();
        }
        origin
    }
}

/// The login session that a control group's path names: `…/session-12.scope`.
fn session_of(cgroup: &str) -> Option<String> {
    let parts = cgroup.lines().flat_map(|line| line.split('/'));
    let mut named = parts.filter_map(|part| part.strip_prefix("session-")?.strip_suffix(".scope"));
    named.next().filter(|name| !name.is_empty() && name.chars().all(char::is_alphanumeric)).map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::people::remote;

    fn process(root: &Path, pid: u32, status: &str, cgroup: &str) {
        let folder = root.join("proc").join(pid.to_string());
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("status"), status).unwrap();
        std::fs::write(folder.join("cgroup"), cgroup).unwrap();
    }

    #[test]
    fn a_session_from_elsewhere_is_read() {
        let root = tempfile::tempdir().unwrap();
        let sessions = root.path().join("sessions");
        std::fs::create_dir_all(&sessions).unwrap();
        std::fs::write(sessions.join("12"), "UID=1000\nREMOTE=1\nREMOTE_HOST=198.51.100.7\n").unwrap();
        let status = "Name:\tchargehand\nPPid:\t50\nUid:\t1000\t1000\t1000\t1000\nGid:\t1000\t1000\t1000\t1000\nGroups:\t20 990 1000 \n";
        process(root.path(), 70, status, "0::/user.slice/user-1000.slice/session-12.scope\n");
        process(root.path(), 50, "Name:\tbash\nPPid:\t1\n", "0::/x\n");
        process(root.path(), 1, "Name:\tinit\nPPid:\t0\n", "0::/init.scope\n");
        let origin = Origin::read(&root.path().join("proc"), &sessions, 70);
        assert!(origin.groups.contains(&990) && origin.groups.contains(&1000));
        let names: Vec<&str> = origin.line.iter().map(|p| p.name.as_str()).collect();
        assert_eq!(names, ["chargehand", "bash", "init"]);
        assert_eq!(remote(&origin.line).unwrap(), "its login session came from 198.51.100.7");
    }

    #[test]
    fn a_ring_of_processes_and_a_path_for_a_name_do_no_harm() {
        let root = tempfile::tempdir().unwrap();
        process(root.path(), 7, "Name:\ta\nPPid:\t8\n", "0::/session-..%2f.scope\n");
        process(root.path(), 8, "Name:\tb\nPPid:\t7\n", "0::/session-../../etc.scope\n");
        let origin = Origin::read(&root.path().join("proc"), root.path(), 7);
        assert_eq!(origin.line.len(), LINE_AT_MOST);
        assert!(origin.line.iter().all(|p| p.session.is_none()));
        assert_eq!(Origin::read(root.path(), root.path(), 9), Origin::default());
    }

    #[test]
    fn this_very_process_is_found() {
        let origin = Origin::of(std::process::id());
        assert!(origin.line.len() >= 2, "itself and what started it: {origin:?}");
        assert!(origin.groups.contains(&rustix::process::getegid().as_raw()));
    }
}
