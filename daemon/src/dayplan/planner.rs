//! A plan from a problem: the rules' orders, the proof where the batch is small, the search where it is large.

use super::anneal;
use super::baseline::{Rule, order_by};
use super::exact;
use super::kernel::{Kernel, judge};
use super::model::{Problem, Sheet, Unfit};
use super::order::{Order, Place};
use super::schedule::{Schedule, schedule};
use chargehand_types::id::SheetId;

/// How much of the effort is spent. A plan that must be the same for a seed is paced by evaluations alone.
pub trait Pace {
    /// The share spent after so many evaluations: 0 at first, 1 when it is time to end.
    fn spent(&mut self, evaluations: u64) -> f64;

    /// It was ended before its evaluations were done.
    fn cut_short(&self) -> bool;
}

/// A number of evaluations and nothing else.
#[derive(Debug, Clone, Copy)]
pub struct Evaluations(pub u64);

impl Pace for Evaluations {
    fn spent(&mut self, evaluations: u64) -> f64 {
        evaluations as f64 / self.0.max(1) as f64
    }

    fn cut_short(&self) -> bool {
        false
    }
}

/// How good a plan is known to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Proof {
    /// No plan is better.
    Best,
    /// The best one found with the whole effort.
    Searched,
    /// The best one found until it was cut short.
    CutShort,
}

/// A plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// The order it stands for.
    pub order: Order,
    /// Its steps.
    pub schedule: Schedule,
    /// How good it is known to be.
    pub proof: Proof,
    /// Evaluations made.
    pub evaluations: u64,
}

/// The best plan that can be found with that effort. `from` is an earlier plan's order to start at, if there is one.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn plan(problem: &Problem, from: Option<&[Place]>, seed: u64, pace: &mut dyn Pace) -> Result<Plan, Unfit> {
    let kernel = Kernel::new(problem)?;
    let start = start(&kernel, problem.frozen, from);
    let prove = |known: &Order, most| exact::best(&kernel, &known[..problem.frozen], known, most);
    let (order, proof, evaluations) = match prove(&start, exact::FIRST_LOOKS) {
        Some(order) => (order, Proof::Best, 0),
        None => {
            let found = anneal::search(&kernel, problem.frozen, start, seed, pace);
            match prove(&found.order, exact::LOOKS_AT_MOST) {
                Some(order) => (order, Proof::Best, found.evaluations),
                None if pace.cut_short() => (found.order, Proof::CutShort, found.evaluations),
                None => (found.order, Proof::Searched, found.evaluations),
            }
        }
    };
    let order = twins_in_turn(problem, order);
    Ok(Plan { schedule: schedule(problem, &kernel, &order), order, proof, evaluations })
}

/// The same with two searches side by side, from this seed and the next, and the better one taken; the number of
/// workers changes nothing. Many sheets are worth it: one search in a few ends in a poor corner.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn plan_by_two(
    problem: &Problem,
    from: Option<&[Place]>,
    seed: u64,
    [first, second]: [&mut (dyn Pace + Send); 2],
    pool: &rayon::ThreadPool,
) -> Result<Plan, Unfit> {
    let kernel = Kernel::new(problem)?;
    let (one, two) = pool.join(
        || search(problem, &kernel, from, seed, first),
        || search(problem, &kernel, from, seed.wrapping_add(1), second),
    );
    let cut = first.cut_short() || second.cut_short();
    let better = kernel.run(&two.order).objective() < kernel.run(&one.order).objective();
    let order = twins_in_turn(problem, if better { two.order } else { one.order });
    let proof = if cut { Proof::CutShort } else { Proof::Searched };
    let evaluations = one.evaluations.saturating_add(two.evaluations);
    Ok(Plan { schedule: schedule(problem, &kernel, &order), order, proof, evaluations })
}

