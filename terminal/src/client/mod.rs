//! The API of the daemon as a client sees it: one method a route, typed answers, typed faults.
//!
//! May live here: where the daemon is, how a request is made, what an answer that is no answer means. May not: what
//! a person reads of it, beyond the sentences of [`ClientFault`].

mod arriving;
mod books;
#[cfg(test)]
pub(crate) mod fake;
mod fault;
mod past;
mod place;
mod rights;
mod secure;
mod sse;
mod stream;
#[cfg(test)]
mod tests;

pub use fault::ClientFault;
pub use place::{Place, Said, WrongPlace};
pub use stream::{Heard, Stream, Told};

use crate::outside;
use chargehand_types::act::{Act, ActAnswer, ActRequest};
use chargehand_types::change::CardChanges;
use chargehand_types::check::{CardFiles, CheckReport, CheckRequest, Drawing};
use chargehand_types::draft::{Draft, DraftRequest};
use chargehand_types::history::{BitHistory, EffortHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::holddown::{AirAnswer, AirRequest, HoldDownAnswer, HoldDownRequest};
use chargehand_types::id::{BatchId, CardName, Seq, SheetId, StageVersion, TerminalId};
use chargehand_types::notice::{Notices, NoticesTest};
use chargehand_types::now::Now;
use chargehand_types::plan::DayPlan;
use chargehand_types::problem::Problem;
use chargehand_types::quantity::Spot;
use chargehand_types::queue::{
    AddBatch, AddCard, AddSets, BatchList, BatchRow, CancelBatch, CardList, CardShown, CountStock, Doctor, Done,
    MeasureFit, SheetList,
};
use chargehand_types::report::BatchReport;
use chargehand_types::stage::Grade;
use chrono::{DateTime, SecondsFormat, Utc};
use reqwest::{Method, RequestBuilder, Response};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::PathBuf;
use std::time::Duration;

/// The header that says: this terminal stands at the machine.
pub const TOKEN_HEADER: &str = "chargehand-token";
/// The file of that token, in the socket's folder.
pub const TOKEN_FILE: &str = "terminal-token";
/// How long an ordinary answer may take; a hold is answered as soon as it is on its way.
const PATIENCE: Duration = Duration::from_secs(15);
/// How long the daemon may judge a card of many long programs.
const JUDGING_PATIENCE: Duration = Duration::from_secs(300);
/// A connection that nobody used for so long is not used again: the daemon ends quiet ones, and a hold must not meet
/// one that is about to end.
const IDLE_AT_MOST: Duration = Duration::from_secs(20);
/// How long a connection may take.
const CONNECT_PATIENCE: Duration = Duration::from_secs(5);
/// The longest answer that is read.
const ANSWER_BYTES_AT_MOST: usize = 256 * 1024 * 1024;

/// A value as it stands in a query: all but letters, digits and `-._~` as percent and two digits (RFC 3986, 2.1).
fn percent(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// The daemon, as this terminal reaches it.
#[derive(Debug, Clone)]
pub struct Api {
    http: reqwest::Client,
    place: Place,
    terminal: TerminalId,
    token_file: Option<PathBuf>,
}

impl Api {
    /// A client for the daemon at a place, speaking as one terminal. Nothing is connected yet.
    ///
    /// Over a socket the token is read from `CHARGEHAND_TOKEN_FILE`, or from the socket's folder, each time an act is
    /// sent: a daemon that was restarted has written a new one. Over a network `CHARGEHAND_TOKEN_FILE` holds the token
    /// that an owner made, and `CHARGEHAND_CERTIFICATE` the certificate that is trusted.
    ///
    /// # Errors
    /// When no HTTP client can be made, or one of the two is missing.
    pub fn new(place: Place, terminal: TerminalId) -> Result<Self, ClientFault> {
        let mut builder =
            reqwest::Client::builder().connect_timeout(CONNECT_PATIENCE).pool_idle_timeout(IDLE_AT_MOST).no_proxy();
        let named = outside::variable("CHARGEHAND_TOKEN_FILE").map(PathBuf::from);
        let certificate = outside::variable(secure::CERTIFICATE).map(PathBuf::from);
        if let Place::Socket(path) = &place {
            builder = builder.unix_socket(path.as_path());
        }
        if place.is_secure() {
            secure::must_be_named(certificate.as_deref())?;
            builder = builder.default_headers(secure::token(named.as_deref())?);
        }
        let trusted = certificate.filter(|_| place.is_secure());
        builder = builder.tls_backend_preconfigured(secure::trusting(trusted.as_deref())?);
        let http = builder.build().map_err(|e| ClientFault::unreachable(&place, &e))?;
        let token_file = match place {
            Place::Socket(_) => named.or_else(|| place.socket_folder().map(|f| f.join(TOKEN_FILE))),
            // the machine's own token says nothing anywhere else
            Place::Url(_) => None,
        };
        Ok(Self { http, place, terminal, token_file })
    }

    /// Where the daemon is looked for.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// As which terminal this client speaks.
    #[must_use]
    pub fn terminal(&self) -> &TerminalId {
        &self.terminal
    }

    /// How things stand.
    ///
    /// # Errors
    /// See [`ClientFault`]; the same for every method here.
    pub async fn now(&self) -> Result<Now, ClientFault> {
        self.get("/v1/now").await
    }

    /// Asks for an act, made against what the person saw.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn act(&self, act: Act, seen: Option<StageVersion>) -> Result<ActAnswer, ClientFault> {
        let request = ActRequest { command_id: outside::command_id(), terminal: self.terminal.clone(), seen, act };
        self.act_request(&request).await
    }

    /// Sends an act as it is: a repeated command id gets the first answer.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn act_request(&self, request: &ActRequest) -> Result<ActAnswer, ClientFault> {
        let builder = self.request(Method::POST, "/v1/acts").timeout(PATIENCE).json(request);
        let answer = read(&self.place, self.with_token(builder).send().await).await;
        match answer {
            Err(ClientFault::Problem(p)) => Err(ClientFault::Problem(self.explained(p))),
            other => other,
        }
    }

    /// Has a card judged.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn check(&self, request: &CheckRequest) -> Result<CheckReport, ClientFault> {
        self.post("/v1/check", request, JUDGING_PATIENCE).await
    }

    /// Has a card drafted from programs. Nothing is stored.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn draft_card(&self, request: &DraftRequest) -> Result<Draft, ClientFault> {
        self.post("/v1/drafts", request, JUDGING_PATIENCE).await
    }

    /// Has the hold-down of a card worked out.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn hold_down(&self, request: &HoldDownRequest) -> Result<HoldDownAnswer, ClientFault> {
        self.post("/v1/holddown", request, JUDGING_PATIENCE).await
    }

    /// Adds a card, or a new revision of it.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn add_card(&self, files: CardFiles) -> Result<Done, ClientFault> {
        let request = AddCard { command_id: outside::command_id(), files };
        self.post("/v1/cards", &request, JUDGING_PATIENCE).await
    }

    /// Every card.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn cards(&self) -> Result<CardList, ClientFault> {
        self.get("/v1/cards").await
    }

    /// One card, of its newest or of a named revision.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn card(&self, name: &CardName, revision: Option<u32>) -> Result<CardShown, ClientFault> {
        let asked = revision.map(|n| format!("?revision={n}")).unwrap_or_default();
        self.get(&format!("/v1/cards/{}{asked}", segment(&name.0))).await
    }

    /// What changed in a card's newest, or in a named revision, against the one before it.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn card_changes(&self, name: &CardName, revision: Option<u32>) -> Result<CardChanges, ClientFault> {
        let asked = revision.map(|n| format!("?revision={n}")).unwrap_or_default();
        self.get(&format!("/v1/cards/{}/changes{asked}", segment(&name.0))).await
    }

    /// The picture of a card.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn card_drawing(&self, name: &CardName) -> Result<Drawing, ClientFault> {
        self.get(&format!("/v1/cards/{}/drawing", segment(&name.0))).await
    }

    /// The picture of a sheet.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn sheet_drawing(&self, id: &SheetId) -> Result<Drawing, ClientFault> {
        self.get(&format!("/v1/sheets/{}/drawing", segment(&id.0))).await
    }

    /// How much air fasteners at these places of a sheet would have.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn sheet_air(&self, id: &SheetId, at: Vec<Spot>) -> Result<AirAnswer, ClientFault> {
        self.post(&format!("/v1/sheets/{}/air", segment(&id.0)), &AirRequest { at }, PATIENCE).await
    }

    /// Adds a batch.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn add_batch(
        &self,
        card: CardName,
        sheets: u32,
        due: Option<DateTime<Utc>>,
        weight: Option<f64>,
    ) -> Result<Done, ClientFault> {
        let request = AddBatch { command_id: outside::command_id(), card, sheets, due, weight };
        self.post("/v1/batches", &request, PATIENCE).await
    }

    /// Orders whole sets of a product.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn add_sets(
        &self,
        product: String,
        sets: u32,
        due: Option<DateTime<Utc>>,
        weight: Option<f64>,
    ) -> Result<Done, ClientFault> {
        let request = AddSets { command_id: outside::command_id(), product, sets, due, weight };
        self.post("/v1/sets", &request, JUDGING_PATIENCE).await
    }

    /// Says how many sheets of a kind of stock were counted.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn count_stock(&self, stock: String, sheets: u32) -> Result<Done, ClientFault> {
        let request = CountStock { command_id: outside::command_id(), stock, sheets };
        self.post("/v1/stock", &request, PATIENCE).await
    }

    /// Every batch.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn batches(&self) -> Result<BatchList, ClientFault> {
        self.get("/v1/batches").await
    }

    /// One batch.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn batch(&self, id: &BatchId) -> Result<BatchRow, ClientFault> {
        self.get(&format!("/v1/batches/{}", segment(&id.0))).await
    }

    /// Cancels what a batch has not begun.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn cancel_batch(&self, id: &BatchId) -> Result<Done, ClientFault> {
        let request = CancelBatch { command_id: outside::command_id() };
        self.post(&format!("/v1/batches/{}/cancel", segment(&id.0)), &request, PATIENCE).await
    }

    /// Every sheet.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn sheets(&self) -> Result<SheetList, ClientFault> {
        self.get("/v1/sheets").await
    }

    /// Everything known of one sheet.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn sheet(&self, id: &SheetId) -> Result<SheetRecord, ClientFault> {
        self.get(&format!("/v1/sheets/{}", segment(&id.0))).await
    }

    /// What came of each revision; of one card with what was changed in each.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn revision_history(&self, asked: &HistoryQuery) -> Result<RevisionHistory, ClientFault> {
        self.get_within(&format!("/v1/history/revisions{}", queried(asked)), JUDGING_PATIENCE).await
    }

    /// Holds a measured joint against its card and writes it down.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn measure_fit(&self, id: &SheetId, request: &MeasureFit) -> Result<Done, ClientFault> {
        self.post(&format!("/v1/sheets/{}/fits", segment(&id.0)), request, PATIENCE).await
    }

    /// Everything that a page about a batch shows.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn batch_report(&self, id: &BatchId) -> Result<BatchReport, ClientFault> {
        self.get_within(&format!("/v1/batches/{}/report", segment(&id.0)), JUDGING_PATIENCE).await
    }

    /// What was spent on closed sheets, and what came of it.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn effort_history(&self, asked: &HistoryQuery) -> Result<EffortHistory, ClientFault> {
        self.get(&format!("/v1/history/effort{}", queried(asked))).await
    }

    /// What came of each bit.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn bit_history(&self, asked: &HistoryQuery) -> Result<BitHistory, ClientFault> {
        self.get(&format!("/v1/history/bits{}", queried(asked))).await
    }

    /// The plan of the day; or what it would be with other hours or sheets.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn plan(&self, presence: Option<&str>, sheets: Option<&str>) -> Result<DayPlan, ClientFault> {
        let asked = [("presence", presence), ("sheets", sheets)];
        let asked: Vec<String> =
            asked.into_iter().filter_map(|(key, what)| Some(format!("{key}={}", percent(what?)))).collect();
        let query = if asked.is_empty() { String::new() } else { format!("?{}", asked.join("&")) };
        self.get(&format!("/v1/plan{query}")).await
    }

    /// Is everything in place.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn doctor(&self) -> Result<Doctor, ClientFault> {
        self.get("/v1/doctor").await
    }

    /// A backup of the store, as it comes in.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn backup(&self) -> Result<Incoming, ClientFault> {
        let sent = self.with_token(self.request(Method::GET, "/v1/backup")).send().await;
        let response = sent.map_err(|e| ClientFault::unreachable(&self.place, &e))?;
        if response.status().is_success() {
            return Ok(Incoming { place: self.place.clone(), response });
        }
        let status = response.status().as_u16();
        match refusal(status, &bytes(&self.place, response).await?) {
            ClientFault::Problem(p) => Err(ClientFault::Problem(self.explained(p))),
            other => Err(other),
        }
    }

    /// What could not be told outside the shop.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn notices(&self) -> Result<Notices, ClientFault> {
        self.get("/v1/notices").await
    }

    /// Tries every way of telling somebody once.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn try_notices(&self) -> Result<NoticesTest, ClientFault> {
        self.post("/v1/notices/test", &serde_json::json!({}), PATIENCE).await
    }

    /// The event stream, from what comes next or after a sequence number. It comes back by itself after a loss.
    #[must_use]
    pub fn events(&self, since: Option<Seq>) -> Stream {
        Stream::new(self.clone(), since)
    }

    fn request(&self, method: Method, path: &str) -> RequestBuilder {
        self.http.request(method, format!("{}{path}", self.place.base()))
    }

    async fn get<T: DeserializeOwned>(&self, path: &str) -> Result<T, ClientFault> {
        // what may be done depends on who asks: a look carries the token as an act does
        self.get_within(path, PATIENCE).await
    }

    async fn get_within<T: DeserializeOwned>(&self, path: &str, patience: Duration) -> Result<T, ClientFault> {
        let builder = self.with_token(self.request(Method::GET, path)).timeout(patience);
        read(&self.place, builder.send().await).await
    }

    async fn post<B: Serialize, T: DeserializeOwned>(
        &self,
        path: &str,
        body: &B,
        patience: Duration,
    ) -> Result<T, ClientFault> {
        let builder = self.request(Method::POST, path).timeout(patience).json(body);
        read(&self.place, self.with_token(builder).send().await).await
    }

    fn with_token(&self, builder: RequestBuilder) -> RequestBuilder {
        match self.token() {
            Ok(Some(token)) => builder.header(TOKEN_HEADER, token),
            Ok(None) | Err(_) => builder,
        }
    }

    fn token(&self) -> std::io::Result<Option<String>> {
        let Some(path) = &self.token_file else { return Ok(None) };
        let bytes = outside::file(path)?;
        let text = String::from_utf8_lossy(&bytes).trim().to_owned();
        let sound = !text.is_empty() && text.bytes().all(|b| b.is_ascii_hexdigit());
        Ok(sound.then_some(text))
    }

    /// A refusal for want of the token says why there was none.
    fn explained(&self, mut problem: Problem) -> Problem {
        use chargehand_types::problem::ProblemKind;
        if problem.kind != ProblemKind::NotPermitted || matches!(self.place, Place::Url(_)) {
            return problem;
        }
        let why = match (self.token(), &self.token_file) {
            (Err(e), Some(path)) => format!("the token file {} cannot be read ({e})", path.display()),
            (Ok(None), Some(path)) => format!("the token file {} holds no token", path.display()),
            (_, None) | (Ok(Some(_)), Some(_)) => return problem,
        };
        problem.detail = format!("{} This terminal has no token: {why}.", problem.detail);
        problem
    }
}

