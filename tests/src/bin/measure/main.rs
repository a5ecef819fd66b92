//! Benchmarks: each figure beside outside yardsticks in the same run. Absolute figures are printed, never asserted;
//! `--check` runs a small size and asserts ratios only.

mod check;
mod line;
mod program;
mod relief;
mod sheet;
mod yardstick;

use chargehand_daemon::program::motion::{Doing, Step};
use chargehand_daemon::program::{Reader, steps};
use chargehand_daemon::sending::Sender;
use chargehand_daemon::shop::understands::Understands;
use chargehand_daemon::timing::Clockwork;
use chargehand_types::quantity::Length;
use clap::Parser as _;
use program::{limits, processor_seconds, start};
use std::path::PathBuf;
use std::process::ExitCode;

/// Measures the daemon's kernels.
#[derive(Debug, clap::Parser)]
#[command(name = "measure")]
struct Arguments {
    /// Measure these alone, with the whole daemon at a controller that shares no code with it.
    runs: Vec<line::Run>,
    /// A small size, and ratios asserted.
    #[arg(long)]
    check: bool,
    /// Lines of the generated program; of the long one of `memory`.
    #[arg(long)]
    lines: Option<u32>,
    /// Lines of the long program that a process of its own reads from a file.
    #[arg(long)]
    relief: Option<u32>,
    /// What that process does.
    #[arg(long, hide = true)]
    read: Option<PathBuf>,
}

/// Reading, every modal group checked, is to be faster than the fastest yardstick makes tokens. It ran at 1.4 times
/// that when this bar was set.
const READING_AGAINST_TOKENS: f64 = 1.0;
/// The same against the words of the second yardstick.
const READING_AGAINST_WORDS: f64 = 3.0;
/// Reading and timing together, against tokens; it ran at 0.4 times.
const TIMING_AGAINST_TOKENS: f64 = 0.25;
/// Four times the lines may hold no more memory than this share more.
const MEMORY_GROWTH: f64 = 1.1;

