//! The foreman: the one task that decides, writes down and acts, in that order. Everything that happens in the shop
//! comes to it as an [`Errand`].

use super::clock::MachineClock;
use super::keeper::Keeper;
use super::lapsing::Lapse;
use super::premises::Premises;
use super::stretch::Feeding;
use super::wording;
use super::work::Work;
use crate::api::desk::{Answer, Caller, Live};
use crate::findings::Bench;
use crate::floor::permit::{Epoch, Permit};
use crate::floor::state::{Homing, Setup, SpindleKind};
use crate::floor::{self, Deed, Happening, Refusal, State as Floor};
use crate::ledger::{Draft, Ledger, LedgerFault, State as Fold};
use crate::link::wire::{ControllerState, Report, TickSource};
use crate::serial::Line;
use chargehand_types::act::{Act, ActAnswer, ActRequest};
use chargehand_types::event::{Actor, Event, What};
use chargehand_types::id::{CommandId, Person, Seq, SheetId, StageVersion, TerminalId};
use chargehand_types::now::LinkNow;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Tick;
use chargehand_types::queue::Done;
use chargehand_types::stage::Stage;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock, RwLock};
use tokio::sync::{broadcast, mpsc, oneshot};

/// Answers kept for repeated commands.
const ANSWERS_KEPT: usize = 256;

/// What comes to the foreman.
pub enum Errand {
    /// An act of a person.
    Act(Caller, ActRequest, oneshot::Sender<Answer<ActAnswer>>),
    /// How things stand.
    Now(Caller, oneshot::Sender<Answer<chargehand_types::now::Now>>),
    /// Something to be written down that no machine is asked for.
    Record(Vec<Draft>, CommandId, Done, oneshot::Sender<Answer<Done>>),
    /// Something the link says.
    Report(Report),
    /// Time was set by hand: what is due happens. Answers when something is due next.
    Woke(oneshot::Sender<Option<Tick>>),
    /// The daemon is to end.
    End(oneshot::Sender<()>),
}

/// Where an act came from, for the record.
#[derive(Debug, Clone, Default)]
pub struct Source {
    /// The command.
    pub command: Option<CommandId>,
    /// The person.
    pub actor: Option<Actor>,
    /// The terminal.
    pub terminal: Option<TerminalId>,
    /// Whose PIN came with the act and was right.
    pub proved: Option<Person>,
    /// What the link was told already: hold and stop act first.
    pub acted: Option<Ahead>,
}

/// What acts before it is decided and written down, the weakest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ahead {
    /// Hold at the next lift.
    Lift,
    /// Hold at once.
    Hold,
    /// Stop.
    Stop,
}

impl Ahead {
    /// Of an act, by who asks for it: a hold from afar waits for the lift.
    #[must_use]
    pub const fn of(act: &Act, caller: &Caller) -> Option<Self> {
        match act {
            Act::Hold if caller.token_ok => Some(Self::Hold),
            Act::Hold | Act::HoldAtLift => Some(Self::Lift),
            Act::Stop => Some(Self::Stop),
            _ => None,
        }
    }
}

/// What the other tasks read.
pub struct Shared {
    /// The fold, as of the last event.
    pub fold: RwLock<Fold>,
    /// The last event.
    pub seq: AtomicU64,
    /// Everything live.
    pub live: broadcast::Sender<Live>,
    /// Sheets in the order of the last plan.
    pub planned: RwLock<Vec<SheetId>>,
    /// People, PINs, tokens, refusals.
    pub keeper: Arc<Keeper>,
    /// Why nobody is served over the network though config asks for it.
    pub network_trouble: OnceLock<String>,
}

