//! The best plan of a small batch, proven: every set of sheets already cut, with the bit then in the spindle, keeps
//! only the partial plans that no other one beats in time, tardiness and bit changes at once.
//!
//! A partial plan that is later, dearer and has more changes can never end better, since every step's start is a
//! non-decreasing function of the time before it. Branches whose bound is above the best plan known are left.

use super::kernel::{Kernel, State, small};
use super::model::Objective;
use super::order::{Order, Place};
use std::collections::HashMap;

/// Sheets that may be shuffled for a proof to be tried.
pub const SHEETS_AT_MOST: usize = 12;
/// Partial plans looked at before the proof is given up.
pub const LOOKS_AT_MOST: usize = 4_000_000;
/// The same before anything was searched: a few sheets that are much alike need no more, and are planned at once.
pub const FIRST_LOOKS: usize = 50_000;

struct Label {
    state: State,
    place: Place,
    before: usize,
}

/// The best order, or nothing when it could not be proven within so many looks. `known` is a plan to beat.
pub fn best(kernel: &Kernel, head: &[Place], known: &[Place], most: usize) -> Option<Order> {
    let free: Vec<usize> = (head.len()..kernel.sheets.len()).collect();
    if free.len() > SHEETS_AT_MOST {
        return None;
    }
    let mut search = Search { kernel, free, bound: kernel.run(known).objective(), labels: Vec::new(), looks: 0, most };
    let root = search.add(kernel.run(head), Place::default(), usize::MAX);
    let mut layer: HashMap<(u32, u8), Vec<usize>> = HashMap::from([((0, kernel.run(head).bit), vec![root])]);
    for _ in 0..search.free.len() {
        layer = search.next_layer(&layer)?;
    }
    let ends = layer.into_values().flatten();
    let last = ends.min_by_key(|l| (search.labels[*l].state.objective(), *l));
    // nothing better than the known one was found: it is the best
    let Some(last) = last else { return Some(known.to_vec()) };
    let mut order = head.to_vec();
    order.extend(search.way_to(last));
    Some(order)
}

struct Search<'a> {
    kernel: &'a Kernel,
    free: Vec<usize>,
    bound: Objective,
    labels: Vec<Label>,
    looks: usize,
    most: usize,
}

impl Search<'_> {
    fn add(&mut self, state: State, place: Place, before: usize) -> usize {
        self.labels.push(Label { state, place, before });
        self.labels.len() - 1
    }

    /// All partial plans with one sheet more; nothing when the limit of looks is reached.
    fn next_layer(&mut self, layer: &HashMap<(u32, u8), Vec<usize>>) -> Option<HashMap<(u32, u8), Vec<usize>>> {
        let mut next: HashMap<(u32, u8), Vec<usize>> = HashMap::new();
        let mut keys: Vec<_> = layer.keys().copied().collect();
        keys.sort_unstable();
        for key in keys {
            for label in &layer[&key] {
                let state = self.labels[*label].state;
                for number in (0..self.free.len()).filter(|n| key.0 & (1 << n) == 0) {
                    let sheet = self.free[number];
                    for route in 0..self.kernel.sheets[sheet].routes.len() {
                        self.looks += 1;
                        let place = Place { sheet: small(sheet), route: small(route) };
                        let after = self.kernel.after(state, place);
                        let cut = key.0 | (1 << number);
                        if self.hopeless(after, cut) {
                            continue;
                        }
                        self.keep(next.entry((cut, after.bit)).or_default(), after, place, *label);
                    }
                }
                if self.looks > self.most {
                    return None;
                }
            }
        }
        Some(next)
    }

    /// No way from here ends better than the plan known.
    fn hopeless(&self, state: State, cut: u32) -> bool {
        let mut tardiness = state.tardiness;
        let mut finish = state.at;
        for (number, sheet) in self.free.iter().enumerate().filter(|(n, _)| cut & (1 << n) == 0) {
            let _ = number;
            let end = self.kernel.soonest(state.at, *sheet);
            let compiled = &self.kernel.sheets[*sheet];
            tardiness += compiled.weight * u64::from(end.saturating_sub(compiled.due));
            finish = finish.max(end);
        }
        State { at: finish, tardiness, ..state }.objective() >= self.bound
    }

    /// Takes a partial plan into its set unless another one beats it; those it beats fall out.
    fn keep(&mut self, set: &mut Vec<usize>, state: State, place: Place, before: usize) {
        let beats = |a: State, b: State| a.at <= b.at && a.tardiness <= b.tardiness && a.changes <= b.changes;
        if set.iter().any(|l| beats(self.labels[*l].state, state)) {
            return;
        }
        set.retain(|l| !beats(state, self.labels[*l].state));
        let label = self.add(state, place, before);
        set.push(label);
    }

    fn way_to(&self, last: usize) -> Order {
        let mut way = Vec::new();
        let mut at = last;
        while let Some(label) = self.labels.get(at).filter(|l| l.before != usize::MAX) {
            way.push(label.place);
            at = label.before;
        }
        way.reverse();
        way
    }
}
