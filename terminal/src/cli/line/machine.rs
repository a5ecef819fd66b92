//! `machine` as it is typed.
//!
//! May live here: names and shapes. May not: what a verb does; that is in its own file.

use clap::{Args, Subcommand};

/// `machine`
#[derive(Debug, Args)]
pub struct MachineLine {
    /// What to do; the status when left out
    #[command(subcommand)]
    pub verb: Option<MachineVerb>,
}

/// What `machine` can do.
#[derive(Debug, Subcommand)]
pub enum MachineVerb {
    /// How it stands
    Status {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Find home, once the bit is free and the way is clear
    Home {
        /// Say that the bit is free of the wood and the way is clear
        #[arg(long)]
        way_clear: bool,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Lower the bit onto the touch plate and take the Z zero from it; touch bit and plate together first
    Touch {
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// The waste board was surfaced or changed: forget the holes in it (the owner says so)
    NewBoard {
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Feeds at so much per cent of what is written; a helper from 50 to 110
    Feed {
        /// In whole tens
        per_cent: u16,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Rapids at 25, 50 or 100 per cent
    Rapid {
        /// 25, 50 or 100
        per_cent: u16,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Stepping away from a running sheet: whether it may be left, and the cautions that the owner signs first
    Away {
        /// The owner has read the cautions and signs them
        #[arg(long)]
        sign: bool,
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Somebody is still there: the answer while a sheet runs with nobody signed in
    Here,
    /// Feed hold; the bit keeps turning
    Hold {
        /// Not at once: at the next lift out of the material
        #[arg(long)]
        at_lift: bool,
    },
    /// Go on after a hold or a prompt
    Resume {
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// After a hold: bit up, the place kept
    Raise {
        /// Who stands at the machine; signs in as them
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// End the motion for good; a person decides about the sheet
    Stop,
}
