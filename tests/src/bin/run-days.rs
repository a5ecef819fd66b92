//! Lives whole days in simulated time, each from its seed, and prints what came of them; ends with 1 at the first day
//! that breaks a rule, with its seed and the least that has to go wrong for it.

use chargehand_tests::days;
use clap::Parser;
use std::process::ExitCode;
use std::time::Instant;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Lives whole days in simulated time.
#[derive(Debug, Parser)]
#[command(name = "run-days")]
struct Arguments {
    /// How many days.
    #[arg(long, default_value_t = 1000)]
    days: u64,
    /// The first day's seed; each next day has the next one.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Sheets a day.
    #[arg(long, default_value_t = 8)]
    sheets: u32,
    /// Does not look for the least that has to go wrong: tells the day as it was lived.
    #[arg(long)]
    whole: bool,
    /// Prints each day's own sums.
    #[arg(long)]
    each: bool,
    /// Prints all that is told and commanded from this turn of each day on.
    #[arg(long)]
    watch_from: Option<u64>,
}

#[allow(clippy::disallowed_methods, reason = "the run is timed for whoever reads it")]
fn main() -> ExitCode {
    let asked = Arguments::parse();
    let begun = Instant::now();
    let seeds = asked.seed..asked.seed.saturating_add(asked.days);
    let told = |seed: u64, day: &days::day::Told| {
        if asked.each {
            println!("seed {seed}, {:.2} s so far: {day:?}", begun.elapsed().as_secs_f64());
        }
    };
    match days::live_all(seeds, asked.sheets, asked.whole, asked.watch_from, told) {
        Ok(sum) => {
            let seconds = begun.elapsed().as_secs_f64();
            println!("{} days of {} sheets in {seconds:.1} s: {sum:?}", asked.days, asked.sheets);
            ExitCode::SUCCESS
        }
        Err(bad) => {
            eprintln!("the day of seed {} breaks a rule: {}\nit takes: {:#?}", bad.seed, bad.why, bad.takes);
            ExitCode::FAILURE
        }
    }
}
