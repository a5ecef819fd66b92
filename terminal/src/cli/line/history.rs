//! The line of `chargehand history`.
//!
//! May live here: its words and options. May not: what is done with them.

use super::When;
use clap::{Args, ValueEnum};

/// `history`
#[derive(Debug, Args)]
pub struct HistoryLine {
    /// Of what; sheets when left out
    #[arg(value_enum, default_value = "sheets")]
    pub of: HistoryOf,
    /// From when on: 2026-03-14, "2026-03-14 12:00", or RFC 3339
    #[arg(long, value_name = "WHEN")]
    pub since: Option<When>,
    /// Of this card alone; revisions of one card are told with what was changed in each
    #[arg(long, value_name = "NAME")]
    pub card: Option<String>,
    /// Of this batch alone
    #[arg(long, value_name = "ID")]
    pub batch: Option<String>,
    /// Only sheets this bit cut on
    #[arg(long, value_name = "NAME")]
    pub bit: Option<String>,
    /// Only sheets that came out so
    #[arg(long, value_enum, value_name = "GRADE")]
    pub grade: Option<GradeWord>,
    /// No more than the newest so many sheets
    #[arg(long, value_name = "N")]
    pub newest: Option<u32>,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
    /// A table on stdout (RFC 4180)
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// How a sheet came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum GradeWord {
    /// Fit for use
    Good,
    /// Fit after more work
    Rework,
    /// Not fit
    Scrap,
}

impl From<GradeWord> for chargehand_types::stage::Grade {
    fn from(word: GradeWord) -> Self {
        match word {
            GradeWord::Good => Self::Good,
            GradeWord::Rework => Self::Rework,
            GradeWord::Scrap => Self::Scrap,
        }
    }
}

/// What history is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum HistoryOf {
    /// One record a sheet
    Sheets,
    /// What came of each revision of a card, side by side
    Revisions,
    /// How far each bit has cut, and in what
    Bits,
    /// What of the machine was kept up, and when it is due again
    Upkeep,
    /// What closed sheets took and what a good part cost, by batch and by day
    Effort,
}
