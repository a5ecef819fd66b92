//! `floor` and `link` explored to the last state by a model checker: the real transition table against a small contract
//! of the link, and the real link, with three lines and a window of two, against the same contract.
//!
//! May live here: the contract, the worlds around the two, the rules that must hold in every state. May not: a decision
//! of the shop.

pub mod broken_floor;
pub mod contract;
pub mod floor;
pub mod link;
pub mod machine;
pub mod world;

use stateright::{Checker, Expectation, HasDiscoveries, Model};
use std::collections::hash_map::Entry;
use std::collections::{HashMap, VecDeque};
use std::fmt::Debug;
use std::hash::{DefaultHasher, Hash, Hasher};

/// What can be explored.
pub trait Explored:
    Model<State: Clone + PartialEq + Debug + Hash + Send + Sync, Action: Clone + PartialEq + Debug>
where
    Self: Clone + Send + Sync + 'static,
{
    /// Whether a state is an end that was to be reached: from everywhere it must be reachable.
    fn is_over(&self, state: &Self::State) -> bool;
}

/// What came of an exploration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Different states.
    pub states: usize,
    /// Steps between them.
    pub steps: usize,
    /// Steps to the state farthest from the beginning.
    pub depth: usize,
    /// Rules that do not hold, each with the shortest way there.
    pub broken: Vec<(&'static str, Vec<String>)>,
    /// States from which no end can be reached, and the way to one of them.
    pub stuck: (usize, Vec<String>),
}

impl Told {
    /// Whether every rule holds and an end can be reached from everywhere.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.broken.is_empty() && self.stuck.0 == 0
    }
}

