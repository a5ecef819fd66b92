//! `chargehand` without a command: the terminal at the machine.
//!
//! May live here: how it is opened. May not: the screens.

use super::end::End;
use super::line::{SymbolsWanted, UnitsWanted};
use crate::client::{Api, Place};
use crate::outside;
use crate::ui::{self, Settings, Symbols, Units};
use crate::words::{self, Words};
use chargehand_types::id::TerminalId;
use std::io::IsTerminal;
use std::path::Path;

/// How the screens are wanted on the command line.
pub(super) struct Wanted {
    pub symbols: Option<SymbolsWanted>,
    pub units: Option<UnitsWanted>,
    pub language: Option<String>,
}

impl Wanted {
    /// With what the environment says where the command line says nothing.
    pub(super) fn settings(self) -> Result<Settings, End> {
        let symbols = self.symbols.map(|w| match w {
            SymbolsWanted::Braille => Symbols::Braille,
            SymbolsWanted::Block => Symbols::Block,
            SymbolsWanted::Ascii => Symbols::Ascii,
        });
        let units = self.units.map(|w| match w {
            UnitsWanted::Mm => Units::Millimetres,
            UnitsWanted::Inch => Units::Inches,
        });
        let language = self.language.or_else(|| outside::variable_text("CHARGEHAND_LANGUAGE"));
        Ok(Settings::of_environment(symbols, units, language.map(|l| words(&l)).transpose()?))
    }
}

/// The texts of a language that was asked for: a shipped one by its letters, or a file.
fn words(language: &str) -> Result<&'static Words, End> {
    if let Some(words) = words::shipped(language) {
        return Ok(words);
    }
    let shipped: Vec<&str> = words::SHIPPED.iter().map(|(letters, _)| *letters).collect();
    let bytes = outside::file(Path::new(language)).map_err(|e| {
        End::WrongUse(format!(
            "There are no texts in \"{language}\": it is none of {}, and as a file it cannot be read: {e}.",
            shipped.join(", ")
        ))
    })?;
    let words = Words::read(&String::from_utf8_lossy(&bytes)).map_err(|e| End::Missing(format!("{language}: {e}")))?;
    // one language lasts as long as the program
    Ok(Box::leak(Box::new(words)))
}

pub(super) async fn run(place: &Place, wanted: Wanted) -> Result<(), End> {
    if !std::io::stdin().is_terminal() || !std::io::stdout().is_terminal() {
        return Err(End::WrongUse(
            "The screens need a terminal, and this is none. Try a command: chargehand --help".to_owned(),
        ));
    }
    open(place, wanted.settings()?, &[], false).await
}

/// Opens the screens on a tty that was looked for already; `names` are people who may sign in. `guided` leads through a
/// first sheet of the practice machine.
pub(super) async fn open(place: &Place, settings: Settings, names: &[&str], guided: bool) -> Result<(), End> {
    let api = Api::new(place.clone(), TerminalId(name()))?;
    let ended = if guided { ui::run_guided(api, settings, names).await } else { ui::run(api, settings, names).await };
    let farewell = ended.map_err(End::Out)?;
    eprintln!("{farewell}");
    Ok(())
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
