//! Figures of the daemon as a service: from its start to ready with an empty store, and what all who listen cost it while it
//! cuts at real speed. `--check` asserts what holds on any computer: that everybody heard something, and that nobody's
//! listening costs more than the whole of a core.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a benchmark says what it misses by failing")]

use chargehand_tests::client::Client;
use chargehand_tests::listeners::{Beside, Listeners, core_seconds, free_port, mosquitto};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::stage::Stage;
use clap::Parser;
use std::os::unix::net::UnixDatagram;
use std::process::Stdio;
use std::sync::atomic::Ordering;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Measures the daemon as a service
#[derive(Debug, Parser)]
struct Line {
    /// Fewer starts, shorter looks, and what holds anywhere asserted
    #[arg(long)]
    check: bool,
    /// Terminals that listen
    #[arg(long, default_value_t = 4)]
    terminals: usize,
}

fn main() {
    let line = Line::parse();
    let mut starts: Vec<f64> = (0..if line.check { 3 } else { 20 }).map(|_| start()).collect();
    starts.sort_by(f64::total_cmp);
    println!(
        "from start to ready, empty store: {:.0} ms at best, {:.0} ms in the middle, {:.0} ms at worst of {}",
        starts[0],
        starts[starts.len() / 2],
        starts[starts.len() - 1],
        starts.len()
    );
    listened(&line);
}

/// Milliseconds from the start of the process to its word that it is ready.
fn start() -> f64 {
    let shop = Workshop::new(20.0);
    let told = shop.path("told");
    let socket = UnixDatagram::bind(&told).unwrap();
    let mut command = shop.command(&[]);
    command.env("NOTIFY_SOCKET", &told).stdout(Stdio::null()).stderr(Stdio::null());
    let begun = Instant::now();
    let _daemon = Beside(command.spawn().unwrap());
    loop {
        let mut bytes = [0; 512];
        let read = socket.recv(&mut bytes).unwrap();
        if String::from_utf8_lossy(&bytes[..read]).lines().any(|l| l == "READY=1") {
            return begun.elapsed().as_secs_f64() * 1000.0;
        }
    }
}

/// Core seconds a second of some processes, over a while.
fn share(pids: &[u32], seconds: u64) -> f64 {
    let used = || pids.iter().map(|pid| core_seconds(*pid)).sum::<f64>();
    let (before, begun) = (used(), Instant::now());
    sleep(Duration::from_secs(seconds));
    (used() - before) / begun.elapsed().as_secs_f64()
}

fn cutting(client: &Client) -> bool {
    client.now().sheet.is_some_and(|s| s.stage == Stage::Cutting)
}

fn listened(line: &Line) {
    let seconds = if line.check { 5 } else { 25 };
    let (port, adapter) = (free_port(), free_port());
    let broker = mosquitto(port);
    // machine time as at a real machine
    let mut shop = Workshop::new(1.0);
    shop.edit("daemon.toml", |t| {
        format!(
            "{t}\n[notices]\nadapter = \"127.0.0.1:{adapter}\"\n[notices.broker]\nhost = \"127.0.0.1\"\nport = {port}\ntopic = \"shop/router-1\"\n"
        )
    });
    // each slot once more and more: it must still cut when the last look is taken, on a slow computer too
    shop.edit("label-board-slots.nc", |t| {
        t.replace("G1 X155\nG0 Z3", &format!("{}G0 Z3", "G1 X155\nG1 X85\n".repeat(40)))
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(&client);
    operator.sign_in();
    operator.walk_into_cut();
    let daemon = shop.pid();
    let alone = share(&[daemon], seconds);
    let listeners = Listeners::start(&shop.socket(), line.terminals, adapter);
    sleep(Duration::from_secs(2));
    let terminals: Vec<u32> = listeners.terminals.iter().map(|t| t.0.id()).collect();
    let before = core_seconds(daemon);
    let begun = Instant::now();
    let theirs = share(&terminals, seconds);
    let with = (core_seconds(daemon) - before) / begun.elapsed().as_secs_f64();
    assert!(cutting(&client), "it still cuts: else the figures are of something else");
    println!(
        "while cutting: {:.1} % of a core alone (the practice machine in it, a broker{}), {:.1} % with {} terminals, a page and a reader: they cost it {:.1} %; the terminals themselves {:.1} %",
        100.0 * alone,
        if broker.is_some() { "" } else { " that is not installed" },
        100.0 * with,
        terminals.len(),
        100.0 * (with - alone),
        100.0 * theirs
    );
    let heard = listeners.heard.load(Ordering::Relaxed);
    println!("{heard} bytes were heard");
    if line.check {
        assert!(heard > 1000 && with < 1.0, "{heard} bytes, {with}");
    }
    drop(listeners);
    client.act(Act::Stop).unwrap();
    shop.end();
}
