//! A card drafted from programs: what is sent, what comes back, what only a person can know.

use crate::finding::Finding;
use crate::id::CardName;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// `POST /v1/drafts`. Nothing is stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DraftRequest {
    /// What the card is to be called.
    pub name: CardName,
    /// Its programs, in the order they were given.
    pub programs: Vec<DraftProgram>,
    /// What the person said already, by the key of a [`Question`]; also settles what would be assumed.
    #[serde(default)]
    pub answers: BTreeMap<String, String>,
}

/// A program of a card to be drafted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DraftProgram {
    /// The path the card will give, from the card's folder.
    pub path: String,
    /// Its bytes in base 64.
    pub bytes: String,
}

/// What a draft answers; also `chargehand card new --json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Draft {
    /// 1.
    pub schema: u32,
    /// The card's name.
    pub name: CardName,
    /// The card's text. Where something is missing, a line that begins with `# ??` says so.
    pub text: String,
    /// What was taken from the programs or from what is usual, one sentence each.
    pub assumed: Vec<String>,
    /// What only a person can know.
    pub missing: Vec<Question>,
    /// What the check of the drafted card found; empty while something is missing.
    pub findings: Vec<Finding>,
}

/// Something only a person can know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Question {
    /// The key of its answer, such as `thickness` or `bit.slots`.
    pub key: String,
    /// What is asked, one sentence.
    pub asks: String,
    /// The answers there are; empty when any will do.
    #[serde(default)]
    pub choices: Vec<String>,
    /// What is likely.
    #[serde(default)]
    pub suggested: Option<String>,
}