/// Looks at the rules in every state there is; then, where they hold, at the way out of each. With a depth, only at the
/// rules, and only in states that lie so few steps from the first one. Tells in between of how many states every rule holds,
/// since the ways out take as long again and more memory.
pub fn explore<M: Explored>(
    model: &M,
    threads: usize,
    depth_asked: Option<usize>,
    rules_hold: impl FnOnce(usize, usize),
) -> Told {
    let checker = model.clone().checker().threads(threads).finish_when(HasDiscoveries::AnyFailures);
    let checker = match depth_asked {
        Some(depth) => checker.target_max_depth(depth),
        None => checker,
    };
    let checked = checker.spawn_bfs().join();
    let way = |rule| {
        let path = checked.discovery(rule)?;
        Some(path.into_actions().iter().map(|a| format!("{a:?}")).collect())
    };
    let mut broken: Vec<(&'static str, Vec<String>)> = Vec::new();
    for rule in model.properties() {
        match (rule.expectation, way(rule.name)) {
            (Expectation::Sometimes, None) => broken.push((rule.name, vec!["never".to_owned()])),
            (Expectation::Always | Expectation::Eventually, Some(way)) => broken.push((rule.name, way)),
            (Expectation::Sometimes, Some(_)) | (Expectation::Always | Expectation::Eventually, None) => {}
        }
    }
    // what never came may only not have come yet
    if broken.iter().any(|(_, way)| way != &["never"]) {
        broken.retain(|(_, way)| way != &["never"]);
    }
    let depth = checked.max_depth();
    let states = checked.unique_state_count();
    if depth_asked.is_some() {
        broken.retain(|(_, way)| way != &["never"]);
    }
    if !broken.is_empty() || depth_asked.is_some() {
        return Told { states, steps: 0, depth, broken, stuck: (0, Vec::new()) };
    }
    rules_hold(states, depth);
    // what it remembers of every state would lie beside what the walk does
    drop(checked);
    let walk = Walk::of(model);
    assert_eq!(walk.hash.len(), states, "two walks over one model found as many states");
    Told { states, steps: walk.next.len(), depth, broken, stuck: walk.stuck(model) }
}

/// Every state by its number, and where each leads. States are told apart by 64 bits of their hash, as the model checker
/// tells them.
struct Walk {
    hash: Vec<u64>,
    /// For each state, the one it was first reached from.
    first: Vec<u32>,
    /// Where the steps of each state begin in `next`.
    begin: Vec<usize>,
    next: Vec<u32>,
    over: Vec<u32>,
}

/// A hash that is the same in every walk.
fn hash_of(state: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    state.hash(&mut hasher);
    hasher.finish()
}

impl Walk {
    fn of<M: Explored>(model: &M) -> Self {
        let mut found = HashMap::new();
        let mut walk = Self { hash: Vec::new(), first: Vec::new(), begin: vec![0], next: Vec::new(), over: Vec::new() };
        let mut queue = VecDeque::new();
        for state in model.init_states() {
            let hash = hash_of(&state);
            found.insert(hash, walk.add(hash, u32::MAX));
            queue.push_back(state);
        }
        let mut at = 0;
        while let Some(state) = queue.pop_front() {
            if model.is_over(&state) {
                walk.over.push(at);
            }
            for next in model.next_states(&state) {
                let hash = hash_of(&next);
                let number = match found.entry(hash) {
                    Entry::Occupied(known) => *known.get(),
                    Entry::Vacant(new) => {
                        queue.push_back(next);
                        *new.insert(walk.add(hash, at))
                    }
                };
                walk.next.push(number);
            }
            walk.begin.push(walk.next.len());
            at += 1;
        }
        walk
    }

    fn add(&mut self, hash: u64, first: u32) -> u32 {
        self.hash.push(hash);
        self.first.push(first);
        u32::try_from(self.hash.len() - 1).unwrap_or(u32::MAX)
    }

    /// Where the steps that lead to each state begin, and the states that they come from.
    fn back(&self) -> (Vec<usize>, Vec<u32>) {
        let mut ends = vec![0; self.hash.len() + 1];
        for to in &self.next {
            ends[*to as usize + 1] += 1;
        }
        for at in 1..ends.len() {
            ends[at] += ends[at - 1];
        }
        let begin = ends.clone();
        let mut from = vec![0; self.next.len()];
        for (state, steps) in (0..).zip(self.begin.windows(2)) {
            for to in &self.next[steps[0]..steps[1]] {
                let end = &mut ends[*to as usize];
                from[*end] = state;
                *end += 1;
            }
        }
        (begin, from)
    }

    /// How many states no end can be reached from, and the way to the first of them.
    fn stuck<M: Explored>(&self, model: &M) -> (usize, Vec<String>) {
        let (begin, from) = self.back();
        let mut can = vec![false; self.hash.len()];
        let mut queue = self.over.clone();
        while let Some(at) = queue.pop() {
            let at = at as usize;
            if !std::mem::replace(&mut can[at], true) {
                queue.extend(&from[begin[at]..begin[at + 1]]);
            }
        }
        let stuck = can.iter().filter(|c| !**c).count();
        let way = can.iter().position(|c| !*c).map(|at| self.way_to(model, at)).unwrap_or_default();
        (stuck, way)
    }

    /// The actions that lead to a state, and the state.
    fn way_to<M: Explored>(&self, model: &M, at: usize) -> Vec<String> {
        let mut numbers = vec![at];
        while let Some(before) = numbers.last().and_then(|n| self.first.get(*n)).filter(|n| **n != u32::MAX) {
            numbers.push(*before as usize);
        }
        let mut hashes = numbers.iter().rev().filter_map(|n| self.hash.get(*n));
        let begin = hashes.next();
        let Some(mut state) = model.init_states().into_iter().find(|s| Some(&hash_of(s)) == begin) else {
            return Vec::new();
        };
        let mut way = Vec::new();
        for hash in hashes {
            let Some((action, next)) = model.next_steps(&state).into_iter().find(|(_, s)| hash_of(s) == *hash) else {
                break;
            };
            way.push(format!("{action:?}"));
            state = next;
        }
        way.push(format!("{state:#?}"));
        way
    }
}
