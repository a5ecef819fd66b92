//! Which commands were already answered, so that a repeated one gets its first answer.
//!
//! May live here: the bounded memory of command ids. May not: the answers themselves; they follow from the events.

use chargehand_types::id::{CommandId, Seq};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Commands remembered. A client repeats a command within seconds; this is days of work in a small shop.
pub const KEPT: usize = 1_000;

/// The last [`KEPT`] commands and the first event each caused.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(from = "Vec<(Seq, CommandId)>", into = "Vec<(Seq, CommandId)>")]
pub struct Answered {
    by_seq: BTreeMap<Seq, CommandId>,
    by_id: BTreeMap<CommandId, Seq>,
}

impl Answered {
    /// Remembers the first event of a command; later ones of the same command change nothing.
    pub(in crate::ledger) fn remember(&mut self, command: &CommandId, seq: Seq) {
        if self.by_id.contains_key(command) {
            return;
        }
        self.by_id.insert(command.clone(), seq);
        self.by_seq.insert(seq, command.clone());
        while self.by_seq.len() > KEPT {
            if let Some((_, oldest)) = self.by_seq.pop_first() {
                self.by_id.remove(&oldest);
            }
        }
    }

    /// The first event of a command.
    #[must_use]
    pub fn first(&self, command: &CommandId) -> Option<Seq> {
        self.by_id.get(command).copied()
    }

    /// The command whose first event this is.
    pub(in crate::ledger) fn command_at(&self, seq: Seq) -> Option<&CommandId> {
        self.by_seq.get(&seq)
    }

    /// Every one remembered, oldest first.
    pub(in crate::ledger) fn all(&self) -> impl Iterator<Item = (Seq, &CommandId)> {
        self.by_seq.iter().map(|(seq, command)| (*seq, command))
    }

    /// The oldest one remembered.
    pub(in crate::ledger) fn oldest(&self) -> Option<Seq> {
        self.by_seq.first_key_value().map(|(seq, _)| *seq)
    }
}

impl From<Vec<(Seq, CommandId)>> for Answered {
    fn from(list: Vec<(Seq, CommandId)>) -> Self {
        let mut answered = Self::default();
        for (seq, command) in list {
            answered.remember(&command, seq);
        }
        answered
    }
}

impl From<Answered> for Vec<(Seq, CommandId)> {
    fn from(answered: Answered) -> Self {
        answered.by_seq.into_iter().collect()
    }
}
