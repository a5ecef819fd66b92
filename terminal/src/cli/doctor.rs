//! `chargehand doctor`: is everything in place. Without a daemon, the daemon's own check of its config is run.
//!
//! May live here: showing looks, finding and running the daemon's program. May not: looking; the daemon does.

use super::end::End;
use super::line::DoctorLine;
use super::page::{fold, json, say};
use crate::client::{Api, ClientFault};
use crate::demo::daemon_program;
use crate::outside;
use chargehand_types::queue::{Doctor, Verdict};
use std::path::{Path, PathBuf};
use std::process::Stdio;

/// Where a config is looked for when none is named.
const CONFIGS: [&str; 2] = ["config/daemon.toml", "/etc/chargehand/daemon.toml"];

pub(super) async fn run(api: &Api, line: DoctorLine) -> Result<(), End> {
    if let Some(port) = line.port {
        return talk(&port, self::config(line.config)).await;
    }
    match api.doctor().await {
        Ok(doctor) => {
            if line.json {
                json(&doctor)?
            } else {
                say(&told(&doctor))?
            }
            if doctor.looks.iter().any(|l| l.verdict == Verdict::Wrong) { Err(End::No) } else { Ok(()) }
        }
        Err(fault @ ClientFault::Unreachable { .. }) => without_daemon(&fault, line.config).await,
        Err(other) => Err(other.into()),
    }
}

fn told(doctor: &Doctor) -> String {
    let mut out = String::new();
    for look in &doctor.looks {
        let verdict = match look.verdict {
            Verdict::Fine => "in order",
            Verdict::Word => "a word  ",
            Verdict::Wrong => "WRONG   ",
        };
        out.push_str(&fold(&format!("{verdict}  {}: ", look.what), &look.text, 10));
    }
    out
}

/// The config that was named, or the one that lies where configs do.
pub(super) fn config(named: Option<PathBuf>) -> Option<PathBuf> {
    named
        .or_else(|| outside::variable("CHARGEHAND_CONFIG").map(PathBuf::from))
        .or_else(|| CONFIGS.iter().map(PathBuf::from).find(|p| p.is_file()))
}

async fn without_daemon(fault: &ClientFault, config: Option<PathBuf>) -> Result<(), End> {
    eprintln!("{fault}");
    let Some(config) = self::config(config) else {
        return Err(End::NoDaemon("Name a config to have it checked: chargehand doctor --config FILE".to_owned()));
    };
    let program = daemon_program();
    eprintln!("Checking with: {} --check --config {}", program.display(), config.display());
    match check(&program, &config).await {
        Ok(Some(0)) => Err(End::NoDaemon("The config is in order, but no daemon runs.".to_owned())),
        Ok(Some(code)) => Err(End::Code(u8::try_from(code).unwrap_or(crate::exit::MISSING))),
        Ok(None) => Err(End::Missing("The daemon's check was broken off.".to_owned())),
        Err(e) => Err(End::Missing(format!(
            "The daemon's program cannot be run ({}: {e}). Install it beside this program.",
            program.display()
        ))),
    }
}

/// The daemon's program opens the port, and no daemon need run. The profiles beside the config are tried as well.
async fn talk(port: &str, config: Option<PathBuf>) -> Result<(), End> {
    let program = daemon_program();
    let mut command = std::process::Command::new(&program);
    command.arg("--talk").arg("--port").arg(port).stdin(Stdio::null());
    if let Some(config) = config {
        command.arg("--config").arg(config);
    }
    let status = tokio::task::spawn_blocking(move || command.status()).await.map_err(std::io::Error::other);
    match status.and_then(|s| s).map(|s| s.code()) {
        Ok(Some(0)) => Ok(()),
        Ok(code) => Err(End::Code(code.and_then(|c| u8::try_from(c).ok()).unwrap_or(crate::exit::MISSING))),
        Err(e) => Err(End::Missing(format!("The daemon's program cannot be run ({}: {e}).", program.display()))),
    }
}

async fn check(program: &Path, config: &Path) -> std::io::Result<Option<i32>> {
    let mut command = std::process::Command::new(program);
    command.arg("--check").arg("--config").arg(config).stdin(Stdio::null());
    let status = tokio::task::spawn_blocking(move || command.status()).await.map_err(std::io::Error::other)??;
    Ok(status.code())
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::queue::Look;

    #[test]
    fn what_is_wrong_stands_out() {
        let look = |what: &str, verdict| Look { what: what.into(), verdict, text: "it is so".into() };
        let doctor = Doctor { schema: 1, looks: vec![look("port", Verdict::Wrong), look("disk", Verdict::Fine)] };
        assert_eq!(told(&doctor), "WRONG     port: it is so\nin order  disk: it is so\n");
    }
}
