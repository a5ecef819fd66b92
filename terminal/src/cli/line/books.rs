//! The lines of `chargehand bit`, `chargehand sheet correct` and the rests of `chargehand stock`.
//!
//! May live here: their words and options. May not: what is done with them.

use super::history::GradeWord;
use super::{millimetres, number};
use chargehand_types::bits::BitFigures;
use chargehand_types::quantity::{Length, Metres};
use chargehand_types::stage::Reason;
use clap::{Args, Subcommand};

/// Why something is written down, and by whom.
#[derive(Debug, Args)]
pub struct Because {
    /// Why
    #[arg(long, value_name = "TEXT")]
    pub why: String,
    /// Who says so; signs in as them at the machine
    #[arg(long, value_name = "NAME")]
    pub who: Option<String>,
}

/// `sheet correct`
#[derive(Debug, Subcommand)]
pub enum FixVerb {
    /// How a part came out
    Part {
        /// Its number on the sheet, from 1
        #[arg(value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        number: u32,
        /// How it came out
        #[arg(long, value_enum, value_name = "GRADE")]
        grade: GradeWord,
        /// Why it is not good: torn-face, fuzzy, burnt-edge, tab-scar, came-loose, slot-tight, slot-loose, delaminated,
        /// wrong-size, other
        #[arg(long, value_name = "REASON", value_parser = reason)]
        reason: Option<Reason>,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        because: Because,
    },
    /// What the caliper read: one reading, or several with commas between
    Thickness {
        /// The readings
        #[arg(value_name = "MM", value_parser = millimetres, value_delimiter = ',', required = true)]
        readings: Vec<Length>,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        because: Because,
    },
    /// What was written down
    Note {
        /// Its number on the sheet, from 1
        #[arg(value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        number: u32,
        /// How it should read
        text: String,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        because: Because,
    },
}

/// Measures of a bit.
#[derive(Debug, Clone, Copy, Args)]
pub struct FiguresLine {
    /// Across its cutting edge
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    pub diameter: Option<Length>,
    /// How far it stands out of the collet
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    pub stick_out: Option<Length>,
    /// Compression only: the part of its tip that cuts upwards
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    pub tip: Option<Length>,
    /// How much of it has edges
    #[arg(long, value_name = "MM", value_parser = millimetres)]
    pub cutting_length: Option<Length>,
}

impl From<FiguresLine> for BitFigures {
    fn from(line: FiguresLine) -> Self {
        let FiguresLine { diameter, stick_out, tip, cutting_length } = line;
        Self { diameter, stick_out, tip, cutting_length }
    }
}

/// `bit`
#[derive(Debug, Subcommand)]
pub enum BitVerb {
    /// Every physical bit: its number, measures, way, regrinds
    List {
        /// Those that are scrapped too
        #[arg(long)]
        all: bool,
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Give a physical bit its own number, which it keeps until it is scrapped
    New {
        /// Of which kind: its name in bits.toml
        #[arg(value_name = "NAME")]
        bit: String,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        figures: FiguresLine,
        /// How far it had cut before
        #[arg(long, value_name = "METRES", value_parser = metres)]
        used: Option<Metres>,
        /// Who says so; signs in as them at the machine
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Write down what was measured of one; what is left out stays as it was
    Measure {
        /// Its number
        number: u32,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        figures: FiguresLine,
        /// It was ground anew: its wear counts from here
        #[arg(long)]
        reground: bool,
        /// Who says so; signs in as them at the machine
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Take one out of use for good
    Scrap {
        /// Its number
        number: u32,
        #[command(flatten)]
        #[allow(missing_docs, reason = "told at its own type")]
        because: Because,
    },
}

/// `upkeep`
#[derive(Debug, Subcommand)]
pub enum UpkeepVerb {
    /// Something is done; it counts from here
    Done {
        /// Its name in daemon.toml
        name: String,
        /// Who did it; signs in as them at the machine
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
}

fn metres(text: &str) -> Result<Metres, String> {
    let value = number(text.trim_end_matches('m'))?;
    if value < 0.0 {
        return Err("a bit has not cut less than nothing; give metres".to_owned());
    }
    Metres::new(value).map_err(|e| e.to_string())
}

fn reason(text: &str) -> Result<Reason, String> {
    let known = serde_json::from_value(serde_json::Value::String(text.to_lowercase()));
    known.map_err(|_| {
        "that is no reason; there are torn-face, fuzzy, burnt-edge, tab-scar, came-loose, slot-tight, slot-loose, delaminated, wrong-size, other".to_owned()
    })
}
