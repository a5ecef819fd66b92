//! The routes: one handler a route, each reads its request, asks the desk, and answers.
//!
//! What is asked of the desk runs as its own task: a client that hangs up or waits no longer never stops a command
//! half way.
//!
//! May live here: the table of routes and the handlers. May not: any rule of the shop but that acts need the token.

use super::ask::{self, BODY_MOST, CARD_BODY_MOST, GUEST_CARD_BODY_MOST};
use super::desk::{Answer, Caller, Desk};
use super::door::Peer;
use super::gate::Guest;
use super::reply::{Http, Trouble, answer, http, in_pieces, with_status};
use super::serve::Limits;
use super::stream::{self as events_stream, Terms};
use super::token::{FILE, HEADER, Token};
use axum::Router;
use axum::body::Body;
use axum::extract::rejection::PathRejection;
use axum::extract::{FromRequestParts, Path, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode, Uri};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::IntoResponse;
use axum::routing::{get, post};
use chargehand_types::act::{ActAnswer, ActRequest};
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::Seq;
use chargehand_types::people::RefusalKind;
use chargehand_types::problem::{Problem, ProblemKind};
use futures_util::stream;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::convert::Infallible;
use std::sync::Arc;
use tokio::runtime::Handle;
use tokio::sync::{Semaphore, watch};
use tokio::time::timeout;

/// What every handler shares.
pub(super) struct Shared<D> {
    pub desk: Arc<D>,
    pub token: Token,
    pub limits: Limits,
    pub ending: watch::Receiver<bool>,
    pub streams: Arc<Semaphore>,
    pub backups: Arc<Semaphore>,
    /// Where the work is done: not by the thread that answers at the machine's socket.
    pub back: Handle,
}

pub(super) type Told = Result<Http, Trouble>;
pub(super) type Named = Result<Path<String>, PathRejection>;

/// The table.
pub(super) fn table<D: Desk>(shared: Arc<Shared<D>>) -> Router {
    Router::new()
        .route("/v1/now", get(now::<D>))
        .route("/v1/acts", post(act::<D>))
        .route("/v1/check", post(check::<D>))
        .route("/v1/drafts", post(draft_card::<D>))
        .route("/v1/holddown", post(hold_down::<D>))
        .route("/v1/cards", get(cards::<D>).post(add_card::<D>))
        .route("/v1/cards/{name}", get(card::<D>))
        .route("/v1/cards/{name}/changes", get(card_changes::<D>))
        .route("/v1/cards/{name}/drawing", get(card_drawing::<D>))
        .route("/v1/batches", get(batches::<D>).post(add_batch::<D>))
        .route("/v1/sets", post(add_sets::<D>))
        .route("/v1/stock", post(count_stock::<D>))
        .route("/v1/batches/{id}", get(batch::<D>))
        .route("/v1/batches/{id}/report", get(batch_report::<D>))
        .route("/v1/batches/{id}/cancel", post(cancel_batch::<D>))
        .route("/v1/sheets", get(sheets::<D>))
        .route("/v1/sheets/{id}", get(sheet::<D>))
        .route("/v1/sheets/{id}/drawing", get(sheet_drawing::<D>))
        .route("/v1/sheets/{id}/fits", post(measure_fit::<D>))
        .route("/v1/sheets/{id}/air", post(sheet_air::<D>))
        .route("/v1/history/sheets", get(sheet_history::<D>))
        .route("/v1/history/effort", get(effort_history::<D>))
        .route("/v1/history/revisions", get(revision_history::<D>))
        .route("/v1/history/bits", get(bit_history::<D>))
        .route("/v1/plan", get(plan::<D>))
        .route("/v1/doctor", get(doctor::<D>))
        .route("/v1/events", get(events::<D>))
        .route("/v1/backup", get(backup::<D>))
        .merge(super::books::table::<D>())
        .merge(super::plain::table::<D>())
        .merge(super::rights::table::<D>())
        .fallback(no_route)
        .method_not_allowed_fallback(wrong_method)
        .layer(from_fn_with_state(Arc::clone(&shared), in_time::<D>))
        .layer(from_fn_with_state(Arc::clone(&shared), super::guard::let_in::<D>))
        .with_state(shared)
}

