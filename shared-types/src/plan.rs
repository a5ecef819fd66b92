//! The plan of the day: when what runs, and when somebody is needed.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A minute of a plan, counted from the plan's own zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minute(pub u32);

/// A number of whole minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

impl Minute {
    /// So much later.
    #[must_use]
    pub const fn after(self, wait: Minutes) -> Self {
        Self(self.0.saturating_add(wait.0))
    }

    /// How long after an earlier one; nothing when that one is later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Minutes {
        Minutes(self.0.saturating_sub(earlier.0))
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} min", self.0)
    }
}
