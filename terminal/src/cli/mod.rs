//! The command line: reads what was typed, runs the verb, says how it ended. One file a verb.
//!
//! May live here: which verb runs, which place is spoken to. May not: what a verb does.

mod backup;
mod batch;
mod bit;
mod bring_in;
mod card;
mod card_new;
mod check;
mod csv;
mod demo;
mod doctor;
mod end;
mod events;
pub mod files;
mod findings;
mod history;
mod holddown;
mod installed;
mod line;
mod lists;
mod machine;
mod notices;
mod on_desktop;
pub(crate) mod page;
mod people;
mod people_line;
mod person;
mod plan;
mod report;
pub(crate) mod sheet;
mod stock;
mod terminal;
#[cfg(test)]
mod tests;
mod trouble;
mod upkeep;
mod when;

pub use end::End;
pub use line::Line;

use crate::client::{Api, Place};
use crate::{exit, outside};
use chargehand_types::id::TerminalId;
use clap::Parser;
use line::Verb;
use std::path::PathBuf;
use std::process::ExitCode;

/// Runs the command line of this process.
#[must_use]
pub fn main() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(e) => {
            // clap prints help to stdout and faults to stderr, and knows the code of each
            let _ = e.print();
            return ExitCode::from(u8::try_from(e.exit_code()).unwrap_or(exit::WRONG_USE));
        }
    };
    let runtime = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(e) => return ended(&End::Missing(format!("The system lets no program wait for input: {e}."))),
    };
    match runtime.block_on(run(line)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(end) => ended(&end),
    }
}

fn ended(end: &End) -> ExitCode {
    if let Some(message) = end.message() {
        eprintln!("{message}");
    }
    ExitCode::from(end.exit())
}

/// Runs what was typed.
///
/// # Errors
/// However the verb can end other than well.
pub async fn run(line: Line) -> Result<(), End> {
    let place = place(&line)?;
    let wanted = terminal::Wanted { symbols: line.symbols, units: line.units, language: line.language };
    match line.verb {
        None => terminal::run(&place, wanted).await,
        Some(Verb::Demo { hands_free, keep }) => demo::run(hands_free, keep, wanted).await,
        Some(Verb::Check(check)) => check::run(&api(&place)?, check).await,
        Some(Verb::Holddown(line)) => holddown::run(&api(&place)?, line).await,
        Some(Verb::Card(verb)) => card::run(&api(&place)?, verb).await,
        Some(Verb::Bit(verb)) => bit::run(&api(&place)?, verb).await,
        Some(Verb::Batch(verb)) => batch::run(&api(&place)?, verb).await,
        Some(Verb::Stock(verb)) => stock::run(&api(&place)?, verb).await,
        Some(Verb::Plan(plan)) => plan::run(&api(&place)?, plan).await,
        Some(Verb::Machine(machine)) => machine::run(&api(&place)?, machine).await,
        Some(Verb::Sheet(verb)) => sheet::run(&api(&place)?, verb).await,
        Some(Verb::Upkeep { verb, json }) => upkeep::run(&api(&place)?, verb, json).await,
        Some(Verb::BringIn(line)) => bring_in::run(&api(&place)?, line).await,
        Some(Verb::History(history)) => history::run(&api(&place)?, history).await,
        Some(Verb::Report { batch, output }) => report::run(&api(&place)?, batch, &output).await,
        Some(Verb::Doctor(doctor)) => doctor::run(&api(&place)?, doctor).await,
        Some(Verb::Notices { verb, json }) => notices::run(&api(&place)?, verb, json).await,
        Some(Verb::Backup { file }) => backup::run(&api(&place)?, &file).await,
        Some(Verb::Restore(line)) => backup::restore(line).await,
        Some(Verb::People(verb)) => people::people(&api(&place)?, verb).await,
        Some(Verb::Token(verb)) => people::token(&api(&place)?, verb).await,
        Some(Verb::Completions { shell }) => installed::completions(shell),
        Some(Verb::Man { into }) => installed::man(into),
        Some(Verb::Lists { verb, json }) => lists::run(&api(&place)?, verb, json).await,
        Some(Verb::Trouble { card }) => trouble::run(card.as_deref()),
        Some(Verb::Events { since }) => events::run(&api(&place)?, since).await,
    }
}

fn place(line: &Line) -> Result<Place, End> {
    use crate::client::Said;
    let said = Said { socket: line.socket.clone(), url: line.url.clone() };
    let environment = Said {
        socket: outside::variable("CHARGEHAND_SOCKET").map(PathBuf::from),
        url: outside::variable_text("CHARGEHAND_URL"),
    };
    Ok(Place::choose(said, environment, outside::variable("XDG_RUNTIME_DIR").map(PathBuf::from))?)
}

/// The command line speaks as a terminal of its own, one a process.
fn api(place: &Place) -> Result<Api, End> {
    Ok(Api::new(place.clone(), TerminalId(format!("cli-{}", std::process::id())))?)
}