/// The order of an earlier plan taken up again after something happened, bettered by small steps only: what stands well
/// stays where it stands. Without an earlier order the best of the rules' orders is where it begins.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn replan(problem: &Problem, from: Option<&[Place]>, seed: u64, pace: &mut dyn Pace) -> Result<Plan, Unfit> {
    let kernel = Kernel::new(problem)?;
    let start = start(&kernel, problem.frozen, from);
    let found = anneal::better(&kernel, problem.frozen, start, seed, pace);
    let order = twins_in_turn(problem, found.order);
    let proof = if pace.cut_short() { Proof::CutShort } else { Proof::Searched };
    Ok(Plan { schedule: schedule(problem, &kernel, &order), order, proof, evaluations: found.evaluations })
}

/// Sheets that are alike but for their ids come in the order they were given: people expect the first of a batch first.
fn twins_in_turn(problem: &Problem, mut order: Order) -> Order {
    let alike = |a: &Sheet, b: &Sheet| Sheet { id: a.id.clone(), ..b.clone() } == *a;
    for at in problem.frozen..order.len() {
        let own = usize::from(order[at].sheet);
        let twin = |p: &Place| alike(&problem.sheets[own], &problem.sheets[usize::from(p.sheet)]);
        let first = (at + 1..order.len()).filter(|n| twin(&order[*n])).min_by_key(|n| order[*n].sheet);
        if let Some(first) = first.filter(|n| order[*n].sheet < order[at].sheet) {
            // the sheets change places, the routes stay where they are
            let sheet = order[at].sheet;
            order[at].sheet = order[first].sheet;
            order[first].sheet = sheet;
        }
    }
    order
}

/// The best order found with that effort, nothing proven.
pub(super) fn search(
    problem: &Problem,
    kernel: &Kernel,
    from: Option<&[Place]>,
    seed: u64,
    pace: &mut dyn Pace,
) -> anneal::Found {
    let frozen = problem.frozen;
    anneal::search(kernel, frozen, start(kernel, frozen, from), seed, pace)
}

/// The best order to begin at: the earlier plan's, or one of the rules'.
fn start(kernel: &Kernel, frozen: usize, from: Option<&[Place]>) -> Order {
    let mut starts: Vec<Order> = from.filter(|o| fits(kernel, frozen, o)).map(<[Place]>::to_vec).into_iter().collect();
    starts.extend(rules().into_iter().map(|rule| order_by(kernel, frozen, rule)));
    starts.into_iter().min_by_key(|o| kernel.run(o).objective()).unwrap_or_default()
}

/// Takes out the sheets that can never be cut as the hours are, each with its reason; the rest can be planned.
#[must_use]
pub fn sift(mut problem: Problem) -> (Problem, Vec<(SheetId, Unfit)>) {
    let mut unfit = Vec::new();
    let mut kept = Vec::new();
    let mut frozen = 0;
    for (number, sheet) in std::mem::take(&mut problem.sheets).into_iter().enumerate() {
        match judge(&problem, &sheet) {
            Ok(()) => {
                frozen += usize::from(number < problem.frozen);
                kept.push(sheet);
            }
            Err(fault) => unfit.push((sheet.id, fault)),
        }
    }
    problem.sheets = kept;
    problem.frozen = frozen;
    (problem, unfit)
}

/// The rules whose orders a search starts from.
fn rules() -> Vec<Rule> {
    let mut rules = vec![Rule::DueFirst, Rule::DueFirstSameBit];
    for k1 in [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0] {
        for k2 in [0.25, 0.7, 2.0] {
            rules.push(Rule::TardinessCost { k1, k2 });
        }
    }
    rules
}

/// An earlier order is of use only when it is an order of these sheets.
fn fits(kernel: &Kernel, frozen: usize, order: &[Place]) -> bool {
    let mut seen = vec![false; kernel.sheets.len()];
    for (number, place) in order.iter().enumerate() {
        let sheet = usize::from(place.sheet);
        let known = kernel.sheets.get(sheet).is_some_and(|s| usize::from(place.route) < s.routes.len());
        if !known || std::mem::replace(&mut seen[sheet], true) || (number < frozen && sheet != number) {
            return false;
        }
    }
    order.len() == kernel.sheets.len()
}
