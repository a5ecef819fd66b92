//! The terminal's screens with a fault beside them that panics when it is told to (SIGUSR1): how does it leave the line?
#![allow(clippy::panic, reason = "panicking is what it is for")]

use chargehand_terminal::client::{Api, Place};
use chargehand_terminal::ui::{Settings, run};
use chargehand_types::id::TerminalId;
use std::path::PathBuf;
use tokio::signal::unix::{SignalKind, signal};

fn main() -> std::io::Result<()> {
    let socket = std::env::args_os().nth(1).map(PathBuf::from).unwrap_or_default();
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(async {
        let mut told = signal(SignalKind::user_defined1())?;
        let api = Api::new(Place::Socket(socket), TerminalId("panicking".to_owned())).map_err(std::io::Error::other)?;
        tokio::select! {
            left = run(api, Settings::of_environment(None, None, None), &[]) => left.map(drop),
            _ = told.recv() => panic!("it went wrong, on purpose"),
        }
    })
}
