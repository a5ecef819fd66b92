//! `people` and `token` as they are typed.
//!
//! May live here: names and shapes. May not: what a verb does.

use super::when::When;
use chargehand_types::stage::Role;
use clap::{Subcommand, ValueEnum};

/// A role as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RoleWord {
    /// Was shown the machine; works by the lists.
    Helper,
    /// Sets up, signs findings, decides after faults.
    Owner,
}

impl RoleWord {
    /// The role.
    #[must_use]
    pub const fn role(self) -> Role {
        match self {
            Self::Helper => Role::Helper,
            Self::Owner => Role::Owner,
        }
    }
}

/// `people`
#[derive(Debug, Subcommand)]
pub enum PeopleVerb {
    /// Add somebody besides those whom daemon.toml names; asks for their PIN
    Add {
        /// Who
        name: String,
        /// What they may do
        #[arg(long, value_enum)]
        role: RoleWord,
        /// Without a PIN for now: it is set later
        #[arg(long)]
        no_pin: bool,
        /// The owner who does it; the only one when left out
        #[arg(long = "as", value_name = "NAME")]
        by: Option<String>,
    },
    /// Set somebody's PIN, or set it anew; the first one is an owner's
    Pin {
        /// Whose
        name: String,
        /// Who does it: an owner, or whose PIN it is; the only owner when left out
        #[arg(long = "as", value_name = "NAME")]
        by: Option<String>,
    },
    /// Take somebody's PIN away, and with it whoever was added
    Remove {
        /// Who
        name: String,
        /// The owner who does it; the only one when left out
        #[arg(long = "as", value_name = "NAME")]
        by: Option<String>,
    },
    /// Who works here, who has a PIN, who is locked out
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// What was refused for want of a right: who, when, from where
    Refusals {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
}

/// `token`
#[derive(Debug, Subcommand)]
pub enum TokenVerb {
    /// Make a token for another machine; it is shown once
    Add {
        /// What it is called
        name: String,
        /// helper: looks and holds; owner: also adds cards and batches. None moves the machine
        #[arg(long, value_enum)]
        role: RoleWord,
        /// Until when it counts: 2026-03-14, "2026-03-14 12:00", or RFC 3339
        #[arg(long, value_name = "WHEN")]
        expires: When,
        /// The owner who does it; the only one when left out
        #[arg(long = "as", value_name = "NAME")]
        by: Option<String>,
    },
    /// The tokens there are, but for themselves
    List {
        /// One JSON document on stdout
        #[arg(long)]
        json: bool,
    },
    /// Take a token back: it counts no longer
    Revoke {
        /// What it is called
        name: String,
        /// The owner who does it; the only one when left out
        #[arg(long = "as", value_name = "NAME")]
        by: Option<String>,
    },
}
