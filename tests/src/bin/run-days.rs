//! Lives whole days in simulated time, each from its seed, and prints what came of them; ends with 1 at the first day
//! that breaks a rule, with its seed and the least that has to go wrong for it.

use chargehand_tests::days::{self, shop::Shop};
use clap::Parser;
use std::process::ExitCode;
use std::time::Instant;

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

#[tokio::main(flavor = "current_thread")]
#[allow(clippy::disallowed_methods, reason = "the run is timed for whoever reads it")]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut shop = match Shop::new() {
        Ok(shop) => shop,
        Err(why) => {
            eprintln!("run-days: {why}");
            return ExitCode::FAILURE;
        }
    };
    shop.watch_from = arguments.watch_from;
    let begun = Instant::now();
    let mut sum = days::day::Told::default();
    for seed in arguments.seed..arguments.seed.saturating_add(arguments.days) {
        let lived = match arguments.whole {
            true => days::live_whole(&shop, seed, arguments.sheets).await,
            false => days::live(&shop, seed, arguments.sheets).await,
        };
        match lived {
            Ok(told) => {
                if arguments.each {
                    println!("seed {seed}, {:.2} s so far: {told:?}", begun.elapsed().as_secs_f64());
                }
                sum.add(&told);
            }
            Err(bad) => {
                eprintln!("the day of seed {} breaks a rule: {}\nit takes: {:#?}", bad.seed, bad.why, bad.takes);
                return ExitCode::FAILURE;
            }
        }
    }
    println!(
        "{} days of {} sheets in {:.1} s: {sum:?}",
        arguments.days,
        arguments.sheets,
        begun.elapsed().as_secs_f64()
    );
    ExitCode::SUCCESS
}
