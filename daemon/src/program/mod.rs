//! Room `program`: text of RS-274 programs in, blocks and moves out, each knowing its line and column.
//!
//! May live here: the lexer, the blocks, modal groups, arcs, cycles, parameters. May not: anything that knows a
//! sheet, a bit's shape, a machine's limits or a controller.

pub mod motion;
