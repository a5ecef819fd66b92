//! The orders of published rules, to start from and to stand beside a plan.

use super::kernel::{Kernel, State, small};
use super::model::{Problem, Unfit};
use super::order::{Order, Place};
use super::schedule::{Schedule, schedule};

/// A dispatching rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// Earliest due date first (Jackson, 1955), operations as written: the order of a careful list.
    DueFirst,
    /// Earliest due date first, and among sheets due the same day those that need no bit change: the order a careful
    /// person would write.
    DueFirstSameBit,
    /// Apparent tardiness cost with setups (Lee, Bhaskaran, Pinedo, IIE Transactions 29:45, 1997): highest
    /// `(w/p) exp(-max(d - p - t, 0) / (k1 p_mean)) exp(-s / (k2 s_mean))` next.
    TardinessCost {
        /// Look-ahead; about 2 without setups.
        k1: f64,
        /// How much a setup matters.
        k2: f64,
    },
}

/// Sheets due within so many minutes of one another count as due together.
const SAME_DAY: u32 = 24 * 60;

/// The schedule of the order that a rule gives.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn by_rule(problem: &Problem, rule: Rule) -> Result<Schedule, Unfit> {
    let kernel = Kernel::new(problem)?;
    Ok(schedule(problem, &kernel, &order_by(&kernel, problem.frozen, rule)))
}

/// The order that a rule gives. The first `frozen` sheets keep their places.
pub(super) fn order_by(kernel: &Kernel, frozen: usize, rule: Rule) -> Order {
    let head = (0..frozen).map(|sheet| Place { sheet: small(sheet), route: 0 });
    let mut order: Order = head.collect();
    let mut left: Vec<usize> = (frozen..kernel.sheets.len()).collect();
    left.sort_by_key(|s| kernel.sheets[*s].due);
    let means = Means::of(kernel);
    let mut state = kernel.run(&order);
    while !left.is_empty() {
        let (number, route) = match rule {
            Rule::DueFirst => (0, 0),
            Rule::DueFirstSameBit => same_bit(kernel, &left, state),
            Rule::TardinessCost { k1, k2 } => dearest(kernel, &left, state, k1 * means.work, k2 * means.setup),
        };
        let place = Place { sheet: small(left.remove(number)), route: small(route) };
        state = kernel.after(state, place);
        order.push(place);
    }
    order
}

struct Means {
    work: f64,
    setup: f64,
}

impl Means {
    fn of(kernel: &Kernel) -> Self {
        let sheets = kernel.sheets.len().max(1) as f64;
        let work: u32 = (0..kernel.sheets.len()).map(|s| kernel.work(s)).sum();
        // a setup is one bit change or none; each bit is as likely as the other
        let bits = kernel.bits().max(1) as f64;
        Self { work: (f64::from(work) / sheets).max(1.0), setup: ((bits - 1.0) / bits).max(0.1) }
    }
}

/// The route that needs no change, the written one otherwise.
fn fitting_route(kernel: &Kernel, sheet: usize, bit: u8) -> (usize, bool) {
    let routes = &kernel.sheets[sheet].routes;
    match routes.iter().position(|r| Kernel::bit_serves(r, bit)) {
        Some(route) => (route, true),
        None => (0, false),
    }
}

fn same_bit(kernel: &Kernel, left: &[usize], state: State) -> (usize, usize) {
    let soonest = kernel.sheets[left[0]].due;
    for (number, sheet) in left.iter().enumerate() {
        if kernel.sheets[*sheet].due > soonest.saturating_add(SAME_DAY) {
            break;
        }
        if let (route, true) = fitting_route(kernel, *sheet, state.bit) {
            return (number, route);
        }
    }
    (0, 0)
}

fn dearest(kernel: &Kernel, left: &[usize], state: State, look_ahead: f64, setup_scale: f64) -> (usize, usize) {
    let mut best = (0, 0);
    let mut highest = f64::NEG_INFINITY;
    for (number, sheet) in left.iter().enumerate() {
        let (route, serves) = fitting_route(kernel, *sheet, state.bit);
        let work = f64::from(kernel.work(*sheet)).max(1.0);
        let compiled = &kernel.sheets[*sheet];
        let slack = (f64::from(compiled.due) - work - f64::from(state.at)).max(0.0);
        let setup = if serves { 0.0 } else { 1.0 };
        // the logarithm of the index: the same order, and no underflow for sheets due late
        let index = (compiled.weight as f64 / work).max(1e-9).ln() - slack / look_ahead - setup / setup_scale;
        if index > highest {
            highest = index;
            best = (number, route);
        }
    }
    best
}
