//! The shop driven by hand: the real foreman and desk over a real store, with a clock that is set and a line whose
//! commands whoever drives takes from it. No thread owns a port, and nothing serves.
//!
//! May live here: the handles that a driver needs. May not: another way to decide, write down or act.

use super::clock::MachineClock;
use super::desk::FrontDesk;
use super::foreman::Errand;
use super::premises::Premises;
use super::running::{RunFault, Wired, practice_setup, wire};
use crate::api::desk::{Answer, Caller, Desk};
use crate::ledger::{Ledger, LedgerFault, State as Fold};
use crate::link::wire::{Command, Report};
use crate::practice::Controller;
use crate::serial::Line;
use chargehand_types::act::{ActAnswer, ActRequest};
use chargehand_types::event::Event;
use chargehand_types::id::Seq;
use chargehand_types::now::Now;
use chargehand_types::plan::DayPlan;
use chargehand_types::quantity::Tick;
use chargehand_types::queue::{AddBatch, AddCard, Done};
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;

/// A shop driven by hand.
pub struct ByHand {
    desk: Arc<FrontDesk>,
    errands: mpsc::UnboundedSender<Errand>,
    line: Arc<Line>,
    ledger: Ledger,
    working: JoinHandle<()>,
    /// What the store told when it was opened.
    pub words: Vec<String>,
}

impl ByHand {
    /// Opens the store and puts the foreman to work.
    ///
    /// # Errors
    /// When the store or the system does not allow it.
    pub async fn open(premises: Arc<Premises>, clock: Arc<MachineClock>) -> Result<Self, RunFault> {
        let teller = super::outward::teller(&premises)?;
        let (ledger, opening) = Ledger::open(&premises.store)?;
        let words = opening.words.clone();
        let line = Arc::new(Line::by_hand().map_err(|e| RunFault::System("bell", e))?);
        let (errands, for_foreman) = mpsc::unbounded_channel();
        let ends = (errands.clone(), for_foreman);
        let wired = wire(premises, clock, ledger.clone(), opening, Arc::clone(&line), ends, teller).await?;
        let Wired { desk, working } = wired;
        Ok(Self { desk, errands, line, ledger, working, words })
    }

    /// Brings what the link says to the foreman.
    pub fn report(&self, report: Report) {
        // a foreman that is gone needs no more reports
        let _ = self.errands.send(Errand::Report(report));
    }

    /// Lets everything happen that waits or is due, and tells when something is due next.
    pub async fn woke(&self) -> Option<Tick> {
        let (reply, told) = oneshot::channel();
        self.errands.send(Errand::Woke(reply)).ok()?;
        told.await.ok().flatten()
    }

    /// The next command for the link, or the report that one is not carried out.
    #[must_use]
    pub fn command(&self) -> Option<Result<Command, Report>> {
        self.line.next_by_hand()
    }

    /// How things stand.
    ///
    /// # Errors
    /// When the foreman is gone.
    pub async fn now(&self, caller: Caller) -> Answer<Now> {
        self.desk.now(caller).await
    }

    /// An act of a person.
    ///
    /// # Errors
    /// Why it was not done.
    pub async fn act(&self, caller: Caller, act: ActRequest) -> Answer<ActAnswer> {
        self.desk.act(caller, act).await
    }

    /// A card for the shop.
    ///
    /// # Errors
    /// Why it was not added.
    pub async fn add_card(&self, caller: Caller, request: AddCard) -> Answer<Done> {
        self.desk.add_card(caller, request).await
    }

    /// A batch for the queue.
    ///
    /// # Errors
    /// Why it was not added.
    pub async fn add_batch(&self, caller: Caller, request: AddBatch) -> Answer<Done> {
        self.desk.add_batch(caller, request).await
    }

    /// The day's plan.
    ///
    /// # Errors
    /// Why there is none.
    pub async fn plan(&self, caller: Caller) -> Answer<DayPlan> {
        self.desk.plan(caller, None, None).await
    }

    /// The fold that answers are given from.
    #[must_use]
    pub fn fold(&self) -> Fold {
        self.desk.shared.fold.read().map(|f| f.clone()).unwrap_or_default()
    }

    /// The last event in it.
    #[must_use]
    pub fn seq(&self) -> Seq {
        self.desk.shared.fold.read().map(|f| f.seq()).unwrap_or_default()
    }

    /// Every event of the store after a place, oldest first, as it lies on the disk.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn events_after(&self, after: Seq) -> Result<Vec<Event>, LedgerFault> {
        let mut all: Vec<Event> = Vec::new();
        loop {
            let from = all.last().map_or(after, |e| e.seq);
            let some = self.ledger.events_after(from, 1000).await?;
            if some.is_empty() {
                return Ok(all);
            }
            all.extend(some);
        }
    }

    /// The daemon is gone between two awaits: what was not yet done is never done.
    pub async fn kill(self) {
        self.working.abort();
        // a task that was taken away has ended
        let _ = self.working.await;
    }
}

/// The practice machine that a shop's files tell of, powered up now.
#[must_use]
pub fn practice_machine(premises: &Premises, now: Tick) -> Controller {
    let (setup, habits) = practice_setup(premises);
    Controller::with_habits(setup, habits, now)
}
