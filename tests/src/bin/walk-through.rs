//! Plays an operator through the public API alone, step by step as a person would answer, and prints one JSON line
//! a step. It is how the daemon is tried against controllers other than ours; exits 0 when the sheets are closed.
//!
//! The daemon must have let a scripted operator in (`[bench] scripted_operator = true`), or answers that come sooner
//! than they can be read are refused and given again.

use chargehand_terminal::cli::files;
use chargehand_terminal::client::{Api, ClientFault, Place};
use chargehand_terminal::walker::{Answers, Plan, Told, WrongAnswers, walk};
use chargehand_types::id::{CardName, TerminalId};
use chargehand_types::stage::Stage;
use clap::Parser;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Plays an operator through the public API alone.
#[derive(Debug, Parser)]
#[command(name = "walk-through")]
struct Arguments {
    /// The daemon's socket.
    #[arg(long)]
    socket: PathBuf,
    /// A card file, which is added first, or the name of a card of the shop.
    #[arg(long)]
    card: String,
    /// How many sheets are to be closed.
    #[arg(long)]
    sheets: u32,
    /// What to answer instead of what is expected: TOML or JSON, a step's id to its answer.
    #[arg(long)]
    answers: Option<PathBuf>,
    /// Prints the daemon's events as well.
    #[arg(long)]
    events: bool,
}

/// Why it ended early.
#[derive(Debug, thiserror::Error)]
enum Ended {
    #[error("{0}")]
    Client(#[from] ClientFault),
    #[error("{0}")]
    Answers(#[from] WrongAnswers),
    #[error("{0} cannot be read: {1}")]
    File(PathBuf, std::io::Error),
    #[error("{0}")]
    Card(String),
    #[error("{0}")]
    Stuck(#[from] chargehand_terminal::walker::Stuck),
}

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("walk-through: {e}");
            ExitCode::FAILURE
        }
    }
}

async fn run(arguments: &Arguments) -> Result<(), Ended> {
    let answers = match &arguments.answers {
        None => Answers::default(),
        Some(path) => {
            #[allow(clippy::disallowed_methods, reason = "a program reads the file it was given")]
            let text = std::fs::read_to_string(path).map_err(|e| Ended::File(path.clone(), e))?;
            Answers::read(&text)?
        }
    };
    let api = Api::new(Place::Socket(arguments.socket.clone()), TerminalId("walk-through".to_owned()))?;
    let card = card(&api, &arguments.card).await?;
    wanted_sheets(&api, &card, arguments.sheets).await?;
    let plan = Plan { card: Some(card), sheets: arguments.sheets, answers };
    let events = arguments.events;
    let mut tell = |told: Told| match told {
        Told::Step(step) => match serde_json::to_string(&step) {
            Ok(line) => println!("{line}"),
            Err(e) => eprintln!("walk-through: a step cannot be told: {e}"),
        },
        Told::Event(event) if events => println!("{event}"),
        Told::Event(_) => {}
    };
    walk(&api, &plan, &mut tell).await?;
    Ok(())
}

/// The card's name; a file is added first.
async fn card(api: &Api, card: &str) -> Result<CardName, Ended> {
    let path = Path::new(card);
    if path.extension().is_none_or(|e| e != "toml") {
        return Ok(CardName(card.to_owned()));
    }
    let files = files::read(path).map_err(|e| Ended::Card(e.to_string()))?;
    let done = api.add_card(files).await?;
    done.id.map(CardName).ok_or(Ended::Card(done.said))
}

/// Enough sheets of the card in the queue; what is missing is added as a batch.
async fn wanted_sheets(api: &Api, card: &CardName, sheets: u32) -> Result<(), Ended> {
    let open = |stage: Stage| stage != Stage::Closed && stage != Stage::SetAside;
    let there = api.sheets().await?.sheets.into_iter().filter(|s| s.card == *card && open(s.stage)).count();
    let missing = sheets.saturating_sub(u32::try_from(there).unwrap_or(u32::MAX));
    if missing > 0 {
        api.add_batch(card.clone(), missing, None, None).await?;
    }
    Ok(())
}
