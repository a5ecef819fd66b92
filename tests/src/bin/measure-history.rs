//! Ten busy years of history: how large the store is, how long the daemon takes to start, and how long every question
//! to the history takes. One sheet is really walked; its events are repeated with other times and grades, through the
//! store's own door. Figures are printed, never asserted.
#![allow(clippy::disallowed_methods, clippy::expect_used, reason = "a benchmark reads the clock and fails by stopping")]

use chargehand_daemon::ledger::{Draft, Ledger};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::event::{Event, What};
use chargehand_types::id::{BatchId, CommandId, SheetId, StageVersion};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::{Grade, Reason};
use chrono::{DateTime, TimeDelta, Utc};
use clap::Parser as _;
use std::path::Path;
use std::time::{Duration, Instant};

/// Measures a store with years of history in it.
#[derive(Debug, clap::Parser)]
struct Arguments {
    /// Sheets.
    #[arg(long, default_value_t = 20_000)]
    sheets: u32,
    /// Each question is asked so many times; the middle one is told.
    #[arg(long, default_value_t = 5)]
    times: usize,
}

/// Sheets of one generated batch.
const BATCH: u32 = 20;
/// Sheets until the waste board is surfaced: about four weeks.
const BOARD: u32 = 160;
/// Events of one append.
const APPEND: usize = 900;

fn main() {
    let arguments = Arguments::parse();
    let mut shop = Workshop::new(600.0);
    let client = shop.start();
    client.add_card(&shop.card()).expect("the card can be added");
    client.add_batch(CARD, 1).expect("a batch can be added");
    let _ = Operator::owner(&client).walk_sheets(1);
    let pattern = client.all_events();
    assert!(shop.end().success(), "the daemon ends well");

    let begun = Instant::now();
    let written = fill(&shop.path("store"), &pattern, arguments.sheets);
    println!(
        "{} sheets, {written} events, written and closed in {:.1} s",
        arguments.sheets,
        begun.elapsed().as_secs_f64()
    );
    sizes(&shop.path("store"));
    for word in ["first", "second"] {
        let begun = Instant::now();
        let _ = shop.start();
        println!("{word} start until it answers: {} ms", begun.elapsed().as_millis());
        if word == "first" {
            assert!(shop.end().success(), "the daemon ends well");
        }
    }
    let middle = |times: &mut Vec<Duration>| {
        times.sort_unstable();
        times.get(times.len() / 2).copied().unwrap_or_default().as_secs_f64() * 1000.0
    };
    let last = format!("B{}", arguments.sheets.div_ceil(BATCH) + 1);
    let since = (Utc::now() - TimeDelta::minutes(300)).format("%Y-%m-%dT%H:%M:%SZ").to_string();
    println!("\nroutes, middle of {}", arguments.times);
    for path in [
        "/v1/now".to_owned(),
        "/v1/sheets".to_owned(),
        "/v1/batches".to_owned(),
        "/v1/history/sheets?newest=200".to_owned(),
        format!("/v1/history/sheets?since={since}"),
        format!("/v1/history/sheets?batch={last}"),
        "/v1/history/sheets?grade=scrap&newest=200".to_owned(),
        "/v1/history/sheets".to_owned(),
        format!("/v1/history/revisions?card={CARD}"),
        "/v1/history/revisions".to_owned(),
        "/v1/history/bits".to_owned(),
        "/v1/history/effort".to_owned(),
        format!("/v1/batches/{last}/report"),
        "/v1/plan".to_owned(),
        "/metrics".to_owned(),
    ] {
        let mut bytes = 0;
        let mut times: Vec<Duration> = (0..arguments.times)
            .map(|_| {
                let begun = Instant::now();
                let answer = chargehand_tests::http::send(&shop.socket(), "GET", &path, &[], None).expect("it answers");
                assert_eq!(answer.status, 200, "{path}");
                bytes = answer.whole().expect("the answer is whole").len();
                begun.elapsed()
            })
            .collect();
        println!("{:>9.1} ms  {bytes:>10} bytes  {path}", middle(&mut times));
    }
    println!("\ncommands, middle of {}", arguments.times);
    let page = shop.path("page.html");
    let page = page.to_string_lossy();
    for command in [
        vec!["history", "sheets"],
        vec!["history", "sheets", "--since", &since],
        vec!["history", "sheets", "--csv"],
        vec!["history", "revisions"],
        vec!["history", "bits"],
        vec!["history", "effort", "--csv"],
        vec!["report", &last, "-o", &page],
    ] {
        let mut times: Vec<Duration> = (0..arguments.times)
            .map(|_| {
                let begun = Instant::now();
                let told = shop.says(&shop.path("."), &command);
                assert_eq!(told.code, Some(0), "{told:?}");
                begun.elapsed()
            })
            .collect();
        println!("{:>9.1} ms  chargehand {}", middle(&mut times), command.join(" "));
    }
}

