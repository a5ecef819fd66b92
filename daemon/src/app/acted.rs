//! Holds and stops that were brought to the line already, by their command: whoever answers brings them, and the desk after
//! it, and nothing is done twice.
//!
//! May live here: which are remembered. May not: what they do.

use chargehand_types::id::CommandId;
use std::collections::BTreeSet;

/// Commands remembered.
const KEPT: usize = 1024;

/// The commands.
#[derive(Debug, Default)]
pub struct Acted(BTreeSet<CommandId>);

impl Acted {
    /// Whether this one was not brought yet; it counts as brought from now on.
    pub fn is_new(&mut self, command: &CommandId) -> bool {
        if self.0.contains(command) {
            return false;
        }
        // the one that is asked about twice within a moment is kept
        if self.0.len() >= KEPT {
            self.0.clear();
        }
        self.0.insert(command.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn none_is_new_twice_though_many_are_forgotten() {
        let mut acted = Acted::default();
        for n in 0..3 * KEPT {
            let command = CommandId(format!("c-{n}"));
            assert!(acted.is_new(&command), "{n}");
            assert!(!acted.is_new(&command), "{n}");
        }
        assert!(acted.0.len() <= KEPT);
    }
}
