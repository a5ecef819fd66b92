//! The exit codes of the command line, named once.
//!
//! May live here: the numbers. May not: who ends with which; each fault says so itself.

/// The answer is no.
pub const NO: u8 = 1;
/// Wrong use.
pub const WRONG_USE: u8 = 2;
/// No daemon can be reached.
pub const NO_DAEMON: u8 = 3;
/// Refused by a start condition or for lack of permission.
pub const REFUSED: u8 = 4;
/// Something needed is missing, malformed or busy.
pub const MISSING: u8 = 5;
