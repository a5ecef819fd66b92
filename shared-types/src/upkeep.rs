//! Upkeep of the machine: what is to be done after so many hours, metres or days, and who did it last.

use crate::event::Actor;
use crate::id::CommandId;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// One thing to be kept up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UpkeepRow {
    /// Its name in config.
    pub name: String,
    /// What is to be done.
    pub what: String,
    /// Hours in motion since, and after how many it is due; none where hours do not count.
    pub hours: Option<[f64; 2]>,
    /// The same in metres cut.
    pub metres: Option<[f64; 2]>,
    /// The same in days.
    pub days: Option<[f64; 2]>,
    /// Whether any of them is over.
    pub due: bool,
    /// Who did it last, and when; none when nobody did yet.
    pub done: Option<(Option<Actor>, DateTime<Utc>)>,
}

/// `GET /v1/upkeep`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UpkeepList {
    /// 1.
    pub schema: u32,
    /// In the order of config.
    pub upkeep: Vec<UpkeepRow>,
}

/// `POST /v1/upkeep/{name}/done`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UpkeepDone {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
}