/// A map tells depth, pieces and their release, the library only the outline of what is covered: it may take so many
/// times longer. It took 7 times as long when this bar was set.
const MAP_AGAINST_WIDENING: f64 = 0.05;
/// The cost of a move may not grow with their number; a few moves carry the cost of the empty sheet.
const MAP_GROWTH: f64 = 2.0;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = match &arguments.read {
        None if !arguments.runs.is_empty() => named(&arguments),
        Some(file) => relief::read(file).map(|()| true),
        None => measure(&arguments),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// The runs that were named, one after the other.
fn named(arguments: &Arguments) -> std::io::Result<bool> {
    let mut held = true;
    for run in &arguments.runs {
        held &= line::run(*run, arguments.lines)?;
    }
    Ok(held || !arguments.check)
}

/// Whether every ratio that is asked for holds.
fn measure(arguments: &Arguments) -> std::io::Result<bool> {
    let lines = arguments.lines.unwrap_or(if arguments.check { 100_000 } else { 1_000_000 });
    let mut text = Vec::new();
    program::write_surfacing(lines, &mut text)?;
    let megabytes = text.len() as f64 / 1.0e6;
    println!("a surfacing program of {lines} lines, {megabytes:.1} MB; best of five, one thread, its processor time");
    let told = |what: &str, run: &mut dyn FnMut()| {
        let seconds = best(run);
        println!("{what:<36} {:>7.1} million lines/s", f64::from(lines) / seconds / 1.0e6);
        seconds
    };
    let as_text = String::from_utf8_lossy(&text).into_owned();
    let tokens = told("tokens only (async-gcode 0.3)", &mut || {
        std::hint::black_box(yardstick::tokens(&text));
    });
    let words = told("words only (gcode 0.7)", &mut || {
        std::hint::black_box(yardstick::words(&as_text));
    });
    let read = told("read to moves, from memory", &mut || read_slice(&text));
    told("read to moves, in pieces", &mut || read_pieces(&text));
    let timed = told("read and timed", &mut || time(&text));
    let moves: Vec<Step> = steps(&text, start()).take(200_000).collect();
    let alone = best(&mut || time_moves(&moves));
    println!("{:<36} {:>7.1} million moves/s", "timed alone", moves.len() as f64 / alone / 1.0e6);
    let mut sent = 0;
    told("adapted and shortened for sending", &mut || sent = send(&text));
    println!("{:<36} {:>7.1} % of the bytes as written", "sent", 100.0 * sent as f64 / text.len() as f64);
    let mut bars = Bars { held: true };
    bars.least("reading against tokens", tokens / read, READING_AGAINST_TOKENS);
    bars.least("reading against words", words / read, READING_AGAINST_WORDS);
    bars.least("reading and timing against tokens", tokens / timed, TIMING_AGAINST_TOKENS);
    relief(arguments, lines, &mut bars)?;
    sheet_map(arguments.check, &mut bars)?;
    Ok(bars.held || !arguments.check)
}

/// The long program, from a file, in a process of its own; and a quarter of it, whose memory must be the same.
fn relief(arguments: &Arguments, lines: u32, bars: &mut Bars) -> std::io::Result<()> {
    let long = arguments.relief.unwrap_or(if arguments.check { 4 * lines } else { 5_000_000 });
    let mut most = Vec::new();
    for lines in [long / 4, long] {
        let told = relief::run(lines)?;
        println!(
            "{lines} lines from a file, read, timed and bounded: {:.3} s, {:.1} MiB at most; {} moves, {:.0} machine seconds",
            told.took,
            told.most_kib as f64 / 1024.0,
            told.moves,
            told.machine_seconds,
        );
        most.push(told.most_kib as f64);
    }
    if let [quarter, whole] = most[..] {
        bars.most("memory of four times the lines", whole / quarter, MEMORY_GROWTH);
    }
    Ok(())
}

/// The sheet map beside a geometry library, and how its cost grows.
fn sheet_map(check: bool, bars: &mut Bars) -> std::io::Result<()> {
    let pool = rayon::ThreadPoolBuilder::new().build().map_err(std::io::Error::other)?;
    let told = |what: &str, taken: sheet::Taken| {
        println!(
            "{what:<36} {:>7.1} ms for {} moves, {:.1} MiB of cells, {} pieces",
            taken.seconds * 1000.0,
            taken.moves,
            taken.held as f64 / 1_048_576.0,
            taken.pieces
        );
        taken
    };
    let ordinary = sheet::outlines(5_000);
    let ours = told("sheet map of round parts", sheet::map(&ordinary, false, &pool));
    let (theirs, area) = sheet::widened(&ordinary);
    println!("{:<36} {:>7.1} ms, {area:.0} mm2 covered", "widened and joined (i_overlay 9.1)", theirs * 1000.0);
    bars.least("sheet map against widening", theirs / ours.seconds, MAP_AGAINST_WIDENING);
    told("sheet map of a relief", sheet::map(&sheet::relief(200_000), true, &pool));
    let (moves, took, found) = check::relief(200_000, &pool)?;
    println!(
        "{:<36} {:>7.1} ms for {moves} moves, {found} findings",
        "a relief checked, hold-down and all",
        took * 1000.0
    );
    let sizes = if check { [10_000, 40_000] } else { [10_000, 1_000_000] };
    let each: Vec<f64> = sizes
        .into_iter()
        .map(|moves| told("sheet map as it grows", sheet::map(&sheet::relief(moves), true, &pool)))
        .map(|taken| taken.seconds / taken.moves as f64)
        .collect();
    if let [few, many] = each[..] {
        bars.most("cost of a move, many against few", many / few, MAP_GROWTH);
    }
    Ok(())
}

/// The ratios that have to hold.
struct Bars {
    held: bool,
}

impl Bars {
    fn least(&mut self, what: &str, ratio: f64, bar: f64) {
        println!("{what:<36} {ratio:>7.2} times, at least {bar}");
        self.held &= ratio >= bar;
    }

    fn most(&mut self, what: &str, ratio: f64, bar: f64) {
        println!("{what:<36} {ratio:>7.2} times, at most {bar}");
        self.held &= ratio <= bar;
    }
}

/// The shortest of five runs, in seconds.
fn best(run: &mut dyn FnMut()) -> f64 {
    let once = |_| {
        let begun = processor_seconds();
        run();
        processor_seconds() - begun
    };
    (0..5).map(once).fold(f64::INFINITY, f64::min)
}

fn read_slice(text: &[u8]) {
    let moves = steps(text, start()).filter(|s| matches!(s.doing, Doing::Move(_))).count();
    std::hint::black_box(moves);
}

fn read_pieces(text: &[u8]) {
    let mut reader = Reader::new(start());
    let mut moves = 0_u64;
    for piece in text.chunks(64 * 1024) {
        reader.push(piece);
        while let Some(step) = reader.next() {
            moves += u64::from(matches!(step.doing, Doing::Move(_)));
        }
    }
    reader.finish();
    while reader.next().is_some() {}
    std::hint::black_box(moves);
}

fn time(text: &[u8]) {
    let mut clockwork = Clockwork::new(&limits());
    for step in steps(text, start()) {
        clockwork.push(&step, &mut |_| {});
    }
    clockwork.finish(&mut |_| {});
    std::hint::black_box(clockwork.total());
}

fn time_moves(moves: &[Step]) {
    let mut clockwork = Clockwork::new(&limits());
    for step in moves {
        clockwork.push(step, &mut |_| {});
    }
    clockwork.finish(&mut |_| {});
    std::hint::black_box(clockwork.total());
}

fn send(text: &[u8]) -> u64 {
    let mut sender = Sender::new(start(), Understands::default(), Length::ZERO);
    let mut bytes = 0;
    for piece in text.chunks(64 * 1024) {
        sender.push(piece);
        while let Some(line) = sender.next_line() {
            bytes += line.bytes.len() as u64 + 1;
        }
    }
    sender.finish();
    while let Some(line) = sender.next_line() {
        bytes += line.bytes.len() as u64 + 1;
    }
    bytes
}
