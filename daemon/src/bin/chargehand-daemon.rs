//! The daemon's command line.

use anyhow::Context as _;
use chargehand_daemon::app::{self, Options};
use chargehand_daemon::ledger;
use clap::{CommandFactory, Parser};
use clap_complete::Shell;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

/// The C library's allocator keeps tens of mebibytes of a long program's check for good.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// How it is to behave, which it reads before `main`: what is free goes back to the system after ten milliseconds, in
/// small pages.
const GIVES_BACK: [(&str, &str); 2] = [("MIMALLOC_ALLOW_THP", "0"), ("MIMALLOC_PURGE_DELAY", "10")];

/// Checks, queues, streams and records the sheets of a small CNC router. It is no emergency stop and no safety device.
#[derive(Debug, Parser)]
#[command(name = "chargehand-daemon", version, max_term_width = 80)]
#[command(
    after_help = "It goes on until SIGTERM or SIGINT. After a restart it moves nothing by itself: a\nsheet that was being cut is stopped, and a person decides about it.\n\nExit codes: 0 ended in good order, 2 wrong use, 5 something needed is missing,\nmalformed or busy."
)]
struct Arguments {
    /// The shop's daemon.toml.
    #[arg(long, value_name = "FILE", required_unless_present_any = ["talk", "restore", "man", "completions"])]
    config: Option<PathBuf>,
    /// Ask what is at the port for a report, say in plain words what it answers and which profile fits, and end. With
    /// --config, the profiles in the folder controllers/ beside that file are tried first.
    #[arg(long, requires = "port")]
    talk: bool,
    /// Read the shop's files, say what is wrong, and end.
    #[arg(long)]
    check: bool,
    /// Make the certificate and key for the API over a network, for these names and addresses of this computer, and end.
    #[arg(long, value_name = "NAME", num_args = 1..)]
    make_certificate: Vec<String>,
    /// Bring what is readable of a damaged store into a new folder, and end.
    #[arg(long, value_name = "DIR")]
    rescue: Option<PathBuf>,
    /// Write a backup into the store, which must be empty, and end. With --check the backup is only judged.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["rescue", "talk"])]
    restore: Option<PathBuf>,
    /// The store's folder; wins over the file.
    #[arg(long, value_name = "DIR")]
    store: Option<PathBuf>,
    /// The API's socket; wins over the file.
    #[arg(long, value_name = "PATH")]
    socket: Option<PathBuf>,
    /// The port; wins over the file.
    #[arg(long, value_name = "PORT")]
    port: Option<String>,
    /// Write the manual page to stdout, and end.
    #[arg(long)]
    man: bool,
    /// Write completions of this command line for a shell to stdout, and end.
    #[arg(long, value_name = "SHELL", conflicts_with = "man")]
    completions: Option<Shell>,
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

/// Becomes itself once more with the allocator's settings, where they are not set. Where that fails it goes on as it is:
/// it holds more memory then, and nothing else.
fn give_back() {
    let unset = |(name, _): &&(&str, &str)| std::env::vars_os().all(|(set, _)| set != **name);
    let missing: Vec<_> = GIVES_BACK.iter().filter(unset).copied().collect();
    let Some(program) = std::env::current_exe().ok().filter(|_| !missing.is_empty()) else { return };
    let mut words = std::env::args_os();
    let mut again = Command::new(program);
    if let Some(name) = words.next() {
        again.arg0(name);
    }
    let failed = again.args(words).envs(missing).exec();
    tracing::debug!("the allocator keeps its own settings: {failed}");
}

/// The manual page and completions, from the same definitions as the command line.
fn installed(arguments: &Arguments) -> anyhow::Result<bool> {
    let mut out = Vec::new();
    if arguments.man {
        clap_mangen::Man::new(Arguments::command()).section("8").render(&mut out).context("making the page")?;
    } else if let Some(shell) = arguments.completions {
        clap_complete::generate(shell, &mut Arguments::command(), "chargehand-daemon", &mut out);
    }
    std::io::Write::write_all(&mut std::io::stdout(), &out).context("writing to stdout")?;
    Ok(!out.is_empty())
}

fn run(arguments: Arguments) -> anyhow::Result<()> {
    if installed(&arguments)? {
        return Ok(());
    }
    if let (true, Some(port)) = (arguments.talk, &arguments.port) {
        let own = arguments.config.as_deref().map(app::own_profiles).transpose()?.unwrap_or_default();
        print!("{}", app::talk(port, &own).map_err(anyhow::Error::msg)?);
        return Ok(());
    }
    if let Some(backup) = &arguments.restore {
        return restore(backup, &arguments);
    }
    let config = arguments.config.context("--config FILE is missing")?;
    let options = Options { config, store: arguments.store, socket: arguments.socket, port: arguments.port };
    if let Some(into) = arguments.rescue {
        let store = app::store_folder(&options)?;
        let rescued = ledger::rescue::rescue(&store, &into)?;
        println!("{} records were brought into {}", rescued.records, into.display());
        for lost in rescued.lost {
            println!("not readable: {lost}");
        }
        return Ok(());
    }
    #[allow(clippy::disallowed_methods, reason = "certificates begin and end by the wall clock")]
    let now = chrono::Utc::now();
    if !arguments.make_certificate.is_empty() {
        let premises = app::read_premises(&options)?;
        println!("{}", app::make_certificate(&premises, &arguments.make_certificate, now)?);
        return Ok(());
    }
    if arguments.check {
        app::network_identity(&app::read_premises(&options)?, now)?;
        println!("The shop's files are in order.");
        return Ok(());
    }
    give_back();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .context("starting the daemon's threads")?;
    runtime.block_on(app::run(&options))?;
    Ok(())
}

/// Judges a backup, and writes it into the store unless it was only to be judged.
fn restore(backup: &Path, arguments: &Arguments) -> anyhow::Result<()> {
    let contents = if arguments.check {
        let contents = ledger::restore::judge(backup)?;
        println!("{} is a whole backup: {}.", backup.display(), contents.told());
        contents
    } else {
        let store = match (&arguments.store, &arguments.config) {
            (Some(store), _) => store.clone(),
            (None, Some(config)) => {
                let config = config.clone();
                app::store_folder(&Options { config, store: None, socket: None, port: None })?
            }
            (None, None) => anyhow::bail!("name the store: --store DIR, or --config FILE"),
        };
        let contents = ledger::restore::restore(backup, &store)?;
        println!("{} now has {}.", store.display(), contents.told());
        contents
    };
    for missing in contents.tail.left_out {
        println!("not in the backup: {missing}");
    }
    Ok(())
}
