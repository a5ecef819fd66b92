//! What comes in: bodies, names, queries, headers, all bounded, each fault told with what was found.
//!
//! May live here: reading a request's parts. May not: routes, answers.

use super::desk::Caller;
use super::door::Peer;
use super::gate::Guest;
use super::reply::with_status;
use super::token::{HEADER, Token};
use axum::body::Body;
use axum::extract::Path;
use axum::extract::rejection::PathRejection;
use axum::http::{HeaderMap, StatusCode, Uri};
use chargehand_types::problem::{Problem, ProblemKind};
use futures_util::StreamExt;
use serde::de::DeserializeOwned;
use std::error::Error;

/// The largest body that carries a card with its programs: the largest program kept, as base64, and its card.
pub const CARD_BODY_MOST: usize = 344 * 1024 * 1024;
/// The same over a network.
pub const GUEST_CARD_BODY_MOST: usize = 64 * 1024 * 1024;
/// The largest other body.
pub const BODY_MOST: usize = 64 * 1024;
/// The longest name of a card, batch or sheet, in bytes.
pub const NAME_MOST: usize = 200;
/// Characters shown around what could not be read.
const EXCERPT: usize = 40;

/// Reads a JSON body.
pub(super) async fn json<T: DeserializeOwned>(body: Body, most: usize) -> Result<T, Problem> {
    let bytes = bounded(body, most).await?;
    serde_json::from_slice(&bytes).map_err(|e| bad_json(&bytes, &e))
}

/// Reads a JSON body that may hold a secret: a fault shows nothing of it.
pub(super) async fn json_unseen<T: DeserializeOwned>(body: Body, most: usize) -> Result<T, Problem> {
    let bytes = bounded(body, most).await?;
    serde_json::from_slice(&bytes).map_err(|e| {
        if bytes.is_empty() {
            return bad_json(&bytes, &e);
        }
        let told = format!(
            "The body is not the JSON wanted here: line {}, column {}. What was found there is not shown.",
            e.line(),
            e.column()
        );
        Problem::new(ProblemKind::BadRequest, told)
    })
}

/// Reads a body, and no further than its limit.
async fn bounded(body: Body, most: usize) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    let mut pieces = body.into_data_stream();
    while let Some(piece) = pieces.next().await {
        let piece = piece.map_err(|e| {
            let told = format!("The body did not arrive whole: {e}.");
            Problem::new(ProblemKind::BadRequest, told)
        })?;
        if bytes.len().saturating_add(piece.len()) > most {
            let told = format!("The body is larger than the {most} bytes that are taken here.");
            let status = StatusCode::PAYLOAD_TOO_LARGE;
            return Err(with_status(status, ProblemKind::BadRequest, told));
        }
        bytes.extend_from_slice(&piece);
    }
    Ok(bytes)
}

fn bad_json(bytes: &[u8], error: &serde_json::Error) -> Problem {
    let mut told = format!("The body is not the JSON wanted here: {error}.");
    if bytes.is_empty() {
        "The body is empty; JSON is wanted here.".clone_into(&mut told);
    } else if let Some(found) = excerpt(bytes, error.line(), error.column()) {
        told.push_str(&format!(" Found there: {found}"));
    }
    Problem::new(ProblemKind::BadRequest, told)
}

/// The text before a place in a body.
fn excerpt(bytes: &[u8], line: usize, column: usize) -> Option<String> {
    let line = bytes.split(|b| *b == b'\n').nth(line.checked_sub(1)?)?;
    let end = column.min(line.len());
    let text = String::from_utf8_lossy(line.get(end.saturating_sub(EXCERPT)..end)?).into_owned();
    (!text.trim().is_empty()).then(|| format!("{text:?}"))
}

/// Reads a query; an unknown key is a fault.
pub(super) fn query<T: DeserializeOwned>(uri: &Uri) -> Result<T, Problem> {
    axum::extract::Query::try_from_uri(uri).map(|q| q.0).map_err(|e| {
        let found = uri.query().unwrap_or_default();
        let why = e.source().map_or_else(|| e.to_string(), ToString::to_string);
        Problem::new(ProblemKind::BadRequest, format!("The query {found:?} is not understood: {why}."))
    })
}

/// A name out of a path.
pub(super) fn name<T: From<String>>(path: Result<Path<String>, PathRejection>) -> Result<T, Problem> {
    let bad = |told| Problem::new(ProblemKind::BadRequest, told);
    let Path(text) = path.map_err(|e| bad(format!("The name asked for is not text: {e}.")))?;
    if text.len() > NAME_MOST {
        let found = text.len();
        return Err(bad(format!("A name of {found} bytes is asked for; none has more than {NAME_MOST}.")));
    }
    Ok(text.into())
}

/// The event a listener had last, as it says when it comes back.
pub(super) fn last_event_id(headers: &HeaderMap) -> Result<Option<u64>, Problem> {
    let Some(given) = headers.get("last-event-id") else { return Ok(None) };
    let text = String::from_utf8_lossy(given.as_bytes());
    match text.trim().parse() {
        Ok(seq) => Ok(Some(seq)),
        Err(_) => {
            let told = format!("Last-Event-ID is {text:?}; the number of an event is wanted.");
            Err(Problem::new(ProblemKind::BadRequest, told))
        }
    }
}

/// Who asks.
pub(super) fn caller(peer: &Peer, guest: Option<Guest>, headers: &HeaderMap, token: &Token) -> Caller {
    // over a network nobody is at the machine, whatever else the request carries
    let token_ok = peer.address.is_none() && headers.get(HEADER).is_some_and(|given| token.is(given.as_bytes()));
    Caller { peer_uid: peer.uid, token_ok, remote: peer.remote.clone(), guest, ..Caller::default() }
}
