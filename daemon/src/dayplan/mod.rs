//! Room `dayplan`: sheets with their operations, durations and hours in; an order with start times out, and when a
//! person is needed.
//!
//! One machine, one person, one thing at a time. A sheet is a block: load, its operations each once in an order that
//! honours what must come before, clean-up. Each step starts as early as it can, so a plan is an order of sheets and,
//! for each, a route: an order of its operations. What counts, in this order: weighted tardiness, finish of the last
//! sheet, bit changes.
//!
//! May live here: minutes. May not: dates and zones (`calendar`), where a duration comes from (`learn`, the timing of
//! a program), what may run alone (it comes in as a value).

mod anneal;
mod baseline;
mod chance;
mod exact;
mod kernel;
mod model;
mod order;
mod planner;
mod product;
mod reasons;
mod remedy;
mod routes;
mod schedule;
mod stock;
mod visits;

pub use baseline::{Rule, by_rule};
pub use model::{Hours, Objective, Operation, Problem, Sheet, Unfit};
pub use order::{Order, Place};
pub use planner::{Evaluations, Pace, Plan, Proof, plan, plan_by_two, replan, sift};
pub use product::{Parts, Product, Sets, cut_by, missing, sets, sheets_for};
pub use reasons::{Reason, reasons};
pub use remedy::{Remedy, remedies};
pub use schedule::{Block, Doing, Schedule, Step};
pub use stock::{Panel, Stock, StockFault, piece, stock, strips};
pub use visits::{Visit, merged, visits};

#[cfg(test)]
mod tests;
