//! The line of `chargehand restore`.
//!
//! May live here: its words and options. May not: what is done with them.

use clap::Args;
use std::path::PathBuf;

/// `restore`
#[derive(Debug, Args)]
pub struct RestoreLine {
    /// The backup
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The store's folder; the config's when left out
    #[arg(long, value_name = "DIR")]
    pub store: Option<PathBuf>,
    /// The daemon's config, which names the store
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Only say whether the backup is whole
    #[arg(long)]
    pub check: bool,
}
