//! Explores floor and link to the last state and prints how many there are; ends with 1 where a rule does not hold or
//! no end can be reached from a state, with the way there.

use chargehand_daemon::floor::state::{Homing, Setup, SpindleKind};
use chargehand_tests::explore::floor::FloorModel;
use chargehand_tests::explore::link::LinkModel;
use chargehand_tests::explore::machine::STUMBLES;
use chargehand_tests::explore::{Explored, explore};
use clap::Parser;
use std::process::ExitCode;
use std::time::Instant;

/// Explores floor and link to the last state.
#[derive(Debug, Parser)]
#[command(name = "explore")]
struct Arguments {
    /// Sheets.
    #[arg(long, default_value_t = 2)]
    sheets: u8,
    /// Things that go wrong.
    #[arg(long, default_value_t = 1)]
    troubles: u8,
    /// Reports of the link that may wait before the floor hears them.
    #[arg(long, default_value_t = 0)]
    waits: usize,
    /// Operations of a sheet.
    #[arg(long, default_value_t = 2)]
    operations: usize,
    /// Only states that lie so few steps from the first one, and no look at the ways out.
    #[arg(long)]
    depth: Option<usize>,
    /// A helper may be there too.
    #[arg(long)]
    helper: bool,
    /// Programs may run with nobody there, where that is allowed.
    #[arg(long)]
    alone: bool,
    /// Threads of the model checker.
    #[arg(long, default_value_t = 1)]
    threads: usize,
    /// Only what has this in its name.
    #[arg(long)]
    only: Option<String>,
}

#[allow(clippy::disallowed_methods, reason = "the run is timed for whoever reads it")]
fn one<M: Explored>(arguments: &Arguments, name: &str, model: &M) -> bool {
    if arguments.only.as_ref().is_some_and(|only| !name.contains(only)) {
        return true;
    }
    let begun = Instant::now();
    let told = explore(model, arguments.threads, arguments.depth, |states, deep| {
        let seconds = begun.elapsed().as_secs_f64();
        println!("{name}: every rule holds in {states} states, {deep} deep, {seconds:.0} s; now the ways out");
    });
    let seconds = begun.elapsed().as_secs_f64();
    println!("{name}: {} states, {} steps, {} deep, {seconds:.0} s", told.states, told.steps, told.depth);
    for (rule, way) in &told.broken {
        println!("  {rule}:\n    {}", way.join("\n    "));
    }
    if told.stuck.0 > 0 {
        println!("  no way out of {} states, as of:\n    {}", told.stuck.0, told.stuck.1.join("\n    "));
    }
    told.holds()
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let setups = [
        ("a router switched by hand", SpindleKind::Manual, Homing::Able),
        ("a controlled spindle", SpindleKind::Controlled, Homing::Able),
        ("no switches for home", SpindleKind::Manual, Homing::Unable),
    ];
    let mut holds = true;
    for (name, spindle, homing) in setups {
        let setup = Setup { spindle, homing };
        for (bits, what) in [([0, 0], "one bit"), ([0, 1], "two bits")] {
            let bits = bits.into_iter().take(arguments.operations).collect();
            let Arguments { sheets, troubles, waits, helper, alone, .. } = arguments;
            let model = FloorModel {
                setup,
                sheets,
                bits,
                troubles,
                asks: true,
                helper,
                alone,
                waits,
                broken: None,
                before: Vec::new(),
            };
            holds &= one(&arguments, &format!("floor, {name}, {what}"), &model);
        }
    }
    holds &= one(&arguments, "link, nothing goes wrong", &LinkModel::new(&[], None));
    holds &= one(&arguments, "link, finding home", &LinkModel::homing());
    for stumble in STUMBLES {
        holds &= one(&arguments, &format!("link, {stumble:?}"), &LinkModel::new(&[stumble], None));
    }
    if holds { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
