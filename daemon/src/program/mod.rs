//! Room `program`: text of RS-274 programs in, blocks and moves out, each knowing its line and column.
//!
//! May live here: the lexer, the blocks, modal groups, arcs, cycles, parameters. May not: anything that knows a
//! sheet, a bit's shape, a machine's limits or a controller.
//!
//! The language is that of NISTIR 6556 (The NIST RS274/NGC Interpreter, version 3), read strictly, with four
//! extensions: `;` comments, G90.1/G91.1, G10 L20 and a lone program number, which is passed over.

pub mod arc;
pub mod block;
pub mod code;
pub mod cycle;
mod drilling;
mod expression;
pub mod facts;
pub mod fault;
pub mod frame;
mod interpreter;
mod modes;
pub mod motion;
mod moving;
pub mod number;
mod origins;
pub mod parameters;
pub mod parse;
mod plain;
mod reader;
pub mod rule;
mod sniff;
pub mod way;

#[cfg(test)]
mod tests;

pub use facts::Facts;
pub use fault::{Fault, Rule};
pub use reader::{BlockRead, Reader, Steps, steps};
