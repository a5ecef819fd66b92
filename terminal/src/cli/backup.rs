//! `chargehand backup` and `chargehand restore`: the store of the shop into a file, and back.
//!
//! A backup is checked while it comes in, and gets its name only once all of it is on the disk. A restore is done by the
//! daemon's program, which knows the store.
//!
//! May live here: the file, and running that program. May not: what is in a store.

use super::end::End;
use super::line::RestoreLine;
use super::page::say;
use crate::client::Api;
use crate::demo::daemon_program;
use crate::outside;
use chargehand_types::backup::{BackupFault, Contents, Reading};
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

pub(super) async fn run(api: &Api, file: &Path) -> Result<(), End> {
    let told = |e: std::io::Error| End::Missing(format!("{} cannot be written: {e}.", file.display()));
    refuse_another_file(file)?;
    let unfinished = unfinished(file);
    let mut out = outside::new_file(&unfinished).map_err(told)?;
    let taken = take(api, &mut out, file).await;
    let kept = taken.and_then(|contents| {
        out.sync_all().and_then(|()| std::fs::rename(&unfinished, file)).map_err(told)?;
        outside::sync_folder(file).map_err(told)?;
        Ok(contents)
    });
    if kept.is_err() {
        // half a backup would only be mistaken for one
        let _ = std::fs::remove_file(&unfinished);
    }
    let contents = kept?;
    say(&format!("{}: {}, checked.\n", file.display(), contents.told()))?;
    for missing in &contents.tail.left_out {
        say(&format!("Not in it: {missing}\n"))?;
    }
    if contents.tail.left_out.is_empty() { Ok(()) } else { Err(End::No) }
}

/// Writes and checks what comes in.
async fn take(api: &Api, out: &mut File, file: &Path) -> Result<Contents, End> {
    let unfit = |why: BackupFault| End::Missing(format!("No backup was made: {why}."));
    let mut answer = api.backup().await?;
    let mut reading = Reading::default();
    while let Some(bytes) = answer.next().await? {
        out.write_all(&bytes).map_err(|e| End::Missing(format!("{} cannot be written: {e}.", file.display())))?;
        reading.feed(&bytes);
        while reading.piece().map_err(unfit)?.is_some() {}
    }
    reading.finish().map_err(unfit)
}

/// An older backup may be written over; anything else is somebody's.
fn refuse_another_file(file: &Path) -> Result<(), End> {
    let Ok(begin) = outside::first_bytes(file, 64) else { return Ok(()) };
    let mut reading = Reading::default();
    reading.feed(&begin);
    match reading.piece() {
        Err(BackupFault::NoBackup) => {
            Err(End::Missing(format!("{} is there and is no backup; name another file.", file.display())))
        }
        Ok(_) | Err(_) => Ok(()),
    }
}

fn unfinished(file: &Path) -> PathBuf {
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    file.with_file_name(format!(".{name}.new"))
}

/// Has the daemon's program write a backup into an empty store.
pub(super) async fn restore(line: RestoreLine) -> Result<(), End> {
    let program = daemon_program();
    let mut command = Command::new(&program);
    command.arg("--restore").arg(&line.file).stdin(Stdio::null());
    if line.check {
        command.arg("--check");
    } else {
        match (line.store, super::doctor::config(line.config)) {
            (Some(store), _) => command.arg("--store").arg(store),
            (None, Some(config)) => command.arg("--config").arg(config),
            (None, None) => {
                let text =
                    "Name the store that is to be written: --store DIR, or the config that names it: --config FILE.";
                return Err(End::WrongUse(text.to_owned()));
            }
        };
    }
    let status = tokio::task::spawn_blocking(move || command.status()).await.map_err(std::io::Error::other);
    match status.and_then(|s| s).map(|s| s.code()) {
        Ok(Some(0)) => Ok(()),
        Ok(code) => Err(End::Code(code.and_then(|c| u8::try_from(c).ok()).unwrap_or(crate::exit::MISSING))),
        Err(e) => Err(End::Missing(format!(
            "The daemon's program cannot be run ({}: {e}). Install it beside this program.",
            program.display()
        ))),
    }
}