/// The foreman.
pub struct Foreman {
    pub(in crate::app) premises: Arc<Premises>,
    pub(in crate::app) bench: Bench,
    pub(in crate::app) clock: Arc<MachineClock>,
    pub(in crate::app) ledger: Ledger,
    pub(in crate::app) shared: Arc<Shared>,
    pub(in crate::app) floor: Floor,
    pub(in crate::app) version: StageVersion,
    pub(in crate::app) line: Arc<Line>,
    pub(in crate::app) epoch: Epoch,
    pub(in crate::app) controller: Option<ControllerState>,
    pub(in crate::app) link: LinkNow,
    pub(in crate::app) work: Option<Work>,
    pub(in crate::app) feeding: Option<Feeding>,
    /// Long programs of the chain that is started, found to be what was stored.
    pub(in crate::app) opened: std::collections::BTreeMap<String, std::fs::File>,
    pub(in crate::app) run_down_until: Option<Tick>,
    pub(in crate::app) chain_gap: Option<Tick>,
    pub(in crate::app) hand: Option<(chargehand_types::act::Axis, chargehand_types::quantity::Length)>,
    /// An axis that runs while a key is held down.
    pub(in crate::app) run: Option<super::hand_run::HandRun>,
    /// Where the bit is to be brought, in machine coordinates.
    pub(in crate::app) over: Option<chargehand_types::quantity::Point>,
    pub(in crate::app) zero_touched: Option<super::closing::ZeroTouched>,
    pub(in crate::app) plate: super::plate::Plate,
    pub(in crate::app) day: super::day_lists::Day,
    pub(in crate::app) lapse: Lapse,
    pub(in crate::app) vigil: super::stepping_away::Vigil,
    pub(in crate::app) last_position: Tick,
    /// The bit in the spindle was read back since this daemon began.
    pub(in crate::app) bit_known: bool,
    /// What happened, as a sentence, for the next stop record.
    pub(in crate::app) stop_text: Option<String>,
    /// Why the last thing asked of the machine was not done; none once something is asked again.
    pub(in crate::app) undone: Option<String>,
    /// How far the cut had come when the daemon last ended.
    pub(in crate::app) left_off: Option<crate::link::wire::Reached>,
    answers: VecDeque<(CommandId, Kept)>,
    store_trouble: Option<String>,
}

enum Kept {
    Said(String),
    Done(Done),
}

impl Foreman {
    /// A foreman for a shop as it was left.
    #[allow(clippy::too_many_arguments, reason = "everything is wired here once")]
    pub fn new(
        premises: Arc<Premises>,
        bench: Bench,
        clock: Arc<MachineClock>,
        ledger: Ledger,
        shared: Arc<Shared>,
        line: Arc<Line>,
    ) -> Self {
        let machine = &premises.config.machine;
        let setup = setup(machine);
        let version = shared.fold.read().map(|f| f.version()).unwrap_or_default();
        Self {
            bench,
            clock,
            ledger,
            shared,
            floor: Floor::new(setup),
            version: StageVersion(version.0 + 1),
            line,
            epoch: Epoch::default(),
            controller: None,
            link: LinkNow::Opening,
            work: None,
            feeding: None,
            opened: std::collections::BTreeMap::new(),
            run_down_until: None,
            chain_gap: None,
            hand: None,
            run: None,
            over: None,
            zero_touched: None,
            plate: super::plate::Plate::default(),
            day: super::day_lists::Day::default(),
            lapse: Lapse::default(),
            vigil: super::stepping_away::Vigil::default(),
            last_position: Tick(0),
            bit_known: false,
            stop_text: None,
            undone: None,
            left_off: None,
            answers: VecDeque::new(),
            store_trouble: None,
            premises,
        }
    }

    /// Works until it is told to end.
    pub async fn run(mut self, mut errands: mpsc::UnboundedReceiver<Errand>) {
        self.nobody_is_here().await;
        self.take_up().await;
        loop {
            let wait = self.next_timer().map(|t| self.clock.real_until(t));
            let errand = match wait {
                Some(wait) => tokio::select! {
                    errand = errands.recv() => errand,
                    () = tokio::time::sleep(wait) => {
                        self.timers().await;
                        continue;
                    }
                },
                None => errands.recv().await,
            };
            match errand {
                Some(Errand::End(done)) => {
                    self.end().await;
                    // whoever asked may be gone already
                    let _ = done.send(());
                    return;
                }
                Some(errand) => self.errand(errand).await,
                None => return,
            }
        }
    }

