//! Simulated annealing over orders and routes (Kirkpatrick, Gelatt, Vecchi, Science 220:671, 1983).
//!
//! A move changes a short stretch of the order. The states before the stretch stand; from there on the order is run
//! until time and bit are again what they were, and what comes after that costs the same as before.

use super::chance::Chance;
use super::kernel::{Kernel, State, small};
use super::model::Objective;
use super::order::{Order, Place};
use super::planner::Pace;

/// What a search found.
pub struct Found {
    pub order: Order,
    pub evaluations: u64,
}

/// The pace is asked each time so many evaluations are done.
const ASK_EVERY: u64 = 64;

/// The best order found from a start with that effort. The first `frozen` places stay as they are.
pub fn search(kernel: &Kernel, frozen: usize, start: Order, seed: u64, pace: &mut dyn Pace) -> Found {
    let mut walk = Walk::new(kernel, frozen, start, seed);
    let mut evaluations = 0;
    if walk.order.len() <= frozen + 1 && walk.has_one_route() {
        return Found { order: walk.order, evaluations };
    }
    let heat = walk.heat();
    loop {
        let spent = pace.spent(evaluations);
        if spent >= 1.0 {
            break;
        }
        walk.temperature = heat.at(spent);
        walk.finish_weight = if spent < CHILLED { FINISH_WARM } else { FINISH_COLD };
        for _ in 0..ASK_EVERY {
            walk.step();
        }
        evaluations += ASK_EVERY;
    }
    Found { order: walk.best, evaluations }
}

/// The same, cold from the start: only what is better is taken, so the order changes no more than it must.
pub fn better(kernel: &Kernel, frozen: usize, start: Order, seed: u64, pace: &mut dyn Pace) -> Found {
    let mut walk = Walk::new(kernel, frozen, start, seed);
    let mut evaluations = 0;
    if walk.order.len() <= frozen + 1 && walk.has_one_route() {
        return Found { order: walk.order, evaluations };
    }
    walk.temperature = COLD;
    walk.finish_weight = FINISH_COLD;
    while pace.spent(evaluations) < 1.0 {
        for _ in 0..ASK_EVERY {
            walk.step();
        }
        evaluations += ASK_EVERY;
    }
    Found { order: walk.best, evaluations }
}

/// How hot it is when, in thousandths of a weighted minute: cooled evenly on a logarithmic scale, and at last chilled.
struct Heat {
    first: f64,
    last: f64,
}

/// The share of the effort after which only what is better is wanted.
const CHILLED: f64 = 0.85;
/// The temperature at the very end.
const COLD: f64 = 10.0;

impl Heat {
    fn at(&self, spent: f64) -> f64 {
        if spent < CHILLED {
            self.first * (self.last / self.first).powf(spent / CHILLED)
        } else {
            self.last * (COLD / self.last).powf((spent - CHILLED) / (1.0 - CHILLED))
        }
    }
}

/// What a minute of the last finish weighs beside tardiness, in thousandths of a weighted minute: while it is warm
/// enough to lead to tight days, while it is cold too little to buy tardiness for a day.
const FINISH_WARM: f64 = 20.0;
const FINISH_COLD: f64 = 0.5;
/// The same for a bit change.
const CHANGE: f64 = 0.2;

/// Of a hundred moves, how many change any place at all, and how many a late sheet.
const FREE_PICKS: usize = 8;
const LATE_PICKS: usize = 40;

struct Walk<'a> {
    kernel: &'a Kernel,
    frozen: usize,
    chance: Chance,
    temperature: f64,
    finish_weight: f64,
    order: Order,
    /// Before each place, and after the last.
    states: Vec<State>,
    best: Order,
    best_objective: Objective,
    trial: Vec<Place>,
    trial_states: Vec<State>,
}

impl<'a> Walk<'a> {
    fn new(kernel: &'a Kernel, frozen: usize, start: Order, seed: u64) -> Self {
        let mut states = vec![kernel.start];
        let mut state = kernel.start;
        for place in &start {
            state = kernel.after(state, *place);
            states.push(state);
        }
        Self {
            kernel,
            frozen,
            chance: Chance::new(seed),
            temperature: 0.0,
            finish_weight: FINISH_WARM,
            best: start.clone(),
            best_objective: state.objective(),
            order: start,
            states,
            trial: Vec::new(),
            trial_states: Vec::new(),
        }
    }

    fn has_one_route(&self) -> bool {
        self.order[self.frozen..].iter().all(|p| self.kernel.sheets[usize::from(p.sheet)].routes.len() < 2)
    }

    fn end(&self) -> State {
        self.states[self.order.len()]
    }

    /// Warm enough at first that a sheet may slip by some hours. How warm it begins and ends was tried on the instances:
    /// many sheets have more ways to lose a little and end warmer, and very many have no time to begin as warm.
    fn heat(&self) -> Heat {
        let free = &self.order[self.frozen..];
        let weights: u64 = free.iter().map(|p| self.kernel.sheets[usize::from(p.sheet)].weight).sum();
        let mean = (weights as f64 / free.len().max(1) as f64).max(1.0);
        let (first, last) = match free.len() {
            ..=30 => (450.0, 9.0),
            31..=100 => (900.0, 30.0),
            _ => (450.0, 30.0),
        };
        Heat { first: first * mean, last: last * mean }
    }

    fn cost(&self, state: State) -> f64 {
        state.tardiness as f64 + self.finish_weight * f64::from(state.at) + CHANGE * f64::from(state.changes)
    }