/// Writes so many sheets like the walked one, and closes the store.
fn fill(store: &Path, pattern: &[Event], sheets: u32) -> usize {
    let (ledger, _) = Ledger::open(store).expect("the store opens");
    let of_sheet: Vec<&Event> = pattern.iter().filter(|e| e.sheet.is_some()).collect();
    let added = pattern.iter().find(|e| matches!(e.what, What::BatchAdded { .. })).expect("a batch was added");
    let mut at = Utc::now() - TimeDelta::minutes(i64::from(sheets) + 10);
    let mut waiting: Vec<Draft> = Vec::new();
    let mut written = 0;
    for nth in 0..sheets {
        let number = nth / BATCH + 2;
        if nth.is_multiple_of(BATCH) {
            waiting.push(Draft::new(at, added.tick, batch(&added.what, number)));
        }
        if nth.is_multiple_of(BOARD) {
            waiting.push(Draft::new(at, added.tick, What::BoardRenewed));
        }
        let sheet = SheetId(format!("B{number}-{}", nth % BATCH + 1));
        waiting.extend(of_sheet.iter().map(|event| copy(event, &sheet, nth, at)));
        at += TimeDelta::minutes(1);
        while waiting.len() >= APPEND {
            written += append(&ledger, &mut waiting);
        }
    }
    while !waiting.is_empty() {
        written += append(&ledger, &mut waiting);
    }
    ledger.close_blocking();
    written
}

fn append(ledger: &Ledger, waiting: &mut Vec<Draft>) -> usize {
    let rest = waiting.split_off(waiting.len().min(APPEND));
    let now = std::mem::replace(waiting, rest);
    ledger.append_blocking(now).expect("the store takes it").len()
}

fn batch(what: &What, number: u32) -> What {
    let mut what = what.clone();
    if let What::BatchAdded { batch, sheets, .. } = &mut what {
        *batch = BatchId(format!("B{number}"));
        *sheets = (1..=BATCH).map(|n| SheetId(format!("B{number}-{n}"))).collect();
    }
    what
}

/// One event of another sheet: its times differ by up to a tenth, one sheet of 17 is scrap, one part of 11 to rework.
fn copy(event: &Event, sheet: &SheetId, nth: u32, at: DateTime<Utc>) -> Draft {
    let mut what = event.what.clone();
    match &mut what {
        What::OperationFinished { real, .. } => {
            *real = Seconds::of(real.value() * (0.95 + f64::from(nth % 101) / 1000.0))
        }
        What::SheetStage { version, .. } => *version = StageVersion(version.0 + u64::from(nth + 1) * 1000),
        What::PartChecked { grade, reason, .. } if nth.is_multiple_of(11) => {
            (*grade, *reason) = (Grade::Rework, Some(Reason::Fuzzy))
        }
        What::SheetClosed { grade, .. } if nth.is_multiple_of(17) => *grade = Grade::Scrap,
        _ => {}
    }
    let mut draft = Draft::new(at, event.tick, what).on(sheet.clone());
    if let Some(actor) = &event.actor {
        draft = draft.by(actor.clone());
    }
    match &event.command_id {
        Some(command) => draft.from_command(CommandId(format!("{command}-{nth}")), event.terminal.clone()),
        None => draft,
    }
}

/// What each part of the store takes on the disk.
fn sizes(store: &Path) {
    let mut sum = 0;
    for name in ["journal", "sealed", "index", "programs"] {
        let bytes = size(&store.join(name));
        sum += bytes;
        println!("{:>9.1} MiB  {name}", bytes as f64 / 1024.0 / 1024.0);
    }
    println!("{:>9.1} MiB  in all", sum as f64 / 1024.0 / 1024.0);
}

fn size(path: &Path) -> u64 {
    match std::fs::read_dir(path) {
        Ok(entries) => entries.filter_map(Result::ok).map(|entry| size(&entry.path())).sum(),
        Err(_) => std::fs::metadata(path).map_or(0, |m| m.len()),
    }
}
