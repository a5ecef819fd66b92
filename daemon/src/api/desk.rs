//! The desk: what the API asks of the rest of the daemon, one method a route. `app` sits at it; the tests of this
//! room have one of their own.
//!
//! May live here: the trait, who asks, what is live. May not: HTTP, any answer.

use super::books::Books;
use super::gate::{Gate, Guest};
pub use super::metrics::Sums;
pub use super::unrolled::Unrolled;
use chargehand_types::act::{ActAnswer, ActRequest};
use chargehand_types::change::CardChanges;
use chargehand_types::check::{CheckReport, CheckRequest, Drawing};
use chargehand_types::draft::{Draft, DraftRequest};
use chargehand_types::event::{Event, PositionTick};
use chargehand_types::history::{BitHistory, EffortHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::holddown::{AirAnswer, AirRequest, HoldDownAnswer, HoldDownRequest};
use chargehand_types::id::{BatchId, CardName, Person, Seq, SheetId, TerminalId};
use chargehand_types::notice::{Notices, NoticesTest};
use chargehand_types::now::Now;
use chargehand_types::plan::{DayPlan, PlanChanged};
use chargehand_types::problem::Problem;
use chargehand_types::queue::{
    AddBatch, AddCard, AddSets, BatchList, BatchRow, CancelBatch, CardList, CardShown, CountStock, Doctor, Done,
    MeasureFit, SheetList,
};
use chargehand_types::report::BatchReport;
use std::future::Future;
use std::sync::Arc;
use tokio::sync::{broadcast, mpsc};

/// Who asks, as far as the connection tells.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Caller {
    /// The user of the process at the other end, where the system tells.
    pub peer_uid: Option<u32>,
    /// Whether the request carried the terminal's token.
    pub token_ok: bool,
    /// The terminal, as an act names it.
    pub terminal: Option<TerminalId>,
    /// Why the program counts as started from elsewhere, where something says so.
    pub remote: Option<String>,
    /// Who showed a token, when it came over a network.
    pub guest: Option<Guest>,
    /// Whose PIN came with the act and was right.
    pub proved: Option<Person>,
}

/// What is streamed.
#[derive(Debug, Clone)]
pub enum Live {
    /// An event that is on the disk. Every one, in order, without a gap.
    Durable(Arc<Event>),
    /// Where the machine is; never replayed.
    Position(PositionTick),
    /// The plan of the day came out otherwise; never replayed.
    Plan(Arc<PlanChanged>),
}

/// What a desk answers.
pub type Answer<T> = Result<T, Problem>;

/// One method a route of the API.
///
/// For the event stream: an event must be in what [`Desk::events_after`] reads before it is sent to the subscribers,
/// and be sent after [`Desk::subscribe`]'s receiver was made or be readable by then. Appending, then sending, does so.
pub trait Desk: Gate + Books {
    /// `GET /v1/now`
    fn now(&self, caller: Caller) -> impl Future<Output = Answer<Now>> + Send;

    /// What of an act cannot wait until it is decided on and written down: a hold or a stop reaches the line. Called before
    /// [`Desk::act`], which sees to it where that was not done; short, for it is called by the thread that answers.
    fn ahead(&self, caller: &Caller, act: &ActRequest);

    /// `POST /v1/acts`. Every act but hold, hold at the next lift, stop and trouble came with the terminal's token,
    /// or this is not called.
    fn act(&self, caller: Caller, act: ActRequest) -> impl Future<Output = Answer<ActAnswer>> + Send;

    /// `POST /v1/check`
    fn check(&self, caller: Caller, request: CheckRequest) -> impl Future<Output = Answer<CheckReport>> + Send;

    /// `POST /v1/drafts`
    fn draft_card(&self, caller: Caller, request: DraftRequest) -> impl Future<Output = Answer<Draft>> + Send;

    /// `POST /v1/holddown`
    fn hold_down(
        &self,
        caller: Caller,
        request: HoldDownRequest,
    ) -> impl Future<Output = Answer<HoldDownAnswer>> + Send;