/// An answer that is no JSON, as it comes in.
#[derive(Debug)]
pub struct Incoming {
    place: Place,
    response: Response,
}

impl Incoming {
    /// The next bytes; none at its end.
    ///
    /// # Errors
    /// When the daemon is gone.
    pub async fn next(&mut self) -> Result<Option<Vec<u8>>, ClientFault> {
        let chunk = self.response.chunk().await.map_err(|e| ClientFault::unreachable(&self.place, &e))?;
        Ok(chunk.map(|c| c.to_vec()))
    }
}

/// Reads an answer, or what stands in its place.
async fn read<T: DeserializeOwned>(place: &Place, sent: reqwest::Result<Response>) -> Result<T, ClientFault> {
    let response = sent.map_err(|e| ClientFault::unreachable(place, &e))?;
    let status = response.status();
    let body = bytes(place, response).await?;
    if !status.is_success() {
        return Err(refusal(status.as_u16(), &body));
    }
    serde_json::from_slice(&body).map_err(|e| ClientFault::Garbled { why: e.to_string() })
}

async fn bytes(place: &Place, response: Response) -> Result<Vec<u8>, ClientFault> {
    let mut body = Vec::new();
    let whole = each_part(place, response, |part| {
        body.extend_from_slice(part);
        Ok(())
    });
    whole.await?;
    Ok(body)
}

