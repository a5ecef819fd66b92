//! x
use std::path::PathBuf;
/// x
pub fn daemon_program() -> PathBuf { PathBuf::from("chargehand-daemon") }
