//! `chargehand demo`: the practice shop, at the screen or hands-free.
//!
//! May live here: which of both, and what is said. May not: the shop itself.

use super::end::End;
use super::terminal::Wanted;
use super::{page, terminal};
use crate::client::Told as ToldEvent;
use crate::demo::{DemoFault, HELPER, OWNER, Operator, Practice, event_line, summary};
use crate::walker::Told;
use std::io::IsTerminal;
use std::path::PathBuf;
use tokio::signal::unix::{SignalKind, signal};

/// The usual exit code of a program that was interrupted (128 and the number of the signal).
const EXIT_INTERRUPTED: u8 = 130;

pub(super) async fn run(hands_free: bool, keep: Option<PathBuf>, wanted: Wanted) -> Result<(), End> {
    let tty = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
    if !hands_free && !tty {
        return Err(End::WrongUse(
            "The practice shop opens on a terminal, and this is none. Without a screen: chargehand demo --hands-free"
                .to_owned(),
        ));
    }
    if hands_free { by_rule(keep).await } else { by_hand(keep, wanted).await }
}

async fn by_hand(keep: Option<PathBuf>, wanted: Wanted) -> Result<(), End> {
    let settings = wanted.settings()?;
    eprintln!("Opening the practice shop …");
    let practice = Practice::open(Operator::Person, keep).await.map_err(ended)?;
    let ended = terminal::open(practice.place(), settings, &[OWNER, HELPER], true).await;
    eprintln!("The practice shop is being closed …");
    practice.close().await;
    ended
}

async fn by_rule(keep: Option<PathBuf>) -> Result<(), End> {
    let (mut interrupt, mut terminate) = signals()?;
    let kept = keep.is_some();
    let practice = Practice::open(Operator::Scripted, keep).await.map_err(ended)?;
    let mut out = Ok(());
    let mut tell = |told| {
        if let Told::Event(json) = told
            && out.is_ok()
        {
            out = page::say(&line(json));
        }
    };
    let walked = tokio::select! {
        walked = practice.hands_free(&mut tell) => Some(walked),
        _ = interrupt.recv() => None,
        _ = terminate.recv() => None,
    };
    let folder = practice.folder().to_owned();
    practice.close().await;
    out?;
    match walked {
        None => Err(End::Code(EXIT_INTERRUPTED)),
        Some(Err(fault)) => Err(ended(fault)),
        Some(Ok(records)) => {
            page::say(&format!("\n{}", summary(&records)))?;
            if kept {
                eprintln!("The shop is kept in {}. Open it again with:", folder.display());
                eprintln!(
                    "  chargehand-daemon --config {0}/daemon.toml --store {0}/store --socket {0}/api.sock",
                    folder.display()
                );
            }
            Ok(())
        }
    }
}

fn signals() -> Result<(tokio::signal::unix::Signal, tokio::signal::unix::Signal), End> {
    let no = |e| End::Missing(format!("The system lets no program wait for its signals: {e}."));
    Ok((signal(SignalKind::interrupt()).map_err(no)?, signal(SignalKind::terminate()).map_err(no)?))
}

fn line(json: String) -> String {
    let told = ToldEvent { seq: chargehand_types::id::Seq(0), kind: String::new(), json };
    match told.event() {
        Ok(event) => event_line(&event).map(|l| l + "\n").unwrap_or_default(),
        Err(_) => told.json + "\n",
    }
}

fn ended(fault: DemoFault) -> End {
    match fault {
        DemoFault::Client(fault) => End::Client(fault),
        other => End::Demo(Box::new(other)),
    }
}