/// Who asks, and whom.
pub(super) struct Asked<D> {
    pub(super) shared: Arc<Shared<D>>,
    pub(super) caller: Caller,
}

impl<D: Desk> FromRequestParts<Arc<Shared<D>>> for Asked<D> {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, shared: &Arc<Shared<D>>) -> Result<Self, Self::Rejection> {
        let peer = parts.extensions.get::<Peer>().cloned().unwrap_or_default();
        let guest = parts.extensions.get::<Guest>().cloned();
        let caller = ask::caller(&peer, guest, &parts.headers, &shared.token);
        Ok(Self { shared: Arc::clone(shared), caller })
    }
}

impl<D: Desk> Asked<D> {
    /// Has the desk do something, to its end whatever becomes of the connection.
    pub(super) async fn of<T, W>(self, work: impl FnOnce(Arc<D>, Caller) -> W) -> Told
    where
        T: Serialize + Send + 'static,
        W: Future<Output = Answer<T>> + Send + 'static,
    {
        let told = |work: W| async move { Ok(answer(work.await)) };
        Ok(self.done(|desk, caller| told(work(desk, caller))).await?)
    }

    /// The same where the answer may be long.
    async fn of_many<T, W>(self, work: impl FnOnce(Arc<D>, Caller) -> W) -> Told
    where
        T: Serialize + Send + 'static,
        W: Future<Output = Answer<T>> + Send + 'static,
    {
        let told = |work: W| async move { Ok(in_pieces(work.await).await) };
        Ok(self.done(|desk, caller| told(work(desk, caller))).await?)
    }

    /// The same, its answer still to be put in form.
    pub(super) async fn done<T, W>(self, work: impl FnOnce(Arc<D>, Caller) -> W) -> Answer<T>
    where
        T: Send + 'static,
        W: Future<Output = Answer<T>> + Send + 'static,
    {
        let done = self.shared.back.spawn(work(Arc::clone(&self.shared.desk), self.caller)).await;
        done.unwrap_or_else(|e| {
            tracing::error!("a request ended in a fault of the program: {e}");
            let told = "The daemon could not finish this; its log says more.";
            Err(Problem::new(ProblemKind::OurFault, told))
        })
    }

    /// An act. What of it cannot wait is done at once, by whoever answers.
    pub(super) async fn acted(mut self, request: ActRequest) -> Answer<ActAnswer> {
        self.caller.terminal = Some(request.terminal.clone());
        self.shared.desk.ahead(&self.caller, &request);
        self.done(|desk, caller| async move { desk.act(caller, request).await }).await
    }

    /// A body that may be long is read at the back.
    pub(super) async fn long<T: DeserializeOwned + Send + 'static>(
        &self,
        body: Body,
        most: usize,
    ) -> Result<T, Problem> {
        let read = self.shared.back.spawn(ask::json(body, most)).await;
        read.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, format!("The body was not read: {e}."))))
    }
}

async fn now<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.now(caller).await }).await
}

async fn act<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    // an act may carry a PIN
    let request: ActRequest = ask::json_unseen(body, BODY_MOST).await?;
    if !request.act.always_open() && !asked.caller.token_ok {
        asked.shared.desk.refused(&asked.caller, RefusalKind::FromAfar, request.act.name());
        return Err(not_from_here(&asked.caller).into());
    }
    Ok(answer(asked.acted(request).await))
}

/// How large a card with its programs may be.
const fn card_body(caller: &Caller) -> usize {
    if caller.guest.is_some() { GUEST_CARD_BODY_MOST } else { CARD_BODY_MOST }
}

async fn check<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = asked.long(body, card_body(&asked.caller)).await?;
    asked.of(|desk, caller| async move { desk.check(caller, request).await }).await
}

