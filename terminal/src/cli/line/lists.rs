//! `lists` as it is typed.
//!
//! May live here: names and shapes. May not: what a verb does; that is in its own file.

use chargehand_types::checklist::ListKind;
use clap::{Subcommand, ValueEnum};

/// `lists`
#[derive(Debug, Clone, PartialEq, Eq, Subcommand)]
pub enum ListsVerb {
    /// Walk one, step by step; where the input ends it is put down and its place kept
    Walk {
        /// Which
        #[arg(value_enum)]
        list: ListWord,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
}

/// A list of the day as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ListWord {
    /// Before anything is begun.
    Opening,
    /// Before the shop is left.
    Closing,
    /// From one person to the next.
    HandOver,
    /// The power was off in the middle of work.
    AfterPowerCut,
}

impl From<ListWord> for ListKind {
    fn from(word: ListWord) -> Self {
        match word {
            ListWord::Opening => Self::Opening,
            ListWord::Closing => Self::Closing,
            ListWord::HandOver => Self::HandOver,
            ListWord::AfterPowerCut => Self::AfterPowerCut,
        }
    }
}