    async fn errand(&mut self, errand: Errand) {
        match errand {
            Errand::Act(caller, request, reply) => {
                let answer = self.act(&caller, request).await;
                let _ = reply.send(answer);
            }
            Errand::Now(caller, reply) => {
                self.review_day().await;
                self.review_list().await;
                let now = self.now_view(&caller);
                let _ = reply.send(Ok(now));
            }
            Errand::Record(drafts, command, done, reply) => {
                let answer = self.record(drafts, command, done).await;
                let _ = reply.send(answer);
            }
            Errand::Report(report) => self.heard(report).await,
            Errand::Woke(reply) => {
                self.timers().await;
                let _ = reply.send(self.next_timer());
            }
            Errand::End(_) => {}
        }
    }

    /// A daemon that has just begun knows of nobody at the machine.
    async fn nobody_is_here(&mut self) {
        let people = self.shared.fold.read().map(|f| f.people().to_vec()).unwrap_or_default();
        let left = people.into_iter().map(|p| What::PersonLeft { who: p.who }).collect();
        if let Err(problem) = self.tell(left, &Source::default()).await {
            tracing::error!("{problem}");
        }
    }

    /// Takes up the sheet that was on the machine when the daemon last ended.
    async fn take_up(&mut self) {
        let (sheet, floor) = {
            let Ok(fold) = self.shared.fold.read() else { return };
            (fold.on_machine().map(|s| s.id.clone()), fold.floor().cloned())
        };
        let Some(sheet) = sheet else { return };
        match floor.map(serde_json::from_value::<Floor>) {
            Some(Ok(state)) => self.floor = state,
            _ => {
                tracing::error!("the floor's last state cannot be read; the sheet {sheet} stays as it is");
                return;
            }
        }
        if let Err(problem) = self.load_work(&sheet).await {
            tracing::error!("{sheet}: {problem}");
        }
        if let Some(work) = &mut self.work {
            let progress = self.shared.fold.read().ok().and_then(|f| f.sheet(&sheet).map(|s| s.stopped.clone()));
            work.stop = progress.flatten();
        }
        let setup = setup(&self.premises.config.machine);
        if let Err(problem) = self.happen(Happening::DaemonRestarted(setup), Source::default(), Vec::new()).await {
            tracing::error!("{problem}");
        }
    }

    /// Decides, writes down, then acts.
    ///
    /// # Errors
    /// The floor's refusal, or a store that fails; nothing has happened then.
    pub(in crate::app) async fn happen(
        &mut self,
        happening: Happening,
        source: Source,
        also: Vec<What>,
    ) -> Result<Vec<Deed>, Problem> {
        let before = self.floor.clone();
        let outcome = floor::step(&self.floor, &happening, self.epoch).map_err(refused)?;
        let sheet = self.work.as_ref().map(|w| w.sheet.clone());
        let changed = outcome.state != before;
        let mut drafts: Vec<Draft> = Vec::new();
        for what in also {
            drafts.push(self.draft(what, &source, sheet.clone()));
        }
        self.note_stop(&before, &outcome.state);
        for what in self.told_by(&outcome.deeds) {
            drafts.push(self.draft(what, &source, sheet.clone()));
        }
        if changed && let Some(stage) = self.stage_event(&before, &outcome.state, &outcome.deeds) {
            drafts.push(self.draft(stage, &source, sheet));
        }
        if let Err(fault) = self.write(drafts).await {
            return Err(self.store_failed(fault).await);
        }
        self.floor = outcome.state;
        if changed {
            self.version = StageVersion(self.version.0 + 1);
        }
        if before.machine.motion != self.floor.machine.motion {
            self.stirred();
        }
        self.perhaps_interrupted(&happening);
        let deeds = outcome.deeds.clone();
        self.carry_out(outcome.deeds, outcome.permit, &source).await;
        self.after(&before).await;
        Ok(deeds)
    }

    /// Writes things down that the floor need not hear of.
    pub(in crate::app) async fn tell(&mut self, whats: Vec<What>, source: &Source) -> Result<(), Problem> {
        let sheet = self.work.as_ref().map(|w| w.sheet.clone());
        let drafts = whats.into_iter().map(|w| self.draft(w, source, sheet.clone())).collect();
        match self.write(drafts).await {
            Ok(()) => Ok(()),
            Err(fault) => Err(self.store_failed(fault).await),
        }
    }

