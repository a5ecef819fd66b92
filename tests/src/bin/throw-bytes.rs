//! Throws bytes at every face that takes them from outside, from a seed, and prints how often; ends with 1 where
//! something does not hold or one input takes too long, and leaves that input in a file.

use chargehand_tests::throw::{faces, throw};
use clap::Parser;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// Throws bytes at every face that takes them from outside.
#[derive(Debug, Parser)]
#[command(name = "throw-bytes")]
struct Arguments {
    /// How often at each face.
    #[arg(long, default_value_t = 10_000_000)]
    executions: u64,
    /// Where chance begins.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only at this face.
    #[arg(long)]
    face: Option<String>,
    /// One input may take so many seconds.
    #[arg(long, default_value_t = 5.0)]
    longest: f64,
    /// Inputs that were found are left here.
    #[arg(long, default_value = ".")]
    finds: PathBuf,
    /// Throws this file alone.
    #[arg(long, requires = "face")]
    file: Option<PathBuf>,
}

#[allow(clippy::disallowed_methods, reason = "the run is timed for whoever reads it, and files are read")]
fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut held = true;
    for face in faces().iter().filter(|f| arguments.face.as_ref().is_none_or(|only| only == f.name)) {
        if let Some(file) = &arguments.file {
            (face.holds)(&std::fs::read(file).unwrap_or_default());
            println!("{}: holds", face.name);
            continue;
        }
        let begun = Instant::now();
        let thrown = throw(face, arguments.executions, arguments.seed);
        let seconds = begun.elapsed().as_secs_f64();
        let slowest = thrown.slowest.as_secs_f64() * 1000.0;
        println!("{}: {} in {seconds:.0} s, the slowest in {slowest:.1} ms", face.name, thrown.executions);
        let mut finds: Vec<_> = thrown.bad.iter().map(|(input, said)| (input, said.clone())).collect();
        if thrown.slowest > Duration::from_secs_f64(arguments.longest) {
            finds.push((&thrown.slow, "it takes too long".to_owned()));
        }
        for (n, (input, said)) in finds.iter().enumerate() {
            held = false;
            let file = arguments.finds.join(format!("{}-{}-{n}", face.name, arguments.seed));
            let kept = std::fs::write(&file, input);
            eprintln!("{}: {said}\n  the input is in {} ({kept:?})", face.name, file.display());
        }
    }
    if held { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
