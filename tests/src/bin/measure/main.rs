//! Benchmarks: each figure beside an outside yardstick in the same run. Absolute figures are printed, never asserted;
//! `--check` runs a small size and asserts ratios only.
#![allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use async_gcode::Parser;
use chargehand_daemon::program::motion::{Doing, Start};
use chargehand_daemon::program::{Reader, steps};
use chargehand_daemon::sending::Sender;
use chargehand_daemon::shop::understands::Understands;
use chargehand_daemon::timing::{Clockwork, Limits};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point};
use clap::Parser as _;
use futures_util::stream;
use std::fmt::Write as _;
use std::process::ExitCode;
use std::time::Instant;

/// Measures the daemon's kernels.
#[derive(Debug, clap::Parser)]
#[command(name = "measure")]
struct Arguments {
    /// A small size, and ratios asserted.
    #[arg(long)]
    check: bool,
    /// Lines of the generated program.
    #[arg(long)]
    lines: Option<u32>,
}

/// Reading must not fall below this share of the yardstick's speed. The yardstick only makes tokens; the reader checks
/// every modal group. It ran at 0.6 of it when this bar was set; the bar only
/// catches a reader that has become slow, on machines that swing.
const READING_AGAINST_TOKENS: f64 = 0.3;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let lines = arguments.lines.unwrap_or(if arguments.check { 100_000 } else { 1_000_000 });
    let text = surfacing(lines);
    println!("a surfacing program of {lines} lines, {:.1} MB; best of three, one thread", text.len() as f64 / 1.0e6);
    let tokens = best(|| tokenise(&text));
    told("tokens only (async-gcode 0.3)", lines, tokens);
    let slice = best(|| read_slice(&text));
    told("read to moves, from memory", lines, slice);
    told("read to moves, in chunks", lines, best(|| read_chunks(&text)));
    told("timed, reading included", lines, best(|| time(&text)));
    let mut sent = 0;
    told("adapted and shortened for sending", lines, best(|| sent = send(&text)));
    println!("{:<36} {:.1} % of the bytes as written", "sent", 100.0 * sent as f64 / text.len() as f64);
    let ratio = tokens / slice;
    println!("reading runs at {ratio:.2} times the yardstick");
    if arguments.check && ratio < READING_AGAINST_TOKENS {
        println!("that is below {READING_AGAINST_TOKENS}: reading has become slow");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

fn told(what: &str, lines: u32, seconds: f64) {
    println!("{what:<36} {:>7.1} million lines/s", f64::from(lines) / seconds / 1.0e6);
}

/// The shortest of three runs, in seconds.
fn best(mut run: impl FnMut()) -> f64 {
    (0..3)
        .map(|_| {
            let begun = Instant::now();
            run();
            begun.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Short segments with every word on the line, as a surfacing toolpath has them.
fn surfacing(lines: u32) -> Vec<u8> {
    let mut text = String::from("G90 G94 G21\nG17 G54\nM3 S18000\nG0 X0 Y0\nG1 Z-1 F1200\n");
    for i in 0..lines {
        let (x, y) = (f64::from(i % 4000) * 0.15, f64::from(i / 4000) * 0.75);
        let z = -1.0 - f64::from(i.wrapping_mul(7919) % 1000) / 1000.0;
        // writing to a String cannot fail
        let _ = writeln!(text, "G1 X{x:.3} Y{y:.3} Z{z:.3}");
    }
    text.push_str("M30\n");
    text.into_bytes()
}

fn start() -> Start {
    Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

fn tokenise(text: &[u8]) {
    let bytes = stream::iter(text.iter().map(|b| Ok::<u8, async_gcode::Error>(*b)));
    let mut parser = Parser::new(bytes);
    let counted = futures_util::FutureExt::now_or_never(async {
        let mut tokens = 0_u64;
        while let Some(token) = parser.next().await {
            tokens += u64::from(token.is_ok());
        }
        tokens
    });
    std::hint::black_box(counted);
}

fn read_slice(text: &[u8]) {
    let moves = steps(text, start()).filter(|s| matches!(s.doing, Doing::Move(_))).count();
    std::hint::black_box(moves);
}

fn read_chunks(text: &[u8]) {
    let mut reader = Reader::new(start());
    let mut moves = 0_u64;
    for chunk in text.chunks(64 * 1024) {
        reader.push(chunk);
        while let Some(step) = reader.next() {
            moves += u64::from(matches!(step.doing, Doing::Move(_)));
        }
    }
    reader.finish();
    while reader.next().is_some() {}
    std::hint::black_box(moves);
}

fn time(text: &[u8]) {
    let limits = Limits {
        max_rate: [8000.0, 8000.0, 3000.0].map(|f| Feed::from_unit(f).unwrap_or_default()),
        acceleration: [400.0, 400.0, 200.0].map(Acceleration::of),
        corner_deviation: Length(20_000),
    };
    let mut clockwork = Clockwork::new(&limits);
    let mut seconds = 0.0;
    for step in steps(text, start()) {
        clockwork.push(&step, &mut |timed| seconds += timed.seconds.value());
    }
    clockwork.finish(&mut |timed| seconds += timed.seconds.value());
    std::hint::black_box(seconds);
}

fn send(text: &[u8]) -> u64 {
    let mut sender = Sender::new(start(), Understands::default(), Length::ZERO);
    let mut bytes = 0;
    for chunk in text.chunks(64 * 1024) {
        sender.push(chunk);
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