    /// As [`Foreman::tell`], of a sheet that is not on the machine.
    pub(in crate::app) async fn tell_of(
        &mut self,
        sheet: &SheetId,
        whats: Vec<What>,
        source: &Source,
    ) -> Result<(), Problem> {
        let drafts = whats.into_iter().map(|w| self.draft(w, source, Some(sheet.clone()))).collect();
        match self.write(drafts).await {
            Ok(()) => Ok(()),
            Err(fault) => Err(self.store_failed(fault).await),
        }
    }

    /// As [`Foreman::tell`], of no sheet, whatever lies on the machine.
    pub(in crate::app) async fn tell_of_shop(&mut self, whats: Vec<What>, source: &Source) -> Result<(), Problem> {
        let drafts = whats.into_iter().map(|w| self.draft(w, source, None)).collect();
        match self.write(drafts).await {
            Ok(()) => Ok(()),
            Err(fault) => Err(self.store_failed(fault).await),
        }
    }

    fn draft(&self, what: What, source: &Source, sheet: Option<SheetId>) -> Draft {
        let at = self.clock.wall();
        Draft {
            command_id: source.command.clone(),
            at,
            tick: self.clock.now(),
            actor: source.actor.clone(),
            terminal: source.terminal.clone(),
            sheet,
            what,
        }
    }

    async fn write(&mut self, drafts: Vec<Draft>) -> Result<(), LedgerFault> {
        if drafts.is_empty() {
            return Ok(());
        }
        let events = self.ledger.append(drafts).await?;
        self.publish(events);
        Ok(())
    }

    fn publish(&mut self, events: Vec<Event>) {
        if let Ok(mut fold) = self.shared.fold.write() {
            for event in &events {
                fold.apply(event);
            }
        }
        for event in events {
            self.shared.seq.store(event.seq.0, Ordering::SeqCst);
            // nobody listening is fine
            let _ = self.shared.live.send(Live::Durable(Arc::new(event)));
        }
    }

    /// What happens can no longer be written down: hold, and let nothing new start.
    async fn store_failed(&mut self, fault: LedgerFault) -> Problem {
        let text = fault.to_string();
        tracing::error!("{text}");
        if self.store_trouble.is_none() {
            self.store_trouble = Some(text.clone());
            if let Ok(outcome) = floor::step(&self.floor, &Happening::StoreFailed, self.epoch) {
                self.floor = outcome.state;
                self.version = StageVersion(self.version.0 + 1);
                let source = Source::default();
                self.carry_out(outcome.deeds, outcome.permit, &source).await;
            }
        }
        Problem::new(ProblemKind::MissingOrBusy, text)
    }

    /// What the store's trouble is, if there is any.
    pub(in crate::app) fn store_trouble(&self) -> Option<&str> {
        self.store_trouble.as_deref()
    }

    async fn record(&mut self, drafts: Vec<Draft>, command: CommandId, done: Done) -> Answer<Done> {
        if let Some((_, Kept::Done(first))) = self.answers.iter().find(|(c, _)| *c == command) {
            return Ok(first.clone());
        }
        if let Err(fault) = self.write(drafts).await {
            return Err(self.store_failed(fault).await);
        }
        self.remember(command, Kept::Done(done.clone()));
        Ok(done)
    }

    /// What a repeated act was answered the first time.
    pub(in crate::app) fn first_answer(&self, command: &CommandId) -> Option<String> {
        let kept = self.answers.iter().find_map(|(c, k)| match k {
            Kept::Said(said) if c == command => Some(said.clone()),
            _ => None,
        });
        kept.or_else(|| {
            let fold = self.shared.fold.read().ok()?;
            fold.answered(command).map(|seq| format!("That was done already (record {seq})."))
        })
    }

    /// Keeps an act's answer for a repetition.
    pub(in crate::app) fn remember_said(&mut self, command: CommandId, said: String) {
        self.remember(command, Kept::Said(said));
    }

    fn remember(&mut self, command: CommandId, kept: Kept) {
        if self.answers.len() >= ANSWERS_KEPT {
            self.answers.pop_front();
        }
        self.answers.push_back((command, kept));
    }