async fn draft_card<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = asked.long(body, card_body(&asked.caller)).await?;
    asked.of(|desk, caller| async move { desk.draft_card(caller, request).await }).await
}

async fn hold_down<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = asked.long(body, card_body(&asked.caller)).await?;
    asked.of(|desk, caller| async move { desk.hold_down(caller, request).await }).await
}

async fn cards<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.cards(caller).await }).await
}

async fn add_card<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = asked.long(body, card_body(&asked.caller)).await?;
    asked.of(|desk, caller| async move { desk.add_card(caller, request).await }).await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CardQuery {
    revision: Option<u32>,
}

async fn card<D: Desk>(asked: Asked<D>, name: Named, uri: Uri) -> Told {
    let name = ask::name(name)?;
    let CardQuery { revision } = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.card(caller, name, revision).await }).await
}

async fn card_changes<D: Desk>(asked: Asked<D>, name: Named, uri: Uri) -> Told {
    let name = ask::name(name)?;
    let CardQuery { revision } = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.card_changes(caller, name, revision).await }).await
}

async fn card_drawing<D: Desk>(asked: Asked<D>, name: Named) -> Told {
    let name = ask::name(name)?;
    asked.of(|desk, caller| async move { desk.card_drawing(caller, name).await }).await
}

async fn batches<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.batches(caller).await }).await
}

async fn add_batch<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.add_batch(caller, request).await }).await
}

async fn batch<D: Desk>(asked: Asked<D>, id: Named) -> Told {
    let id = ask::name(id)?;
    asked.of(|desk, caller| async move { desk.batch(caller, id).await }).await
}

async fn batch_report<D: Desk>(asked: Asked<D>, id: Named) -> Told {
    let id = ask::name(id)?;
    asked.of(|desk, caller| async move { desk.batch_report(caller, id).await }).await
}

async fn add_sets<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.add_sets(caller, request).await }).await
}

async fn count_stock<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.count_stock(caller, request).await }).await
}

async fn cancel_batch<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.cancel_batch(caller, id, request).await }).await
}

async fn sheets<D: Desk>(asked: Asked<D>) -> Told {
    asked.of_many(|desk, caller| async move { desk.sheets(caller).await }).await
}

async fn sheet<D: Desk>(asked: Asked<D>, id: Named) -> Told {
    let id = ask::name(id)?;
    asked.of(|desk, caller| async move { desk.sheet(caller, id).await }).await
}

async fn sheet_drawing<D: Desk>(asked: Asked<D>, id: Named) -> Told {
    let id = ask::name(id)?;
    asked.of(|desk, caller| async move { desk.sheet_drawing(caller, id).await }).await
}

async fn measure_fit<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.measure_fit(caller, id, request).await }).await
}

async fn sheet_air<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.sheet_air(caller, id, request).await }).await
}

async fn sheet_history<D: Desk>(asked: Asked<D>, uri: Uri) -> Told {
    let of: HistoryQuery = ask::query(&uri)?;
    asked.of_many(move |desk, caller| async move { desk.sheet_history(caller, of).await }).await
}

async fn effort_history<D: Desk>(asked: Asked<D>, uri: Uri) -> Told {
    let of: HistoryQuery = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.effort_history(caller, of).await }).await
}

async fn revision_history<D: Desk>(asked: Asked<D>, uri: Uri) -> Told {
    let of: HistoryQuery = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.revision_history(caller, of).await }).await
}

async fn bit_history<D: Desk>(asked: Asked<D>, uri: Uri) -> Told {
    let of: HistoryQuery = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.bit_history(caller, of).await }).await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlanQuery {
    presence: Option<String>,
    sheets: Option<String>,
}

async fn plan<D: Desk>(asked: Asked<D>, uri: Uri) -> Told {
    let PlanQuery { presence, sheets } = ask::query(&uri)?;
    asked.of(move |desk, caller| async move { desk.plan(caller, presence, sheets).await }).await
}

