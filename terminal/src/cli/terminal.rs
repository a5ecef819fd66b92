//! `chargehand` without a command: the terminal at the machine.
//!
//! May live here: how it is opened. May not: the screens.

use super::end::End;
use super::line::SymbolsWanted;
use crate::client::{Api, Place};
use crate::outside;
use crate::ui::{self, Symbols};
use chargehand_types::id::TerminalId;
use std::io::IsTerminal;

pub(super) async fn run(place: &Place, wanted: Option<SymbolsWanted>) -> Result<(), End> {
    if !std::io::stdin().is_terminal() || !std::io::stdout().is_terminal() {
        return Err(End::WrongUse(
            "The screens need a terminal, and this is none. Try a command: chargehand --help".to_owned(),
        ));
    }
    open(place, wanted, &[]).await
}

/// Opens the screens on a tty that was looked for already; `names` are people who may sign in.
pub(super) async fn open(place: &Place, wanted: Option<SymbolsWanted>, names: &[&str]) -> Result<(), End> {
    let api = Api::new(place.clone(), TerminalId(name()))?;
    let settings = ui::Settings::of_environment(symbols(wanted));
    let farewell = ui::run(api, settings, names).await.map_err(End::Out)?;
    eprintln!("{farewell}");
    Ok(())
}

fn symbols(wanted: Option<SymbolsWanted>) -> Option<Symbols> {
    wanted.map(|w| match w {
        SymbolsWanted::Braille => Symbols::Braille,
        SymbolsWanted::Block => Symbols::Block,
        SymbolsWanted::Ascii => Symbols::Ascii,
    })
}

/// A terminal is called by the line it stands on, so that it is the same one after a restart.
fn name() -> String {
    let line = rustix::termios::ttyname(std::io::stdin(), Vec::new())
        .ok()
        .and_then(|n| n.into_string().ok())
        .map(|n| n.trim_start_matches("/dev/").replace('/', "-"))
        .unwrap_or_else(|| std::process::id().to_string());
    outside::variable_text("CHARGEHAND_TERMINAL").unwrap_or_else(|| format!("screen-{line}"))
}