    fn next_timer(&self) -> Option<Tick> {
        [self.run_down_until, self.chain_gap, self.lapses_at(), self.vigil_at()].into_iter().flatten().min()
    }

    async fn timers(&mut self) {
        let now = self.clock.now();
        if self.run_down_until.is_some_and(|t| t <= now) {
            self.run_down_until = None;
            self.happens_by_itself(Happening::RunDownDue).await;
        }
        if self.chain_gap.is_some_and(|t| t <= now) {
            self.chain_gap = None;
            self.happens_by_itself(Happening::ChainGapDue).await;
        }
        if self.lapses_at().is_some_and(|t| t <= now) {
            self.lapsed().await;
        }
        self.vigil_due().await;
    }

    /// Something that nobody asked for happens.
    pub(in crate::app) async fn happens_by_itself(&mut self, happening: Happening) {
        if let Err(problem) = self.happen(happening, Source::default(), Vec::new()).await {
            tracing::warn!("{problem}");
        }
    }

    /// A daemon that ends in the middle of a cut asks for a hold first.
    async fn end(&mut self) {
        if self.floor.machine.motion.is_program() {
            self.line.command(crate::link::wire::Command::Hold);
            tokio::time::sleep(std::time::Duration::from_millis(300)).await;
        }
    }

    /// Acts on what a step decided. The permit goes to the one deed that needs it.
    async fn carry_out(&mut self, deeds: Vec<Deed>, permit: Option<Permit>, source: &Source) {
        let mut permit = permit;
        for deed in deeds {
            let its = if deed.needs_permit() { permit.take() } else { None };
            self.deed(deed, its, source).await;
        }
    }

    /// The stage record of a change, where a sheet is on the machine or has just left it.
    fn stage_event(&self, before: &Floor, after: &Floor, deeds: &[Deed]) -> Option<What> {
        let left = deeds.iter().find_map(|d| match d {
            Deed::SetSheetAside => Some(Stage::SetAside),
            Deed::CloseSheet => Some(Stage::Closed),
            _ => None,
        });
        let from = before.stage().unwrap_or(Stage::Queued);
        let to = after.stage().or(left)?;
        let on = after.sheet.as_ref();
        let floor = serde_json::to_value(after).ok()?;
        Some(What::SheetStage {
            from,
            to,
            version: StageVersion(self.version.0 + 1),
            operation: on.map_or(0, |s| u32::from(s.operation)),
            held: on.and_then(|s| match &s.at {
                floor::AtStage::Held(h) => Some(h.by),
                _ => None,
            }),
            stopped: if to == Stage::Stopped { self.work.as_ref().and_then(|w| w.stop.clone()) } else { None },
            floor,
        })
    }

    /// The last event.
    pub(in crate::app) fn seq(&self) -> Seq {
        Seq(self.shared.seq.load(Ordering::SeqCst))
    }
}

/// The floor's refusal as a problem.
pub(in crate::app) fn refused(refusal: Refusal) -> Problem {
    let kind = match refusal {
        Refusal::FromAfar
        | Refusal::NobodyHere
        | Refusal::OwnerSigns
        | Refusal::OwnerDecides
        | Refusal::OwnerApproves
        | Refusal::ListDue => ProblemKind::NotPermitted,
        Refusal::NoSheet | Refusal::SheetOnMachine | Refusal::OtherStage | Refusal::NotHeld | Refusal::NotStopped => {
            ProblemKind::NotNow
        }
        _ => ProblemKind::StartCondition,
    };
    Problem::new(kind, refusal.to_string())
}

/// What the floor must know of the machine.
pub(in crate::app) fn setup(machine: &crate::shop::config::Machine) -> Setup {
    use crate::shop::config::Spindle;
    Setup {
        spindle: match machine.spindle {
            Spindle::Manual { .. } => SpindleKind::Manual,
            Spindle::Controlled { .. } => SpindleKind::Controlled,
        },
        homing: if machine.can_home { Homing::Able } else { Homing::Unable },
    }
}

/// The text of a call.
pub(in crate::app) fn call_text(reason: chargehand_types::call::CallReason) -> &'static str {
    wording::call(reason)
}
