//! Keeps the computer awake while a sheet is cut or held: the system's own program holds the lock, and lets go of it
//! when its input ends, however this daemon ends.

use crate::notices::Standing;
use chargehand_types::now::Now;
use chargehand_types::stage::Stage;
use std::process::Stdio;
use std::sync::Arc;

/// The program, and what it is told. `cat` ends when its input does.
pub(super) const INHIBITOR: &[&str] = &[
    "systemd-inhibit",
    "--what=sleep:shutdown:idle",
    "--mode=block",
    "--who=Chargehand",
    "--why=A sheet is being cut",
    "cat",
];

/// Holds the lock while it is needed, until the daemon ends.
pub(super) async fn keep(mut standing: Standing, program: &'static [&'static str]) {
    let mut held: Option<std::process::Child> = None;
    let mut told = false;
    loop {
        let needed = standing.borrow_and_update().as_ref().is_some_and(needs);
        match (needed, held.is_some()) {
            (true, false) => match begin(program) {
                Ok(child) => held = Some(child),
                Err(e) if !told => {
                    told = true;
                    tracing::warn!("the computer is not kept awake while cutting: {e}");
                }
                Err(_) => {}
            },
            (false, true) => end(held.take()),
            (true, true) => {
                if let Some(Ok(Some(status))) = held.as_mut().map(std::process::Child::try_wait)
                    && !told
                {
                    told = true;
                    let name = program.first().copied().unwrap_or_default();
                    tracing::warn!("the computer is not kept awake while cutting: {name} ended with {status}");
                }
            }
            (false, false) => {}
        }
        if standing.changed().await.is_err() {
            end(held.take());
            return;
        }
    }
}

fn needs(now: &Arc<Now>) -> bool {
    now.sheet.as_ref().is_some_and(|s| matches!(s.stage, Stage::Cutting | Stage::Held))
}

fn begin(program: &[&str]) -> std::io::Result<std::process::Child> {
    let (name, arguments) = program.split_first().ok_or(std::io::ErrorKind::NotFound)?;
    std::process::Command::new(name)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
}

/// Ends its input, then waits for it somewhere else.
fn end(held: Option<std::process::Child>) {
    let Some(mut child) = held else { return };
    drop(child.stdin.take());
    tokio::task::spawn_blocking(move || child.wait());
}
