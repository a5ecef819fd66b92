//! Room `program`: text of RS-274 programs in, steps out, each knowing its line and column.
//!
//! The language is that of NISTIR 6556 (RS274/NGC version 3), with three extensions that many programs use: `;`
//! comments, G90.1/G91.1, and G10 L20. May live here: the lexer, blocks, modal groups, arcs, cycles, parameters.
//! May not: anything that knows a sheet, a bit's shape, a machine's limits or a controller.
//!
//! `number` → `lex` (with `expression`) → `block` → `interpret` (with `arc`, `cycle`) → `reader`.

pub mod arc;
pub mod block;
mod cycle;
mod expression;
pub mod fault;
mod interpret;
pub mod lex;
pub mod motion;
pub mod number;
pub mod parameters;
pub mod reader;
#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;

pub use reader::{Reader, Summary, steps};
