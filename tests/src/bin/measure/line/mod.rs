//! The line as it is in use: the whole daemon as a process of its own, a person by rule at it, and a controller that
//! shares no code with it. Figures are printed; what is asserted with `--check` are ratios.
#![allow(
    clippy::disallowed_methods,
    clippy::panic,
    reason = "a measurement reads the clock, files and processes, and says what it misses by failing"
)]

mod bit;
mod far_end;
mod shop;

use chargehand_daemon::sending::{Sender, SentLine};
use chargehand_daemon::shop::understands::Understands;
use chargehand_tests::client::Client;
use chargehand_types::act::Act;
use chargehand_types::now::{Motion, Now};
use chargehand_types::quantity::Length;
use chargehand_types::queue::Doctor;
use chargehand_types::stage::Stage;
use far_end::Seen;
use shop::{Streaming, dense};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What is to be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Run {
    /// How much of the wire the program's bytes carry, at 115,200 and 1,000,000 baud; processor time; bytes below us;
    /// what a journal append takes meanwhile.
    Line,
    /// From the request for a hold to the byte at the far end.
    Hold,
    /// Resident memory while a short program streams, and a long one.
    Memory,
}

/// Resident memory may grow by less than this from a short program to a long one.
const MORE_MIB: f64 = 8.0;

/// Share of the wire at 115,200 baud that a check asks for: a machine that does much else is late now and then.
const CARRIED: f64 = 0.9;

/// Runs one; gives whether its ratios hold.
pub fn run(run: Run, lines: Option<u32>) -> std::io::Result<bool> {
    match run {
        Run::Line => {
            bytes();
            let slow = carried(115_200, 20_000)?;
            carried(1_000_000, 60_000)?;
            Ok(slow >= CARRIED)
        }
        Run::Hold => holds(200),
        Run::Memory => memory(lines.unwrap_or(200_000)),
    }
}

/// The same program in fewer bytes.
fn bytes() {
    let text = dense(20_000);
    let sent = |shorten: bool| -> usize {
        let understands = Understands { shorten, ..Understands::default() };
        let mut sender = Sender::new(super::program::start(), understands, Length::ZERO);
        sender.push(text.as_bytes());
        sender.finish();
        std::iter::from_fn(|| sender.next_line()).map(|l: SentLine| l.bytes.len() + 1).sum()
    };
    println!("20,000 segments: {} bytes as written, {} as sent, {} shortened", text.len(), sent(false), sent(true));
}

/// The share of the wire that was carried in the middle of the program: alone, and while notes are written down.
fn carried(baud: u32, lines: u32) -> std::io::Result<f64> {
    let s = Streaming::begin(baud, lines)?;
    s.past(u64::from(lines) / 10);
    let alone = s.carries(baud, "nothing else asked", || s.past(u64::from(lines) / 2));
    let mut appends = Vec::new();
    let noting = s.carries(baud, "and four notes a second", || appends = s.notes_until(u64::from(lines) * 9 / 10));
    told("a note, from the request to its answer (journal synced)", appends);
    println!("the doctor says: {}", below(&s.client));
    Ok(alone.min(noting))
}

impl Streaming {
    /// The share of the wire that is carried meanwhile; everything else is printed.
    fn carries(&self, baud: u32, what: &str, meanwhile: impl FnOnce()) -> f64 {
        self.far.count_anew();
        let (from, spent, begun) = (self.far.seen(), self.processor_seconds(), Instant::now());
        meanwhile();
        let (to, spent) = (self.far.seen(), self.processor_seconds() - spent);
        let (took, wire) = (begun.elapsed().as_secs_f64(), f64::from(baud) / 10.0);
        let share = share(from, to, wire);
        println!(
            "{baud} baud, {what}: {:.2} % of {wire:.0} bytes/s carried ({} bytes in {:.2} s, {:.0} lines/s); at most {} \
             bytes below us and {} unread in the system; {:.2} % of one core; {:.1} MiB resident",
            100.0 * share,
            to.bytes - from.bytes,
            to.through - from.through,
            (to.lines - from.lines) as f64 / (to.through - from.through),
            to.most_below,
            to.most_unread,
            100.0 * spent / took,
            self.resident_mib(),
        );
        share
    }
}

