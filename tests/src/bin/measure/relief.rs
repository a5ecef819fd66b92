//! A program as long as a large relief: read, timed and bounded from a file, in a process of its own, so that the most
//! memory it ever held can be told.
#![allow(clippy::disallowed_methods, reason = "a benchmark reads files and the clock")]

use super::program::{self, limits, start};
use chargehand_daemon::program::Reader;
use chargehand_daemon::program::motion::Doing;
use chargehand_daemon::program::way::Way;
use chargehand_daemon::timing::Clockwork;
use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::Path;
use std::process::Command;

/// What is read of the file at a time.
const PIECE: usize = 64 * 1024;

/// What the process of its own told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// Moves timed.
    pub moves: u64,
    /// Machine seconds of the whole program.
    pub machine_seconds: f64,
    /// Processor seconds it took.
    pub took: f64,
    /// The most memory resident, in KiB.
    pub most_kib: u64,
}

/// Writes the program to a file, has another process read it, and gives what that told.
pub fn run(lines: u32) -> io::Result<Told> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("relief.nc");
    let mut out = BufWriter::new(File::create(&file)?);
    program::write_surfacing(lines, &mut out)?;
    out.flush()?;
    let told = Command::new(std::env::current_exe()?).arg("--read").arg(&file).output()?;
    let text = String::from_utf8_lossy(&told.stdout);
    let numbers: Vec<f64> = text.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    match numbers[..] {
        [moves, machine_seconds, took, most_kib] => {
            Ok(Told { moves: moves as u64, machine_seconds, took, most_kib: most_kib as u64 })
        }
        _ => Err(io::Error::other(String::from_utf8_lossy(&told.stderr).into_owned())),
    }
}

/// What the other process does: reads, times and bounds the file, and prints its four numbers.
pub fn read(file: &Path) -> io::Result<()> {
    let begun = program::processor_seconds();
    let mut file = File::open(file)?;
    let mut piece = vec![0; PIECE];
    let mut judged = Judged::new();
    let mut reader = Reader::new(start());
    loop {
        let length = file.read(&mut piece)?;
        if length == 0 {
            break;
        }
        reader.push(piece.get(..length).unwrap_or_default());
        judged.take(&mut reader);
    }
    reader.finish();
    judged.take(&mut reader);
    judged.clock.finish(&mut |_| {});
    if !reader.faults().is_empty() {
        return Err(io::Error::other("the program has faults"));
    }
    std::hint::black_box(judged.bounds);
    let took = program::processor_seconds() - begun;
    println!("{} {} {took} {}", judged.moves, judged.clock.total().value(), most_resident_kib()?);
    Ok(())
}

struct Judged {
    clock: Clockwork,
    bounds: [[f64; 2]; 3],
    moves: u64,
}

impl Judged {
    fn new() -> Self {
        Self { clock: Clockwork::new(&limits()), bounds: [[f64::INFINITY, f64::NEG_INFINITY]; 3], moves: 0 }
    }

    fn take(&mut self, reader: &mut Reader) {
        while let Some(step) = reader.next() {
            self.clock.push(&step, &mut |_| {});
            if let Doing::Move(made) = &step.doing {
                self.moves += 1;
                for (all, one) in self.bounds.iter_mut().zip(Way::of(made).bounds()) {
                    *all = [all[0].min(one[0]), all[1].max(one[1])];
                }
            }
        }
    }
}

/// The most memory this process ever held, as the kernel counts it.
fn most_resident_kib() -> io::Result<u64> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()).and_then(|word| word.parse().ok());
    number.ok_or_else(|| io::Error::other("no VmHWM in /proc/self/status"))
}
