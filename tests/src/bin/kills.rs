//! Kills the real daemon under load at random moments of one seed, and looks at its store after each start; ends with 1
//! at the first thing that is not as it must be.

use chargehand_tests::kills;
use clap::Parser;
use std::process::ExitCode;

/// Kills the real daemon under load.
#[derive(Debug, Parser)]
#[command(name = "kills")]
struct Arguments {
    /// How often.
    #[arg(default_value_t = 500)]
    kills: u64,
    /// Of the moments and the load.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> ExitCode {
    let Arguments { kills, seed } = Arguments::parse();
    let tell = |told: &kills::Told| {
        if told.kills.is_multiple_of(10) {
            println!("{told:?}");
        }
    };
    match kills::run(kills, seed, tell) {
        Ok(told) => {
            println!("survived: {told:?}");
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}