/// Hands on what comes in, as it comes.
async fn each_part(
    place: &Place,
    mut response: Response,
    mut take: impl FnMut(&[u8]) -> Result<(), ClientFault>,
) -> Result<(), ClientFault> {
    let mut came = 0_usize;
    while let Some(part) = response.chunk().await.map_err(|e| ClientFault::unreachable(place, &e))? {
        came = came.saturating_add(part.len());
        if came > ANSWER_BYTES_AT_MOST {
            return Err(ClientFault::Garbled { why: "the answer is longer than any answer may be".to_owned() });
        }
        take(&part)?;
    }
    Ok(())
}

fn refusal(status: u16, body: &[u8]) -> ClientFault {
    match serde_json::from_slice::<Problem>(body) {
        Ok(problem) => ClientFault::Problem(problem),
        Err(_) => ClientFault::Garbled { why: format!("HTTP status {status} without problem details") },
    }
}

/// A grade as the API writes it.
const fn grade_word(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "good",
        Grade::Rework => "rework",
        Grade::Scrap => "scrap",
    }
}

/// A question to the history as the query of an address.
fn queried(asked: &HistoryQuery) -> String {
    let HistoryQuery { since, card, batch, bit, grade, newest } = asked;
    let said: Vec<String> = [
        since.map(|s| format!("since={}", s.to_rfc3339_opts(SecondsFormat::AutoSi, true))),
        card.as_ref().map(|c| format!("card={}", segment(&c.0))),
        batch.as_ref().map(|b| format!("batch={}", segment(&b.0))),
        bit.as_ref().map(|b| format!("bit={}", segment(&b.0))),
        grade.map(|g| format!("grade={}", grade_word(g))),
        newest.map(|n| format!("newest={n}")),
    ]
    .into_iter()
    .flatten()
    .collect();
    if said.is_empty() { String::new() } else { format!("?{}", said.join("&")) }
}

/// One segment of a path, with what is not plain written as `%XX` (RFC 3986, section 2.1).
fn segment(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}
