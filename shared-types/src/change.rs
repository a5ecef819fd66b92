//! What changed between two revisions of a card, in words of the trade, and which signatures still stand.

use crate::finding::Code;
use crate::id::{CardName, Revision};
use serde::{Deserialize, Serialize};

/// What kind of thing changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChangeKind {
    /// Material, size, thickness, zero, corner.
    Sheet,
    /// Fastener, places, margin.
    HoldDown,
    /// An operation came or went.
    Operation,
    /// What comes after what.
    Order,
    /// The bit.
    Bit,
    /// The spindle speed.
    Speed,
    /// The feed of cuts sideways.
    Feed,
    /// The feed of plunges.
    PlungeFeed,
    /// The depth of each pass.
    Depths,
    /// How the bit gets down into the wood.
    Entry,
    /// Tabs, or what else is left.
    Tabs,
    /// Where it cuts.
    Place,
    /// In which order it cuts its runs.
    Runs,
    /// How far it cuts.
    Way,
    /// How far it travels between cuts.
    Rapids,
    /// How long it takes.
    Time,
    /// The program is written otherwise and cuts the same.
    Writing,
}

/// One thing that changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// The operation; none for the card as a whole.
    pub operation: Option<String>,
    /// What kind of thing.
    pub kind: ChangeKind,
    /// One sentence: what it is now, and what it was before.
    pub says: String,
}

/// A signature of the earlier revision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// Of which finding.
    pub code: Code,
    /// In which operation, as far as the earlier check tells.
    pub operation: Option<String>,
    /// Who signed.
    pub by: Option<String>,
    /// Whether it covers a finding of the later revision.
    pub stands: bool,
}

/// `GET /v1/cards/{name}/changes`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CardChanges {
    /// 1.
    pub schema: u32,
    /// The card.
    pub card: CardName,
    /// Number and revision of the earlier one.
    pub before: (u32, Revision),
    /// Number and revision of the later one.
    pub after: (u32, Revision),
    /// What changed, the card first, then by operation in the order of cutting.
    pub changes: Vec<Change>,
    /// Signatures of the earlier one.
    pub signatures: Vec<Signature>,
}
