//! What can go wrong between this program and the daemon, and the exit code of each.
//!
//! May live here: the sentences of a client's own faults. May not: the daemon's refusals, which come in its words.

use super::place::Place;
use crate::exit;
use chargehand_types::problem::{Problem, ProblemKind};
use std::error::Error as _;

/// Why there is no answer, or not the wanted one.
#[derive(Debug, Clone, thiserror::Error)]
pub enum ClientFault {
    /// Nobody answers there.
    #[error(
        "No daemon answers at {place} ({why}).\nStart one with: chargehand-daemon --config FILE\nOr try the practice shop: chargehand demo"
    )]
    Unreachable {
        /// Where it was looked for.
        place: String,
        /// What the system said.
        why: String,
    },
    /// The daemon says no, in its own words.
    #[error("{}", told(.0))]
    Problem(Problem),
    /// Something answers that cannot be understood.
    #[error(
        "What answers there cannot be understood ({why}). The daemon and this program may be of different versions: look at `chargehand --version` and `chargehand-daemon --version`."
    )]
    Garbled {
        /// What was found.
        why: String,
    },
}

impl ClientFault {
    /// From what the HTTP client said.
    pub(super) fn unreachable(place: &Place, error: &reqwest::Error) -> Self {
        if error.is_timeout() && !error.is_connect() {
            return Self::Unreachable { place: place.to_string(), why: "it takes too long to answer".to_owned() };
        }
        let mut why = error.to_string();
        let mut source = error.source();
        while let Some(inner) = source {
            why = inner.to_string();
            source = inner.source();
        }
        Self::Unreachable { place: place.to_string(), why }
    }

    /// The exit code of the command line.
    #[must_use]
    pub const fn exit(&self) -> u8 {
        match self {
            Self::Unreachable { .. } => exit::NO_DAEMON,
            Self::Problem(problem) => problem.kind.exit(),
            Self::Garbled { .. } => ProblemKind::OurFault.exit(),
        }
    }

    /// The daemon's refusal, if it is one.
    #[must_use]
    pub const fn problem(&self) -> Option<&Problem> {
        match self {
            Self::Problem(problem) => Some(problem),
            Self::Unreachable { .. } | Self::Garbled { .. } => None,
        }
    }

    /// Whether the daemon could not be reached at all.
    #[must_use]
    pub const fn is_unreachable(&self) -> bool {
        matches!(self, Self::Unreachable { .. })
    }
}

fn told(problem: &Problem) -> String {
    let mut text = problem.detail.clone();
    for fault in &problem.faults {
        text.push('\n');
        text.push_str(fault.trim_end());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exits_follow_the_problem() {
        let of = |kind| ClientFault::Problem(Problem::new(kind, "no")).exit();
        assert_eq!(of(ProblemKind::CannotRun), 1);
        assert_eq!(of(ProblemKind::BadRequest), 2);
        assert_eq!(of(ProblemKind::StartCondition), 4);
        assert_eq!(of(ProblemKind::NotPermitted), 4);
        assert_eq!(of(ProblemKind::SeenIsOld), 4);
        assert_eq!(of(ProblemKind::Malformed), 5);
        assert_eq!(of(ProblemKind::MissingOrBusy), 5);
    }

    #[test]
    fn silence_says_how_to_start_one() {
        let fault = ClientFault::Unreachable { place: "/x/api.sock".into(), why: "no such file".into() };
        assert_eq!(fault.exit(), 3);
        let text = fault.to_string();
        assert!(text.contains("/x/api.sock") && text.contains("chargehand-daemon --config"), "{text}");
    }

    #[test]
    fn every_fault_of_a_file_is_told() {
        let problem = Problem::new(ProblemKind::Malformed, "The card has faults.")
            .with_faults(vec!["a.card.toml:3:1: one\n".into(), "a.card.toml:9:4: two".into()]);
        assert_eq!(
            ClientFault::Problem(problem).to_string(),
            "The card has faults.\na.card.toml:3:1: one\na.card.toml:9:4: two"
        );
    }
}
