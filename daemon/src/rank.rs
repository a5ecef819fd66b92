//! Room `rank`: which threads of the daemon go before which, where they share a processor.
//!
//! May live here: the ranks and how a thread takes one. May not: what a thread does.

/// A thread's rank beside the threads that take none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rank {
    /// The thread at the port. It works for tens of microseconds at a time.
    Port,
    /// The thread that answers at the machine's socket: a hold comes in there.
    Front,
    /// Work that takes long and can wait: one such thread gets a tenth of a core while all of them are wanted, and all of
    /// one otherwise.
    Behind,
}

impl Rank {
    /// Steps of the system's forty (nice values), below nothing for those that go before others.
    const fn steps(self) -> i32 {
        match self {
            Self::Port => -10,
            Self::Front => -5,
            Self::Behind => 10,
        }
    }
}

/// The thread that calls this takes the rank, it alone (setpriority(2), on Linux) and for good. Where the system does not
/// allow that, it stays among the others.
pub fn take(rank: Rank) {
    let ours = rustix::process::getpriority_process(None).unwrap_or_default();
    if let Err(e) = rustix::process::setpriority_process(None, ours.saturating_add(rank.steps())) {
        tracing::debug!("a thread keeps the rank it has and is not {rank:?}: {e}");
    }
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "ranks are of threads")]
mod tests {
    use super::*;

    fn ours() -> i32 {
        rustix::process::getpriority_process(None).unwrap()
    }

    #[test]
    fn a_thread_takes_its_rank_alone() {
        let before = ours();
        let taken = std::thread::spawn(|| {
            take(Rank::Behind);
            ours()
        });
        assert_eq!(taken.join().unwrap(), (before + 10).min(19));
        assert_eq!(ours(), before, "whoever began it keeps its own");
    }

    #[test]
    fn where_going_before_others_is_not_allowed_a_thread_stays_where_it_is() {
        let before = ours();
        let taken = std::thread::spawn(|| {
            take(Rank::Front);
            ours()
        });
        let taken = taken.join().unwrap();
        assert!(taken == before || taken == (before - 5).max(-20), "{before} became {taken}");
    }
}