async fn doctor<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.doctor(caller).await }).await
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct EventsQuery {
    since: Option<u64>,
}

async fn events<D: Desk>(State(shared): State<Arc<Shared<D>>>, uri: Uri, headers: HeaderMap) -> Told {
    let EventsQuery { since } = ask::query(&uri)?;
    // a listener that comes back asks for the same address with the header added: the header is the newer word
    let since = ask::last_event_id(&headers)?.or(since).map(Seq);
    let place = Arc::clone(&shared.streams).try_acquire_owned().map_err(|_| {
        let told = format!(
            "{} event streams are open, and no more are allowed; close one and try again.",
            shared.limits.streams
        );
        Problem::new(ProblemKind::MissingOrBusy, told)
    })?;
    let terms =
        Terms { since, comment_every: shared.limits.comment_every, ending: shared.ending.clone(), _place: place };
    Ok(events_stream::open(Arc::clone(&shared.desk), terms).await?)
}

/// A backup holds every record of the shop: it is given only at the machine, and few at a time.
async fn backup<D: Desk>(asked: Asked<D>) -> Told {
    if !asked.caller.token_ok {
        asked.shared.desk.refused(&asked.caller, RefusalKind::FromAfar, "a backup");
        return Err(not_from_here(&asked.caller).into());
    }
    let place = Arc::clone(&asked.shared.backups).try_acquire_owned().map_err(|_| {
        let told = format!("{} backups are being made already; wait for one to end.", asked.shared.limits.backups);
        Problem::new(ProblemKind::MissingOrBusy, told)
    })?;
    let given = asked.done(|desk, caller| async move { desk.backup(caller).await }).await?;
    let pieces = stream::unfold((given, place), |(mut given, place)| async {
        let piece = given.recv().await?;
        Some((Ok::<_, Infallible>(piece), (given, place)))
    });
    let mut response = http(StatusCode::OK, "application/octet-stream", Vec::new());
    *response.body_mut() = Body::from_stream(pieces);
    Ok(response)
}

fn not_from_here(caller: &Caller) -> Problem {
    if caller.guest.is_some() {
        let told = "This is only done at the machine. Nothing is moved over a network: whoever starts motion stands there and sees it. Hold and stop are taken from here.";
        return Problem::new(ProblemKind::NotPermitted, told);
    }
    let told = format!(
        "This is only done at the machine: the header {HEADER} with the terminal's token (the file {FILE} beside the socket) is missing or wrong. Hold and stop need none."
    );
    Problem::new(ProblemKind::NotPermitted, told)
}

async fn no_route(method: Method, uri: Uri) -> Trouble {
    let told = format!("There is no route {method} {}.", uri.path());
    Problem::new(ProblemKind::NotFound, told).into()
}

async fn wrong_method(method: Method, uri: Uri) -> Trouble {
    let told = format!("{method} is not a way to use {}.", uri.path());
    with_status(StatusCode::METHOD_NOT_ALLOWED, ProblemKind::BadRequest, told).into()
}

/// Answers within a set time, or says that it did not. The event stream has no end.
async fn in_time<D: Desk>(State(shared): State<Arc<Shared<D>>>, request: Request, next: Next) -> Http {
    let limit = match (request.method(), request.uri().path()) {
        (&Method::GET, "/v1/events") => return next.run(request).await,
        (&Method::POST, "/v1/check" | "/v1/cards" | "/v1/drafts" | "/v1/history/brought")
        | (&Method::GET, "/v1/history/revisions" | "/v1/backup") => shared.limits.card,
        _ => shared.limits.answer,
    };
    timeout(limit, next.run(request)).await.unwrap_or_else(|_| {
        let told = format!(
            "There was no answer within {} s. What was asked may still be done; ask again with the same command id.",
            limit.as_secs_f64()
        );
        Trouble(Problem::new(ProblemKind::MissingOrBusy, told)).into_response()
    })
}