    /// `POST /v1/cards`
    fn add_card(&self, caller: Caller, request: AddCard) -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/cards`
    fn cards(&self, caller: Caller) -> impl Future<Output = Answer<CardList>> + Send;

    /// `GET /v1/cards/{name}?revision=N`
    fn card(
        &self,
        caller: Caller,
        name: CardName,
        revision: Option<u32>,
    ) -> impl Future<Output = Answer<CardShown>> + Send;

    /// `GET /v1/cards/{name}/changes?revision=N`: against the revision before it
    fn card_changes(
        &self,
        caller: Caller,
        name: CardName,
        revision: Option<u32>,
    ) -> impl Future<Output = Answer<CardChanges>> + Send;

    /// `GET /v1/cards/{name}/drawing`
    fn card_drawing(&self, caller: Caller, name: CardName) -> impl Future<Output = Answer<Drawing>> + Send;

    /// `GET /v1/sheets/{id}/drawing`
    fn sheet_drawing(&self, caller: Caller, sheet: SheetId) -> impl Future<Output = Answer<Drawing>> + Send;

    /// `POST /v1/sheets/{id}/air`
    fn sheet_air(
        &self,
        caller: Caller,
        sheet: SheetId,
        request: AirRequest,
    ) -> impl Future<Output = Answer<AirAnswer>> + Send;

    /// `POST /v1/batches`
    fn add_batch(&self, caller: Caller, request: AddBatch) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/sets`
    fn add_sets(&self, caller: Caller, request: AddSets) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/stock`
    fn count_stock(&self, caller: Caller, request: CountStock) -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/batches`
    fn batches(&self, caller: Caller) -> impl Future<Output = Answer<BatchList>> + Send;

    /// `GET /v1/batches/{id}`
    fn batch(&self, caller: Caller, batch: BatchId) -> impl Future<Output = Answer<BatchRow>> + Send;

    /// `POST /v1/batches/{id}/cancel`
    fn cancel_batch(
        &self,
        caller: Caller,
        batch: BatchId,
        request: CancelBatch,
    ) -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/sheets`
    fn sheets(&self, caller: Caller) -> impl Future<Output = Answer<SheetList>> + Send;

    /// `GET /v1/sheets/{id}`
    fn sheet(&self, caller: Caller, sheet: SheetId) -> impl Future<Output = Answer<SheetRecord>> + Send;

    /// `GET /v1/history/sheets?since=RFC3339&card=NAME&batch=ID&bit=NAME&grade=GRADE&newest=N`
    fn sheet_history(&self, caller: Caller, asked: HistoryQuery) -> impl Future<Output = Answer<Unrolled>> + Send;

    /// What `GET /metrics` sums up.
    fn sums(&self, caller: Caller) -> impl Future<Output = Answer<Sums>> + Send;

    /// `GET /v1/history/effort`, with the same query
    fn effort_history(&self, caller: Caller, asked: HistoryQuery)
    -> impl Future<Output = Answer<EffortHistory>> + Send;

    /// `GET /v1/history/revisions`, with the same query
    fn revision_history(
        &self,
        caller: Caller,
        asked: HistoryQuery,
    ) -> impl Future<Output = Answer<RevisionHistory>> + Send;

    /// `GET /v1/history/bits`, with the same query
    fn bit_history(&self, caller: Caller, asked: HistoryQuery) -> impl Future<Output = Answer<BitHistory>> + Send;

    /// `POST /v1/sheets/{id}/fits`
    fn measure_fit(
        &self,
        caller: Caller,
        sheet: SheetId,
        request: MeasureFit,
    ) -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/batches/{id}/report`
    fn batch_report(&self, caller: Caller, batch: BatchId) -> impl Future<Output = Answer<BatchReport>> + Send;

    /// `GET /v1/plan?presence=…&sheets=…`
    fn plan(
        &self,
        caller: Caller,
        presence: Option<String>,
        sheets: Option<String>,
    ) -> impl Future<Output = Answer<DayPlan>> + Send;

    /// `GET /v1/doctor`
    fn doctor(&self, caller: Caller) -> impl Future<Output = Answer<Doctor>> + Send;

    /// `GET /v1/notices`
    fn notices(&self, caller: Caller) -> impl Future<Output = Answer<Notices>> + Send;

    /// `POST /v1/notices/test`
    fn try_notices(&self, caller: Caller) -> impl Future<Output = Answer<NoticesTest>> + Send;

    /// `GET /v1/backup`: pieces of a backup, in order. It came with the terminal's token, or this is not called.
    fn backup(&self, caller: Caller) -> impl Future<Output = Answer<mpsc::Receiver<Vec<u8>>>> + Send;

    /// Everything live from now on.
    fn subscribe(&self) -> broadcast::Receiver<Live>;

    /// The last event that can be read.
    fn last_seq(&self) -> Seq;

    /// Events after a place, oldest first, at most `limit`; fewer only when there are no more yet.
    fn events_after(&self, seq: Seq, limit: usize) -> impl Future<Output = Answer<Vec<Event>>> + Send;
}
