//! The plan kept up by itself: made anew after every event that matters, so that the next sheet offered is the plan's.
//!
//! May live here: which events matter, the sheet that is next. May not: planning.

use super::behind::behind;
use super::desk::{FrontDesk, gone};
use super::foreman::Shared;
use super::planning::{self, Effort, Question, Supposed};
use crate::api::{Answer, Live};
use crate::ledger::State as Fold;
use chargehand_types::event::What;
use chargehand_types::id::SheetId;
use chargehand_types::plan::{DayPlan, PlanChanged};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::stage::Stage;
use chrono::{DateTime, Utc};
use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;

/// Events that come together are planned for together.
const TOGETHER: Duration = Duration::from_millis(300);
/// So often the plan is held against the clock while nothing happens.
const LOOK_EVERY: Duration = Duration::from_secs(60);
/// A sheet that has not begun so many minutes after its time makes a new plan.
const BEHIND_MIN: i64 = 10;

impl Shared {
    /// The sheet to be taken next: the first of the plan that still waits, else the oldest.
    pub fn next_sheet(&self, fold: &Fold) -> Option<SheetId> {
        let waits = |id: &&SheetId| fold.sheet(id).is_some_and(|s| s.stage == Stage::Queued && !s.cancelled);
        let planned = self.planned.read().ok().and_then(|order| order.iter().find(waits).cloned());
        planned.or_else(|| fold.next_sheet().map(|sheet| sheet.id.clone()))
    }
}

impl FrontDesk {
    /// The plan of the day, with what is supposed in place of what is.
    pub(super) async fn plan_now(&self, presence: Option<String>, sheets: Option<String>) -> Answer<DayPlan> {
        self.plan_with(Effort::Whole, presence, sheets).await
    }

    async fn plan_with(&self, effort: Effort, presence: Option<String>, sheets: Option<String>) -> Answer<DayPlan> {
        let bad = |e: planning::NotSupposed| Problem::new(ProblemKind::BadRequest, format!("{e}."));
        let supposed = Supposed::read(presence.as_deref(), sheets.as_deref()).map_err(bad)?;
        #[allow(clippy::disallowed_methods, reason = "the moment planned for")]
        let now = Utc::now();
        let seq = self.shared.seq.load(Ordering::SeqCst);
        let nothing_supposed = supposed.is_nothing();
        // one plan at a time: each starts from the one before
        let mut kept = self.planned.lock().await;
        if let Some(known) =
            kept.as_ref().filter(|k| nothing_supposed && k.holds(seq, now) && (k.is_whole() || effort == Effort::Touch))
        {
            return Ok(known.answer.clone());
        }
        let booked = self.premises.booked(now).map_err(|e| Problem::new(ProblemKind::MissingOrBusy, e.to_string()))?;
        let intake = self
            .fold(|f| planning::take_in(f, &self.premises.stores, &self.premises.config, &supposed))?
            .map_err(bad)?;
        let question = Question { config: self.premises.config.clone(), booked, supposed, now, seq, effort };
        let before = kept.clone();
        let premises = Arc::clone(&self.premises);
        let made = behind(move || planning::make(&question, intake, before.as_ref(), premises.crew.now()));
        let made = made.await.map_err(|_| gone())?.map_err(|e| Problem::new(ProblemKind::Malformed, e))?;
        let answer = made.answer.clone();
        if nothing_supposed {
            if let Ok(mut planned) = self.shared.planned.write() {
                *planned = answer.sheets.iter().map(|sheet| sheet.sheet.clone()).collect();
            }
            *kept = Some(made);
        }
        Ok(answer)
    }
}

impl FrontDesk {
    /// The plan's first waiting sheet should have begun a while ago.
    async fn is_behind(&self) -> bool {
        #[allow(clippy::disallowed_methods, reason = "the moment the plan is held against")]
        let now = Utc::now();
        let kept = self.planned.lock().await;
        let Some(kept) = kept.as_ref() else { return false };
        let late = |start: DateTime<Utc>| now.signed_duration_since(start).num_minutes() >= BEHIND_MIN;
        let waits = |f: &Fold, id: &SheetId| f.sheet(id).is_some_and(|s| s.stage == Stage::Queued && !s.cancelled);
        let first = self.fold(|f| kept.answer.sheets.iter().find(|s| waits(f, &s.sheet)).map(|s| s.start));
        first.ok().flatten().is_some_and(late)
    }
}

/// Keeps the plan up until nothing is told any more, and tells every terminal when it came out otherwise.
pub async fn keep_up(desk: Arc<FrontDesk>, mut live: Receiver<Live>) {
    loop {
        // time alone changes a plan as well: what should have begun has not
        match tokio::time::timeout(LOOK_EVERY, live.recv()).await {
            Ok(Ok(Live::Durable(event))) if matters(&event.what) => {}
            Ok(Err(RecvError::Lagged(_))) => {}
            Err(_) if desk.is_behind().await => {}
            Ok(Ok(_)) | Err(_) => continue,
            Ok(Err(RecvError::Closed)) => return,
        }
        tokio::time::sleep(TOGETHER).await;
        // what came meanwhile is planned for too
        while let Ok(_) | Err(tokio::sync::broadcast::error::TryRecvError::Lagged(_)) = live.try_recv() {}
        if desk.fold(has_a_choice).unwrap_or(false) {
            match desk.plan_with(Effort::Touch, None, None).await {
                Ok(plan) if plan.changed == Some(plan.at) => {
                    let told = PlanChanged { at: plan.at, changes: plan.changes };
                    // nobody listening is fine
                    let _ = desk.shared.live.send(Live::Plan(Arc::new(told)));
                }
                Ok(_) => {}
                Err(problem) => tracing::warn!("no plan was made: {problem}"),
            }
        } else if let Ok(mut planned) = desk.shared.planned.write() {
            // all alike: they are cut in the order they were added
            planned.clear();
        }
    }
}

/// Whether the order of what waits can matter: not where all sheets are of one card and due alike.
fn has_a_choice(fold: &Fold) -> bool {
    let kinds: BTreeSet<_> =
        fold.waiting().into_iter().map(|s| (&s.card, fold.batch(&s.batch).and_then(|b| b.due))).collect();
    kinds.len() > 1
}

/// What can change a plan.
const fn matters(what: &What) -> bool {
    matches!(
        what,
        What::BatchAdded { .. }
            | What::BatchCancelled { .. }
            | What::StockCounted { .. }
            | What::OperationFinished { .. }
            | What::SheetClosed { .. }
            | What::SheetDecided { .. }
            | What::PersonCame { .. }
            | What::PersonLeft { .. }
    )
}
