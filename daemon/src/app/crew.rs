//! Who shares the work of a check: a thread on every core while the machine stands, on every core but one while it moves.
//! What steps back is still not asked to leave a core before the system's next tick, and that may be four milliseconds: a
//! hold, its way to the port and the controller's answers need a core that is free.
//!
//! May live here: how many, and when. May not: what they work out.

use crate::rank::{self, Rank};
use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use std::sync::atomic::{AtomicBool, Ordering};

/// The threads.
#[derive(Debug)]
pub struct Crew {
    all: ThreadPool,
    but_one: ThreadPool,
    moves: AtomicBool,
}

impl Crew {
    /// For this computer.
    ///
    /// # Errors
    /// When the system gives no threads.
    pub fn new() -> Result<Self, ThreadPoolBuildError> {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let of = |threads: usize, name: &'static str| {
            let pool = ThreadPoolBuilder::new().num_threads(threads).thread_name(move |n| format!("{name}-{n}"));
            pool.start_handler(|_| rank::take(Rank::Behind)).build()
        };
        let but_one = cores.saturating_sub(1).max(1);
        Ok(Self { all: of(cores, "check")?, but_one: of(but_one, "beside")?, moves: AtomicBool::new(false) })
    }

    /// Those who take what begins now, to its end.
    pub fn now(&self) -> &ThreadPool {
        if self.moves.load(Ordering::Relaxed) { &self.but_one } else { &self.all }
    }

    /// Whether the machine moves.
    pub fn machine_moves(&self, moves: bool) {
        self.moves.store(moves, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_core_is_left_free_while_the_machine_moves() {
        let crew = Crew::new().unwrap();
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        assert_eq!(crew.now().current_num_threads(), cores);
        crew.machine_moves(true);
        assert_eq!(crew.now().current_num_threads(), (cores - 1).max(1));
        assert_eq!(crew.now().install(|| 2 + 2), 4);
        crew.machine_moves(false);
        assert_eq!(crew.now().current_num_threads(), cores);
    }
}