fn share(from: Seen, to: Seen, wire: f64) -> f64 {
    (to.bytes - from.bytes) as f64 / (to.through - from.through) / wire
}

fn below(client: &Client) -> String {
    let doctor: Doctor = client.get("/v1/doctor").unwrap_or_else(|p| panic!("{p}"));
    doctor.looks.into_iter().find(|l| l.what == "line").map(|l| l.text).unwrap_or_default()
}

/// Prints a distribution of milliseconds.
fn told(what: &str, mut ms: Vec<f64>) {
    ms.sort_by(f64::total_cmp);
    let at = |share: f64| ms.get(((ms.len() as f64 * share) as usize).min(ms.len().saturating_sub(1))).copied();
    if let (Some(half), Some(most_of), Some(most)) = (at(0.5), at(0.99), ms.last()) {
        println!("{what}: {} times, median {half:.3} ms, 99th percentile {most_of:.3} ms, most {most:.3} ms", ms.len());
    }
}

/// Holds while it streams at full rate, four terminals listen and one core is busy with checks.
fn holds(count: u32) -> std::io::Result<bool> {
    let s = Streaming::begin(115_200, 120_000)?;
    s.past(100);
    let listening: Vec<JoinHandle<()>> = (0..4).map(|_| listener(&s.client)).collect();
    let over = Arc::new(AtomicBool::new(false));
    let busy = s.checks(Arc::clone(&over));
    let cutting = |n: &Now| n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting);
    let held = |n: &Now| n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Held) && n.machine.motion == Motion::Held;
    // over the connection that a terminal has, and over one that is made for it: who asks is looked at once for each
    let mut taken = [Vec::new(), Vec::new()];
    while s.far.holds.try_recv().is_ok() {}
    for nth in 0..count {
        let lines = s.far.seen().lines;
        let there = if nth % 2 == 0 { Some(s.client.connection()?) } else { None };
        s.past(lines + 40);
        let client = s.client.clone();
        let (tell, begun) = mpsc::channel();
        let asking = std::thread::Builder::new().name("asks".to_owned()).spawn(move || {
            // whoever measures waits for it
            let _ = tell.send(Instant::now());
            client.hold_on(there.map_or_else(|| client.connection(), Ok)?)
        })?;
        let asked = begun.recv().map_err(std::io::Error::other)?;
        let came = s.far.holds.recv_timeout(Duration::from_secs(5)).map_err(std::io::Error::other)?;
        taken[nth as usize % 2].push(came.saturating_duration_since(asked).as_secs_f64() * 1000.0);
        assert!(asking.join().unwrap_or_else(|_| panic!("the hold was answered"))?, "the hold was taken");
        s.client.until("held", held);
        s.client.act(Act::Resume).unwrap_or_else(|p| panic!("{p}"));
        s.client.until("cutting again", cutting);
    }
    over.store(true, Ordering::Relaxed);
    let checks = busy.join().unwrap_or_default();
    let [kept, fresh] = taken;
    told("hold, from the request to the byte at the far end, over a connection that is there", kept);
    told("the same over one that is made for it", fresh);
    println!("meanwhile {} listeners, {checks} cards checked", listening.len());
    Ok(true)
}

/// Reads the event stream until it ends.
fn listener(client: &Client) -> JoinHandle<()> {
    let mut stream = client.events(None);
    std::thread::spawn(move || while matches!(stream.read(), Ok(Some(_))) {})
}

/// Resident memory in the middle of a short program and of a long one.
fn memory(long: u32) -> std::io::Result<bool> {
    let mut all = Vec::new();
    for lines in [1_000, long] {
        let s = Streaming::begin(1_000_000, lines)?;
        let before = s.resident_before_mib;
        // well into it, but not for hours
        s.past((u64::from(lines) / 2).min(100_000));
        let mib = s.resident_mib();
        println!(
            "{lines} lines, {:.1} MiB of program: {before:.1} MiB resident before the card was added, {mib:.1} MiB while it \
             streams",
            dense(lines).len() as f64 / 1_048_576.0
        );
        all.push(mib);
    }
    let [short, long] = all[..] else { return Ok(false) };
    println!("{:.1} MiB more for the long program, less than {MORE_MIB} wanted", long - short);
    Ok(long - short < MORE_MIB)
}
