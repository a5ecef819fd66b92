//! The command line as it is typed: verbs, their arguments, their help.
//!
//! May live here: names and shapes. May not: what a verb does; that is in its own file.

mod books;
mod history;
mod lists;
mod machine;
mod restore;
mod sheet;

pub use books::{BitVerb, FixVerb, UpkeepVerb};
pub use history::{HistoryLine, HistoryOf};
pub use lists::ListsVerb;
pub use machine::{MachineLine, MachineVerb};
pub use restore::RestoreLine;
pub use sheet::{DecisionWord, SheetVerb, YesNo};

use super::people_line::{PeopleVerb, TokenVerb};
use super::when::When;
use chargehand_types::quantity::{Length, Metres, Spot};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// The terminal at the machine, and the command line of Chargehand.
///
/// Without a command the terminal opens. It is no emergency stop: that is the red button at the machine.
#[derive(Debug, Parser)]
#[command(name = "chargehand", version, max_term_width = 80)]
#[command(
    after_help = "Exit codes: 0 done, 1 the answer is no, 2 wrong use, 3 no daemon answers,\n4 refused by a start condition or for lack of permission, 5 something needed is\nmissing, malformed or busy."
)]
pub struct Line {
    /// The daemon's socket [environment: CHARGEHAND_SOCKET]
    #[arg(long, global = true, value_name = "PATH")]
    pub socket: Option<PathBuf>,
    /// The daemon's URL, where it listens on a network [environment: CHARGEHAND_URL];
    /// CHARGEHAND_CERTIFICATE and CHARGEHAND_TOKEN_FILE name the files that go with it
    #[arg(long, global = true, value_name = "URL")]
    pub url: Option<String>,
    /// How the sheet is drawn; by the terminal when left out [environment: CHARGEHAND_SYMBOLS]
    #[arg(long, global = true, value_enum, value_name = "KIND")]
    pub symbols: Option<SymbolsWanted>,
    /// Language of the screens: en, es, or a file of texts of your own; else CHARGEHAND_LANGUAGE or the locale says
    #[arg(long, global = true, value_name = "LANGUAGE")]
    pub language: Option<String>,
    /// Unit in which wood is read on the screens; the machine stays millimetre [environment: CHARGEHAND_UNITS]
    #[arg(long, global = true, value_enum, value_name = "UNIT")]
    pub units: Option<UnitsWanted>,
    /// What to do
    #[command(subcommand)]
    pub verb: Option<Verb>,
}

/// In what wood may be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitsWanted {
    /// Millimetres.
    Mm,
    /// Inches and their fractions.
    Inch,
}

