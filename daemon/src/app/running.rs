//! The daemon from its first file to its last word.

use super::clock::MachineClock;
use super::desk::FrontDesk;
use super::foreman::{Errand, Foreman, Shared};
use super::keeper::{Keeper, KeeperFault};
use super::premises::{Options, Premises, PremisesFault};
use super::replanning;
use crate::api::{ApiFault, Door, Doors, Limits, Token, serve};
use crate::findings::Bench;
use crate::ledger::{Draft, Ledger, LedgerFault, Opening};
use crate::link::wire::{Reached, Report, TickSource};
use crate::link::{Link, Settings};
use crate::notices::Teller;
use crate::practice;
use crate::serial::Line;
use crate::shop::config::{Port, PracticeFault, Stumble};
use crate::shop::profile::Flow;
use crate::simulator::Simulator;
use chargehand_types::event::What;
use std::collections::BTreeMap;
use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex, OnceLock, RwLock};
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{broadcast, mpsc, oneshot};

/// Events a slow listener may lag behind.
const LIVE_KEPT: usize = 4096;

/// Why the daemon did not run, or stopped running.
#[derive(Debug, thiserror::Error)]
pub enum RunFault {
    /// The shop's files.
    #[error(transparent)]
    Premises(#[from] PremisesFault),
    /// The store.
    #[error(transparent)]
    Ledger(#[from] LedgerFault),
    /// The book of people.
    #[error(transparent)]
    Keeper(#[from] KeeperFault),
    /// A way to tell somebody.
    #[error(transparent)]
    Way(#[from] crate::notices::WayFault),
    /// The socket.
    #[error(transparent)]
    Api(#[from] ApiFault),
    /// Threads, signals, the practice machine.
    #[error("the system gives no {0}: {1}")]
    System(&'static str, std::io::Error),
}

/// Runs until a signal says that it is enough.
///
/// # Errors
/// When the shop's files, the store, the socket or the system do not allow it.
pub async fn run(options: &Options) -> Result<(), RunFault> {
    let premises = Arc::new(super::premises::read(options)?);
    let teller = super::outward::teller(&premises)?;
    let door = Door::open(&premises.socket)?.telling_remote(super::network::tells_remote(&premises));
    let (ledger, opening) = Ledger::open(&premises.store)?;
    for word in &opening.words {
        tracing::warn!("{word}");
    }
    let clock = Arc::new(MachineClock::starting(premises.config.clock_rate()));
    let token = Token::make()?;
    token.write_beside(&premises.socket)?;
    let (errands, for_foreman) = mpsc::unbounded_channel();
    let simulator = practice_machine(&premises, &clock)?;
    let line = Arc::new(open_line(&premises, &clock, simulator.as_ref(), errands.clone())?);
    let ends = (errands.clone(), for_foreman);
    let Wired { desk, working } =
        wire(Arc::clone(&premises), clock, ledger.clone(), opening, line, ends, teller).await?;
    tracing::info!("serving on {}", premises.socket.display());
    let network = super::network::open(&premises, desk.wall()).unwrap_or_else(|why| {
        tracing::error!("nobody is served over the network: {why}");
        // set once, here
        let _ = desk.shared.network_trouble.set(why);
        None
    });
    let asked_to_end = asked_to_end()?;
    let planning = tokio::spawn(replanning::keep_up(Arc::clone(&desk), desk.shared.live.subscribe()));
    let outward = super::outward::start(&desk);
    super::service::ready();
    serve(Doors { socket: door, network }, desk, token, Limits::default(), asked_to_end).await?;
    super::service::stopping();
    planning.abort();
    drop(outward);
    let (done, ended) = oneshot::channel();
    if errands.send(Errand::End(done)).is_ok() {
        // a foreman that is gone already has ended
        let _ = ended.await;
    }
    let _ = working.await;
    ledger.close().await?;
    Ok(())
}

/// Foreman and desk, at work.
pub(super) struct Wired {
    /// Takes what is asked.
    pub desk: Arc<FrontDesk>,
    /// The foreman's task.
    pub working: tokio::task::JoinHandle<()>,
}

/// Puts the foreman to work on a store that was opened and a line that is there, and a desk before him.
pub(super) async fn wire(
    premises: Arc<Premises>,
    clock: Arc<MachineClock>,
    ledger: Ledger,
    opening: Opening,
    line: Arc<Line>,
    (errands, for_foreman): (mpsc::UnboundedSender<Errand>, mpsc::UnboundedReceiver<Errand>),
    teller: Teller,
) -> Result<Wired, RunFault> {
    let keeper = Arc::new(Keeper::open(&premises, Arc::clone(&clock) as Arc<dyn TickSource>)?);
    let bench = Bench::of(&premises.config.machine, &premises.config.limits, &premises.profile.keys)
        .on(&premises.config.waste_board);
    let (live, _) = broadcast::channel(LIVE_KEPT);
    let left_off = opening.progress.map(|p| Reached {
        done: p.done,
        cutting: None,
        acknowledged: p.acknowledged,
        sent: p.sent,
        lines_done: 0,
    });
    let mut fold = opening.state;
    let started = Draft::new(clock.wall(), clock.now(), What::DaemonStarted { version: version().to_owned() });
    for event in ledger.append(vec![started]).await? {
        fold.apply(&event);
    }
    let seq = AtomicU64::new(fold.seq().0);
    let shared = Arc::new(Shared {
        fold: RwLock::new(fold),
        seq,
        live,
        planned: RwLock::default(),
        keeper,
        network_trouble: OnceLock::new(),
    });
    let mut foreman = Foreman::new(
        Arc::clone(&premises),
        bench.clone(),
        Arc::clone(&clock),
        ledger.clone(),
        Arc::clone(&shared),
        Arc::clone(&line),
    );
    foreman.left_off = left_off;
    let working = tokio::spawn(foreman.run(for_foreman));
    let desk = FrontDesk {
        errands,
        shared,
        premises,
        bench,
        ledger,
        line,
        clock,
        acted: Mutex::default(),
        first: Mutex::new(BTreeMap::new()),
        numbering: tokio::sync::Mutex::new(()),
        judged: Mutex::new(BTreeMap::new()),
        drawings: super::drawings::Kept::default(),
        airs: Arc::default(),
        teller,
        planned: tokio::sync::Mutex::new(None),
    };
    Ok(Wired { desk: Arc::new(desk), working })
}

/// The program's version.
#[must_use]
pub const fn version() -> &'static str {
    env!("CARGO_PKG_VERSION")
}

fn asked_to_end() -> Result<impl Future<Output = ()> + Send + 'static, RunFault> {
    let mut term = signal(SignalKind::terminate()).map_err(|e| RunFault::System("signal", e))?;
    let mut int = signal(SignalKind::interrupt()).map_err(|e| RunFault::System("signal", e))?;
    Ok(async move {
        tokio::select! {
            _ = term.recv() => {}
            _ = int.recv() => {}
        }
    })
}

fn practice_machine(premises: &Premises, clock: &Arc<MachineClock>) -> Result<Option<Simulator>, RunFault> {
    if premises.config.machine.port != Port::Simulated {
        return Ok(None);
    }
    let (setup, habits) = practice_setup(premises);
    let clock: Arc<dyn TickSource> = Arc::clone(clock) as Arc<dyn TickSource>;
    // unplugged and plugged in again it is another device: it is found by a name of its own
    let name = premises.socket.with_extension("practice-port");
    Simulator::start_named(setup, habits, clock, name).map(Some).map_err(|e| RunFault::System("pseudo-terminal", e))
}

/// The practice machine that a shop's files tell of.
pub(super) fn practice_setup(premises: &Premises) -> (practice::Setup, practice::Habits) {
    let m = &premises.config.machine;
    let reach = |r: crate::shop::config::Reach| [r.least.mm(), r.most.mm()];
    let setup = practice::Setup {
        rates: m.max_rate.map(|f| f.unit() / 60.0),
        accelerations: m.acceleration.map(chargehand_types::quantity::Acceleration::value),
        deviation: m.corner_deviation.mm(),
        travel: [reach(m.travel.x), reach(m.travel.y), reach(m.travel.z)],
        baud: m.baud,
        faults: premises.config.practice.faults.iter().map(|f| (f.line, fault_of(f))).collect(),
    };
    let wire = match premises.profile.keys.flow {
        Flow::Numbered { .. } => practice::Wire::Numbered,
        Flow::Window { .. } | Flow::OneAtATime => practice::Wire::Window,
    };
    let habits = practice::Habits { wire, seed: premises.config.practice.seed, ..practice::Habits::default() };
    (setup, habits)
}

const fn fault_of(told: &PracticeFault) -> practice::Fault {
    use practice::Fault;
    match told.what {
        Stumble::Refuse => Fault::Refuse,
        Stumble::Alarm => Fault::Alarm,
        Stumble::Restart => Fault::Restart,
        Stumble::RestartUnheard => Fault::RestartUnheard,
        Stumble::Silence => Fault::Silence,
        Stumble::Stuck => Fault::Stuck,
        Stumble::LoseAnswer => Fault::LoseAnswer,
        Stumble::DoubleAnswer => Fault::DoubleAnswer,
        Stumble::GarbleAnswer => Fault::GarbleAnswer,
        Stumble::GarbleLine => Fault::GarbleLine,
        Stumble::GarbleReport => Fault::GarbleReport,
        Stumble::WrongResend => Fault::WrongResend,
        Stumble::Busy => Fault::Busy,
        Stumble::Slow => Fault::Slow,
        Stumble::HoldButton => Fault::HoldButton,
        Stumble::DoorOpens => Fault::DoorOpens,
        Stumble::DrivesOff => Fault::DrivesOff,
        Stumble::BitPulled => Fault::BitPulled,
        Stumble::NoSwitch => Fault::NoSwitch,
        Stumble::Unplug => Fault::Unplug { back_ms: told.back_ms },
    }
}

fn open_line(
    premises: &Premises,
    clock: &Arc<MachineClock>,
    simulator: Option<&Simulator>,
    errands: mpsc::UnboundedSender<Errand>,
) -> Result<Line, RunFault> {
    let path = match (&premises.config.machine.port, simulator) {
        (Port::Path(path), _) => path.clone(),
        (Port::Simulated, Some(s)) => s.path().to_owned(),
        (Port::Simulated, None) => String::new(),
    };
    let link = Link::new(Arc::clone(&premises.profile), Settings { rate: clock.rate() });
    let tell = move |report: Report| {
        // a foreman that is gone needs no more reports
        let _ = errands.send(Errand::Report(report));
    };
    let clock: Arc<dyn TickSource> = Arc::clone(clock) as Arc<dyn TickSource>;
    let baud = premises.config.machine.baud;
    Line::start(path, baud, link, clock, Box::new(tell)).map_err(|e| RunFault::System("thread", e))
}
