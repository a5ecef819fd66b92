//! Cuts the power of the store so many times (root, loop devices and `mkfs.ext4`; says so and ends well elsewhere), and
//! ends with 1 when anything that was answered is lost or the daemon does not start.

use chargehand_tests::power::{self, KINDS};
use clap::Parser;
use std::process::ExitCode;

/// Cuts the power of the store.
#[derive(Debug, Parser)]
#[command(name = "power-cuts")]
struct Arguments {
    /// How often, over the four kinds in turn.
    #[arg(default_value_t = 200)]
    cuts: u64,
    /// The first one's seed.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> ExitCode {
    let Arguments { cuts, seed } = Arguments::parse();
    if let Some(why) = power::missing() {
        println!("Not tried here: {why}.");
        return ExitCode::SUCCESS;
    }
    let (mut found, mut anew, mut torn, mut extra, mut moved, mut bad) = (0, 0, 0, 0, 0, 0);
    for (nth, kind) in (0..cuts).zip(KINDS.into_iter().cycle()) {
        match power::run(kind, seed.wrapping_add(nth)) {
            Ok(told) => {
                found += told.found;
                extra += told.extra;
                anew += u64::from(told.index_anew);
                torn += u64::from(told.torn);
                moved += u64::from(told.moved > 0);
            }
            Err(why) => {
                bad += 1;
                eprintln!("seed {}, {kind:?}: {why}", seed.wrapping_add(nth));
            }
        }
        println!(
            "{} cuts: {found} answered commands found again, {extra} more done; index built anew {anew} times, torn \
             tail {torn} times; blocks changed under the copy {moved} times; {bad} bad",
            nth + 1
        );
    }
    if bad == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
