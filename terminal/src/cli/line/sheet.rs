//! The lines of `chargehand sheet`.
//!
//! May live here: their words and options. May not: what is done with them.

use super::{FixVerb, millimetres};
use chargehand_types::quantity::Length;
use chargehand_types::stage::Decision;
use clap::{Subcommand, ValueEnum};
use std::path::PathBuf;

/// `sheet`
#[derive(Debug, Subcommand)]
pub enum SheetVerb {
    /// Every sheet, in the order they would be cut
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Everything known of one
    Show {
        /// Its id, such as B3-2, or the code on its label, such as B12N3-W
        id: String,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Hold a measured joint against the card: what is off, how much of it is the bit's, what to do; written down
    Fit {
        /// The sheet's id, such as B3-2
        id: String,
        /// A [[fit]] of its card
        fit: String,
        /// The slot as cut
        #[arg(long, value_name = "MM", value_parser = millimetres)]
        slot: Length,
        /// The thickness of what goes in
        #[arg(long, value_name = "MM", value_parser = millimetres)]
        mate: Length,
        /// The bit that cut the slot, by its name or its own number, where several cut on the sheet
        #[arg(long, value_name = "BIT")]
        bit: Option<String>,
    },
    /// Its job card on one page to print and lay with it: drawing, operations, fasteners, its label as a QR code
    Print {
        /// The sheet's id, such as B3-2, or the code on its label
        id: String,
        /// Write the page into this file
        #[arg(short, long, value_name = "FILE.html")]
        output: PathBuf,
    },
    /// Approve a first article: the good sheet that came first of its revision (the owner says so)
    Approve {
        /// Its id or the code on its label
        id: String,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Say how its record should have read; the first record stays, and both are shown
    Correct {
        /// The sheet's id, such as B3-2, or the code on its label
        id: String,
        /// What
        #[command(subcommand)]
        fix: FixVerb,
    },
    /// Say from which lot its material is
    Lot {
        /// The sheet's id, such as B3-2, or the code on its label
        id: String,
        /// As the supplier marks it
        lot: String,
        /// Who says so; signs in as them at the machine
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Decide about a stopped sheet
    Decide {
        /// Its id, such as B3-2
        id: String,
        /// What
        #[arg(value_enum)]
        decision: DecisionWord,
        /// With re-enter: the line of the program
        #[arg(long, value_name = "N")]
        line: Option<u32>,
        /// Was the red button pressed, the power off, or the carriage moved or stalled?
        #[arg(long, value_enum, value_name = "ANSWER")]
        red_button: Option<YesNo>,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
}

/// A decision as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum DecisionWord {
    /// Go on at a line of the program
    ReEnter,
    /// Cut the operation again from its start
    Restart,
    /// Where it ran to its end before the stop reached it: go on to what comes next
    Next,
    /// Take the sheet off, to be taken up again or ended
    SetAside,
    /// End it; good parts still count
    End,
}

impl From<DecisionWord> for Decision {
    fn from(word: DecisionWord) -> Self {
        match word {
            DecisionWord::ReEnter => Self::ReEnter,
            DecisionWord::Restart => Self::Restart,
            DecisionWord::Next => Self::Next,
            DecisionWord::SetAside => Self::SetAside,
            DecisionWord::End => Self::End,
        }
    }
}

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs, reason = "the words themselves")]
pub enum YesNo {
    Yes,
    No,
}
