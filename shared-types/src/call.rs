//! A call for a person: why, and what to do.

use serde::{Deserialize, Serialize};

/// Why somebody is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CallReason {
    /// Something is wrong, said a person.
    Trouble,
    /// A sheet stopped.
    Stopped,
    /// The link was lost.
    LinkLost,
    /// The program asks for a person.
    Prompt,
    /// An operation is finished.
    OperationDone,
    /// Nobody answered whether somebody is still there.
    StillThere,
    /// A closing touch was off: what was cut since the zero may be too deep or not deep enough.
    Suspect,
    /// Held from afar.
    HeldFromAfar,
    /// The store fails.
    Store,
}

/// An open call.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Call {
    /// Counts up in the shop.
    pub number: u64,
    /// Why.
    pub reason: CallReason,
    /// What happened and what to do, as sentences.
    pub text: String,
}