/// How the sheet may be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SymbolsWanted {
    /// Dots of Braille, the finest.
    Braille,
    /// Half blocks, for a text console.
    Block,
    /// Plain ASCII.
    Ascii,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// A practice shop: daemon, simulated machine, demo batch, terminal
    Demo {
        /// Play the operator's part by rule, without a screen
        #[arg(long)]
        hands_free: bool,
        /// Keep the practice shop in this folder instead of a passing one
        #[arg(long, value_name = "DIR")]
        keep: Option<PathBuf>,
    },
    /// Judge a card and its programs against this shop
    Check(CheckLine),
    /// Where the fasteners of a card go, and a drawing to hang at the machine
    Holddown(HolddownLine),
    /// Cards: draft, add, list, show
    #[command(subcommand)]
    Card(CardVerb),
    /// Batches: add, list, show, cancel
    #[command(subcommand)]
    Batch(BatchVerb),
    /// Physical bits by their own numbers: new, measure, scrap, list
    #[command(subcommand)]
    Bit(BitVerb),
    /// Sheets in stock: count, list; rests of sheets that are cut
    #[command(subcommand)]
    Stock(StockVerb),
    /// The plan of the day: what runs, and when somebody is needed
    Plan(PlanLine),
    /// The machine: how it stands, hold, go on
    Machine(MachineLine),
    /// Sheets: list, show, decide about a stopped one
    #[command(subcommand)]
    Sheet(SheetVerb),
    /// What of the machine is to be kept up: what is due, who did it last; or say that it is done
    Upkeep {
        /// What to do; the list when left out
        #[command(subcommand)]
        verb: Option<UpkeepVerb>,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Take sheets into the history that were cut before Chargehand, from a table
    BringIn(super::bring_in::BringInLine),
    /// What was cut, when, by whom, and how it came out
    History(HistoryLine),
    /// A batch on one page for a browser or two printed sides: figures, charts, where it happened
    Report {
        /// Its id, such as B3
        batch: String,
        /// Write the page into this file
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
    },
    /// Is everything in place: config, port, store, clock, disk
    Doctor(DoctorLine),
    /// The lists of the day: who did them last, which are due; or walk one here
    Lists {
        /// What to do; how they stand when left out
        #[command(subcommand)]
        verb: Option<ListsVerb>,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// The short cards behind "something is wrong", to read or to print
    Trouble {
        /// Which card, by its word; every card by its title when left out
        #[arg(value_name = "CARD")]
        card: Option<String>,
    },
    /// What could not be told to people outside the shop
    Notices {
        /// What to do; the list when left out
        #[command(subcommand)]
        verb: Option<NoticesVerb>,
        /// One JSON document on stdout
        #[arg(long, global = true)]
        json: bool,
    },
    /// Write the shop's store into a file, while the daemon runs; checked as it comes in
    Backup {
        /// The file; an older backup of this name is replaced once the new one is whole
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Write a backup into an empty store, while no daemon runs
    Restore(RestoreLine),
    /// Who may sign in, and with which PIN; what was refused
    #[command(subcommand)]
    People(PeopleVerb),
    /// Tokens for other machines: they look, hold, and add work, and move nothing
    #[command(subcommand)]
    Token(TokenVerb),
    /// Completions of this command line for a shell, on stdout
    Completions {
        /// Which shell
        #[arg(value_enum)]
        shell: ShellWord,
    },
    /// The manual page, on stdout; with --into, one page a command
    Man {
        /// Write the pages into this folder
        #[arg(long, value_name = "DIR")]
        into: Option<PathBuf>,
    },
    /// The event stream as JSON Lines, until interrupted
    Events {
        /// After this sequence number; 0 for everything. Left out, only what is new
        #[arg(long, value_name = "SEQ")]
        since: Option<u64>,
    },
}

/// `notices`
#[derive(Debug, Clone, Copy, PartialEq, Eq, Subcommand)]
pub enum NoticesVerb {
    /// Try every way once: whoever is called by it gets a word that it is a try
    Test,
    /// Show calls on this desktop, until interrupted (run it within your desktop session)
    Desktop,
}

/// A shell that completions are made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs, reason = "the names themselves")]
pub enum ShellWord {
    Bash,
    Zsh,
    Fish,
}

/// `check`
#[derive(Debug, Args)]
pub struct CheckLine {
    /// The card's file
    #[arg(value_name = "CARDFILE")]
    pub card: PathBuf,
    /// The caliper reading, or up to four with commas between, one for each corner; the card's thickness when left out
    #[arg(long, value_name = "MM", value_parser = millimetres, value_delimiter = ',')]
    pub thickness: Vec<Length>,
    /// Work zero so much above where it is touched off, at most the card's z_shift_max; downwards is negative
    #[arg(long = "z-shift", value_name = "MM", value_parser = shift, allow_hyphen_values = true)]
    pub z_shift: Option<Length>,
    /// How far a bit has cut already
    #[arg(long = "bit-used", value_name = "BIT=METRES", value_parser = bit_used)]
    pub bit_used: Vec<(String, Metres)>,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
}

/// `holddown`
#[derive(Debug, Args)]
pub struct HolddownLine {
    /// The card's file
    #[arg(value_name = "CARDFILE")]
    pub card: PathBuf,
    /// Propose places for this fastener of fasteners.toml; the card's own when left out
    #[arg(long, value_name = "NAME")]
    pub fastener: Option<String>,
    /// Measure this place, in work coordinates
    #[arg(long, value_name = "X,Y", value_parser = place, allow_hyphen_values = true)]
    pub at: Vec<Spot>,
    /// The caliper reading; the card's thickness when left out
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    pub thickness: Option<Length>,
    /// The sheet is bowed: one place more
    #[arg(long)]
    pub bowed: bool,
    /// Write the drawing here
    #[arg(short, long, value_name = "FILE.svg")]
    pub output: Option<PathBuf>,
    /// Write a program here that marks the places with a shallow dimple
    #[arg(long, value_name = "FILE.nc")]
    pub mark: Option<PathBuf>,
    /// Write a program here that hovers over the places, router off
    #[arg(long, value_name = "FILE.nc")]
    pub hover: Option<PathBuf>,
    /// With -o: the paper
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PaperWord,
    /// With -o: what is on the tape measure
    #[arg(long, value_enum, default_value = "mm")]
    pub tape: TapeWord,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
}

/// Paper as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs, reason = "the words themselves")]
pub enum PaperWord {
    A4,
    Letter,
}

/// A tape measure as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TapeWord {
    /// Millimetres.
    Mm,
    /// Inches and sixteenths.
    Inch,
}

/// `card`
#[derive(Debug, Subcommand)]
pub enum CardVerb {
    /// Draft a card from programs; asks only what it cannot know
    New(NewLine),
    /// Add a card, or a new revision of it
    Add {
        /// The card's file
        #[arg(value_name = "CARDFILE")]
        card: PathBuf,
    },
    /// Every card
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// One card, its revisions and findings
    Show {
        /// Its name
        name: String,
        /// Of this revision instead of the newest
        #[arg(long, value_name = "N")]
        revision: Option<u32>,
        /// What changed in it against the revision before
        #[arg(long)]
        changes: bool,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
}

/// `card new`
#[derive(Debug, Args)]
pub struct NewLine {
    /// What the card is to be called; it is written to NAME/NAME.card.toml
    pub name: String,
    /// Its programs, in the order they are to be cut where it does not matter; copied beside the card
    #[arg(value_name = "PROGRAM", required = true)]
    pub programs: Vec<PathBuf>,
    /// An answer given beforehand, such as parts=4, thickness=18, bit.slots=c635
    #[arg(long = "answer", value_name = "KEY=VALUE", value_parser = answer)]
    pub answers: Vec<(String, String)>,
    /// Draft anew over a card that lies there already
    #[arg(long)]
    pub replace: bool,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
}

/// `batch`
#[derive(Debug, Subcommand)]
pub enum BatchVerb {
    /// Put sheets of a card into the queue, or those of all cards that whole sets of a product need
    Add {
        /// The card's name
        #[arg(required_unless_present = "product", conflicts_with = "product", requires = "sheets")]
        name: Option<String>,
        /// How many sheets
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
        sheets: Option<u32>,
        /// A product of daemon.toml in place of a card
        #[arg(long, value_name = "NAME", requires = "sets", conflicts_with = "sheets")]
        product: Option<String>,
        /// How many sets of it
        #[arg(long, value_name = "N", requires = "product", value_parser = clap::value_parser!(u32).range(1..=10_000))]
        sets: Option<u32>,
        /// When they are due: 2026-03-14, "2026-03-14 12:00", or RFC 3339
        #[arg(long, value_name = "WHEN")]
        due: Option<When>,
        /// How much that matters; 1 when left out
        #[arg(long, value_name = "W", value_parser = weight)]
        weight: Option<f64>,
    },
    /// Every batch
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// One batch
    Show {
        /// Its id, such as B3
        id: String,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Give up what a batch has not begun
    Cancel {
        /// Its id, such as B3
        id: String,
    },
}

/// `stock`
#[derive(Debug, Subcommand)]
pub enum StockVerb {
    /// Say how many sheets of a kind are there, sawn and not yet begun
    Count {
        /// Its name in daemon.toml
        name: String,
        /// How many
        sheets: u32,
    },
    /// Sheets there and wanted, panels to buy
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Rests of sheets that are cut: the largest rectangle of each
    Left {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// A rest is there no more
    Gone {
        /// The sheet it was of, such as B3-2, or the code on its label
        sheet: String,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        because: books::Because,
    },
}

/// `plan`
#[derive(Debug, Args)]
pub struct PlanLine {
    /// What it would be: presence="2026-03-12 09:00-13:00" (or "2026-03-12 none"), sheets=B2+3 (or B2-1)
    ///
    /// Changes nothing. May be given several times, or with commas between.
    #[arg(long, value_name = "KEY=WHAT", value_parser = what_if)]
    pub what_if: Vec<(String, String)>,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
    /// A calendar file (RFC 5545) on stdout, one event for each time somebody is needed
    #[arg(long, conflicts_with = "json")]
    pub ics: bool,
}

fn what_if(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((key @ ("presence" | "sheets"), what)) if !what.trim().is_empty() => Ok((key.to_owned(), what.to_owned())),
        _ => Err("write presence=DATE FROM-TO, presence=DATE none, sheets=BATCH+N or sheets=BATCH-N".to_owned()),
    }
}

/// `doctor`
#[derive(Debug, Args)]
pub struct DoctorLine {
    /// The config to check when no daemon answers; with --talk, the one whose controllers/ folder is tried first
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// With --talk: the port to ask; no daemon may have it open
    #[arg(long, value_name = "PORT", requires = "talk")]
    pub port: Option<String>,
    /// Ask what is at the port for a report; say in plain words what it answers, and which profile fits
    #[arg(long, requires = "port")]
    pub talk: bool,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
}

fn number(text: &str) -> Result<f64, String> {
    let value: f64 = text.trim().replace(',', ".").parse().map_err(|_| format!("{text:?} is no number"))?;
    if value.is_finite() { Ok(value) } else { Err(format!("{text:?} is no number to use here")) }
}

fn millimetres(text: &str) -> Result<Length, String> {
    let value = number(text.trim_end_matches("mm"))?;
    if value <= 0.0 {
        return Err("a sheet is thicker than nothing; give millimetres".to_owned());
    }
    Length::from_mm(value).map_err(|e| e.to_string())
}

fn shift(text: &str) -> Result<Length, String> {
    Length::from_mm(number(text.trim_end_matches("mm"))?).map_err(|e| e.to_string())
}

fn place(text: &str) -> Result<Spot, String> {
    let (x, y) = text.split_once(',').ok_or("write it as X,Y in millimetres, such as 20,590.5")?;
    let mm = |text: &str| {
        let value: f64 = text.trim().parse().map_err(|_| format!("{text:?} is no number"))?;
        Length::from_mm(value).map_err(|e| e.to_string())
    };
    Ok(Spot { x: mm(x)?, y: mm(y)? })
}

fn weight(text: &str) -> Result<f64, String> {
    match number(text)? {
        value if value > 0.0 => Ok(value),
        _ => Err("a weight is more than 0".to_owned()),
    }
}

fn answer(text: &str) -> Result<(String, String), String> {
    let wrong = || "write it as KEY=VALUE, such as thickness=18".to_owned();
    let (key, value) = text.split_once('=').ok_or_else(wrong)?;
    let (key, value) = (key.trim(), value.trim());
    if key.is_empty() || value.is_empty() { Err(wrong()) } else { Ok((key.to_owned(), value.to_owned())) }
}

fn bit_used(text: &str) -> Result<(String, Metres), String> {
    let (bit, metres) = text.split_once('=').ok_or("write it as BIT=METRES, such as c635=420")?;
    let value = number(metres.trim_end_matches('m'))?;
    if bit.trim().is_empty() || value < 0.0 {
        return Err("write it as BIT=METRES, such as c635=420".to_owned());
    }
    Ok((bit.trim().to_owned(), Metres::new(value).map_err(|e| e.to_string())?))
}
