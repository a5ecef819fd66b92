//! Names of things: revisions, sheets, batches, commands, terminals, people.

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! name {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result { f.write_str(&self.0) }
        }
        impl From<&str> for $name {
            fn from(s: &str) -> Self { Self(s.to_owned()) }
        }
        impl From<String> for $name {
            fn from(s: String) -> Self { Self(s) }
        }
    };
}

name!(
    /// A card's name, unique in the shop.
    CardName
);
name!(
    /// A card's revision: SHA-256, in hex, over what changes the cut or the checks.
    Revision
);
name!(
    /// A batch, `B1`, `B2`, … in the order they were added.
    BatchId
);
name!(
    /// A sheet, `B1-1`, `B1-2`, …: its batch and its number in it.
    SheetId
);
name!(
    /// Made by the client; a repeated one gets the first answer.
    CommandId
);
name!(
    /// A terminal, by the name it gave itself.
    TerminalId
);
name!(
    /// A person of the shop, as config names them.
    Person
);
name!(
    /// A kind of bit of the shop: its key in `bits.toml`. Each physical one has a [`BitNumber`] beside it.
    BitName
);

/// A physical bit's own number, from its first use to scrap. It is scratched into the shank or written on a tag, and is
/// never given to another bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BitNumber(pub u32);

impl fmt::Display for BitNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Where an event stands in the journal: 1, 2, 3 … without a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seq(pub u64);

impl fmt::Display for Seq {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Counts every change of what a person may be looking at; a confirmation names the one it was made against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StageVersion(pub u64);
