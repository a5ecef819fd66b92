//! The daemon's command line.

use anyhow::Context as _;
use chargehand_daemon::app::{self, Options};
use clap::Parser;
use std::path::PathBuf;
use std::process::ExitCode;

/// Checks, queues, streams and records the sheets of a small CNC router. It is no emergency stop and no safety device.
#[derive(Debug, Parser)]
#[command(name = "chargehand-daemon", version)]
struct Arguments {
    /// The shop's daemon.toml.
    #[arg(long, required_unless_present = "talk")]
    config: Option<PathBuf>,
    /// Ask what is at the port for a report, say in plain words what it answers and which profile fits, and end.
    #[arg(long, requires = "port")]
    talk: bool,
    /// Read the shop's files, say what is wrong, and end.
    #[arg(long)]
    check: bool,
    /// Bring what is readable of a damaged store into a new folder, and end.
    #[arg(long, value_name = "DIR")]
    rescue: Option<PathBuf>,
    /// The store's folder; wins over the file.
    #[arg(long, value_name = "DIR")]
    store: Option<PathBuf>,
    /// The API's socket; wins over the file.
    #[arg(long, value_name = "PATH")]
    socket: Option<PathBuf>,
    /// The port; wins over the file.
    #[arg(long, value_name = "PORT")]
    port: Option<String>,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    tracing_subscriber::fmt().with_writer(std::io::stderr).with_ansi(false).without_time().init();
    match run(arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("chargehand-daemon: {e:#}");
            // something needed is missing, malformed or busy
            ExitCode::from(5)
        }
    }
}

fn run(arguments: Arguments) -> anyhow::Result<()> {
    if let (true, Some(port)) = (arguments.talk, &arguments.port) {
        print!("{}", app::talk(port).map_err(anyhow::Error::msg)?);
        return Ok(());
    }
    let config = arguments.config.context("--config FILE is missing")?;
    let options = Options { config, store: arguments.store, socket: arguments.socket, port: arguments.port };
    if let Some(into) = arguments.rescue {
        let premises = app::read_premises(&options)?;
        let rescued = chargehand_daemon::ledger::rescue::rescue(&premises.store, &into)?;
        println!("{} records were brought into {}", rescued.records, into.display());
        for lost in rescued.lost {
            println!("not readable: {lost}");
        }
        return Ok(());
    }
    if arguments.check {
        app::read_premises(&options)?;
        println!("The shop's files are in order.");
        return Ok(());
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .context("starting the daemon's threads")?;
    runtime.block_on(app::run(&options))?;
    Ok(())
}
