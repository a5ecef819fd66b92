//! A month's work in one daemon that is never restarted: memory, open handles, threads, log and store are printed at the
//! end of each day, and a backup is made. Ends with 1 when handles or memory keep growing, or history is lost.
#![allow(
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a harness says what it misses by failing, and reads what the system tells of a process"
)]

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use clap::Parser;
use std::path::Path;
use std::process::ExitCode;

/// Machine seconds to a real one.
const RATE: f64 = 100.0;
/// What memory may grow by from the end of the first third to the end, as a share.
const MEMORY_GROWS: f64 = 0.25;
/// Handles more than at the end of the first third: a connection that is just being closed.
const HANDLES_MORE: usize = 4;

/// A month's work in one daemon.
#[derive(Debug, Parser)]
#[command(name = "soak")]
struct Arguments {
    /// Working days.
    #[arg(default_value_t = 30)]
    days: u32,
    /// Sheets a day.
    #[arg(long, default_value_t = 8)]
    sheets: u32,
}

/// How the daemon stands at the end of a day.
#[derive(Debug, Clone, Copy)]
struct Standing {
    resident_kib: u64,
    handles: usize,
    threads: u64,
    journal: u64,
    index: u64,
    log: u64,
    backup: u64,
    events: u64,
}

fn main() -> ExitCode {
    let Arguments { days, sheets } = Arguments::parse();
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap_or_else(|p| panic!("{p}"));
    let mut standings = Vec::new();
    println!("day  events  resident KiB  handles  threads  journal B  index B  log B  backup B");
    for day in 1..=days {
        client.add_batch(CARD, sheets).unwrap_or_else(|p| panic!("{p}"));
        Operator::owner(&client).walk_sheets(sheets);
        let file = shop.path("day.backup");
        let told = shop.says(&shop.path(""), &["backup", &file.display().to_string()]);
        assert_eq!(told.code, Some(0), "{told:?}");
        let s = standing(&shop, client.now().seq.0);
        println!(
            "{day:3}  {:6}  {:12}  {:7}  {:7}  {:9}  {:7}  {:5}  {:8}",
            s.events, s.resident_kib, s.handles, s.threads, s.journal, s.index, s.log, s.backup
        );
        standings.push(s);
    }
    let (before, events) = (client.history(), client.all_events());
    assert!(shop.end().success());
    let again = shop.start();
    let kept = again.all_events();
    let mut bad = Vec::new();
    if kept.get(..events.len()) != Some(&events[..]) || again.history() != before {
        bad.push("history is not what it was before the restart".to_owned());
    }
    if before.sheets.len() != (days * sheets) as usize {
        bad.push(format!("{} sheets are in the history, {} were cut", before.sheets.len(), days * sheets));
    }
    if let (Some(early), Some(late)) = (standings.get(days as usize / 3), standings.last()) {
        if late.handles > early.handles + HANDLES_MORE {
            bad.push(format!("open handles grow: {} early, {} late", early.handles, late.handles));
        }
        if late.resident_kib as f64 > early.resident_kib as f64 * (1.0 + MEMORY_GROWS) {
            bad.push(format!("memory grows: {} KiB early, {} KiB late", early.resident_kib, late.resident_kib));
        }
    }
    for why in &bad {
        eprintln!("soak: {why}");
    }
    if bad.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn standing(shop: &Workshop, events: u64) -> Standing {
    let process = Path::new("/proc").join(shop.pid().to_string());
    let status = std::fs::read_to_string(process.join("status")).unwrap_or_default();
    let figure = |key: &str| {
        let line = status.lines().find_map(|l| l.strip_prefix(key)).unwrap_or_default();
        line.split_whitespace().next().and_then(|n| n.parse().ok()).unwrap_or(0)
    };
    Standing {
        resident_kib: figure("VmRSS:"),
        handles: std::fs::read_dir(process.join("fd")).map_or(0, Iterator::count),
        threads: figure("Threads:"),
        journal: size(&shop.path("store/journal")),
        index: size(&shop.path("store/index")),
        log: shop.log().len() as u64,
        backup: size(&shop.path("day.backup")),
        events,
    }
}

/// Bytes of a file, or of everything in a folder.
fn size(path: &Path) -> u64 {
    if path.is_file() {
        return path.metadata().map_or(0, |m| m.len());
    }
    let Ok(entries) = std::fs::read_dir(path) else { return 0 };
    entries.flatten().map(|e| size(&e.path())).sum()
}