    /// One move tried, and taken or not.
    fn step(&mut self) {
        let Some(low) = self.propose() else { return };
        let high = low + self.trial.len();
        let limit = self.cost(self.end()) - self.temperature * self.chance.part().ln();
        if let Some(end) = self.run_trial(low, high, limit) {
            self.take(low, high, end);
        }
    }

    /// Fills the trial with the changed stretch and gives its first place.
    fn propose(&mut self) -> Option<usize> {
        let free = self.order.len() - self.frozen;
        let kind = self.chance.below(100);
        let at = self.pick(free);
        self.trial.clear();
        if kind < 15 || free < 2 {
            return self.propose_route(at);
        }
        let other = self.near(at, free);
        let (low, high) = (at.min(other), at.max(other) + 1);
        if high - low < 2 {
            return None;
        }
        self.trial.extend_from_slice(&self.order[low..high]);
        let length = high - low;
        match kind {
            15..55 => {
                if at < other {
                    self.trial.rotate_left(1)
                } else {
                    self.trial.rotate_right(1)
                }
                if kind < 30 {
                    let moved = if at < other { length - 1 } else { 0 };
                    self.any_route(moved);
                }
            }
            55..75 => self.trial.swap(0, length - 1),
            75..90 => {
                let block = 1 + self.chance.below(length.min(6) - 1);
                if at < other { self.trial.rotate_left(block) } else { self.trial.rotate_right(block) }
            }
            _ => {
                self.trial.truncate(8);
                self.trial.reverse();
            }
        }
        Some(low)
    }

    /// A place to change: mostly in the stretch where something is late, at times the late sheet itself, the dearer the
    /// more often.
    fn pick(&mut self, free: usize) -> usize {
        let total = self.end().tardiness;
        let kind = self.chance.below(100);
        if total == 0 || kind < FREE_PICKS {
            return self.frozen + self.chance.below(free);
        }
        if kind < FREE_PICKS + LATE_PICKS {
            let part = self.chance.part();
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the total")]
            let share = (part * total as f64) as u64;
            let late = self.states.partition_point(|s| s.tardiness < share.max(1));
            return late.saturating_sub(1).clamp(self.frozen, self.order.len() - 1);
        }
        let last_late = self.states.partition_point(|s| s.tardiness < total).min(self.order.len());
        let stretch = (last_late + 8).min(self.order.len()).saturating_sub(self.frozen).max(1);
        self.frozen + self.chance.below(stretch)
    }

    /// Another place, more often a near one.
    fn near(&mut self, at: usize, free: usize) -> usize {
        let reach = match self.chance.below(8) {
            0 => free,
            1 | 2 => free / 4 + 2,
            3 | 4 => 12,
            _ => 5,
        };
        let distance = 1 + self.chance.below(reach.min(free));
        let other = if self.chance.below(2) == 0 { at.saturating_sub(distance) } else { at + distance };
        other.clamp(self.frozen, self.order.len() - 1)
    }

    fn propose_route(&mut self, at: usize) -> Option<usize> {
        let place = self.order[at];
        let routes = self.kernel.sheets[usize::from(place.sheet)].routes.len();
        if routes < 2 {
            return None;
        }
        self.trial.push(place);
        self.any_route(0);
        (self.trial[0] != place).then_some(at)
    }

    fn any_route(&mut self, number: usize) {
        let sheet = usize::from(self.trial[number].sheet);
        let routes = self.kernel.sheets[sheet].routes.len();
        self.trial[number].route = small(self.chance.below(routes));
    }

    /// Runs the order with the trial in place of `low..high`. Gives the place from which on all is as before, and
    /// nothing when the cost passes the limit.
    fn run_trial(&mut self, low: usize, high: usize, limit: f64) -> Option<usize> {
        let mut state = self.states[low];
        self.trial_states.clear();
        for place in &self.trial {
            state = self.kernel.after(state, *place);
            if state.tardiness as f64 > limit {
                return None;
            }
            self.trial_states.push(state);
        }
        let last = self.end();
        for at in high..self.order.len() {
            let old = self.states[at];
            if state.at >= old.at {
                // later than before: the rest cannot become cheaper by more than a change saved
                let rest = last.tardiness - old.tardiness;
                if state.at == old.at && state.bit == old.bit {
                    let end = State {
                        tardiness: state.tardiness + rest,
                        changes: state.changes + last.changes - old.changes,
                        ..last
                    };
                    return (self.cost(end) <= limit).then_some(at);
                }
                if state.bit == old.bit && (state.tardiness + rest) as f64 > limit {
                    return None;
                }
            }
            state = self.kernel.after(state, self.order[at]);
            if state.tardiness as f64 > limit {
                return None;
            }
            self.trial_states.push(state);
        }
        (self.cost(state) <= limit).then_some(self.order.len())
    }

    /// The trial becomes the order.
    fn take(&mut self, low: usize, high: usize, end: usize) {
        self.order[low..high].copy_from_slice(&self.trial);
        let old = self.states[end];
        self.states[low + 1..=end].copy_from_slice(&self.trial_states[..end - low]);
        let new = self.states[end];
        for state in &mut self.states[end + 1..] {
            state.tardiness = state.tardiness - old.tardiness + new.tardiness;
            state.changes = state.changes - old.changes + new.changes;
        }
        let objective = self.end().objective();
        if objective < self.best_objective {
            self.best_objective = objective;
            self.best.clone_from(&self.order);
        }
    }
}
